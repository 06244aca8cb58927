"""What walks, signs and events are called, and what to do about a sign."""

from django.utils.translation import gettext as _

from projects import figures
from projects.calc.walks_due import PLANTING, Cause
from projects.models import EventKind, Sign


def sign_task(sign: str, where: str = "") -> str:
    """What to do about a sign, and where."""
    what = {
        Sign.STOCK_IN: _("Drive out the animals and find where they came in"),
        Sign.FENCE: _("Mend the fence"),
        Sign.GUARDS: _("Set guards up again, replace the missing"),
        Sign.WEEDS: _("Weed around the trees"),
        Sign.INVADERS: _("Remove invasive growth"),
        Sign.DRY: _("Water the trees"),
        Sign.LOOSE: _("Tread loose trees firm; stake only what will not stand"),
        Sign.DISEASE: _("Have pest or disease looked at by somebody who knows it"),
        Sign.DAMAGE: _("See to broken, burnt or washed-out trees"),
        Sign.OTHER: _("See to what was noticed"),
    }[Sign(sign)]
    return f"{what}: {where}"[:200] if where else what


def cause_words(cause: Cause) -> str:
    """Why a walk is wanted: "planted until 3 Feb 2026"."""
    if cause.kind == PLANTING:
        return _("planted until %(day)s") % {"day": figures.day(cause.happened_on)}
    kind = str(EventKind(cause.kind).label)
    return _("%(event)s on %(day)s") % {"event": kind, "day": figures.day(cause.happened_on)}


def seen_words(walked_on: str, note: str) -> str:
    """Why a task was opened by a walk."""
    words = _("Seen on a walk on %(day)s.") % {"day": walked_on}
    return f"{words} {note}"[:300] if note else words
