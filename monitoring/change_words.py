"""Changes between rounds and curves over time in words, each with its interval and what it rests on."""

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from monitoring.estimators import rows
from monitoring.estimators.curves import LINKED_ROUNDS, SEPARATE_POINTS, TURNBULL_SPOTS
from monitoring.models import Estimate, SurvivalCurve
from monitoring.result_words import points, points_between, said
from projects import figures
from projects.reasons import reason_words

DAYS_PER_MONTH = 365.25 / 12

WAYS = {
    rows.PAIRED_RESIDUALS: gettext_noop("the same plots, compared one by one"),
    rows.PARTIAL_OVERLAP: gettext_noop("partly the same plots"),
    rows.INDEPENDENT_ROUNDS: gettext_noop("other plots each time, so the interval is wide"),
    rows.CENSUS: gettext_noop("everything counted both times"),
}
CURVE_WAYS = {
    TURNBULL_SPOTS: gettext_noop(
        "Every planting spot was followed. A tree seen alive at one visit and dead at a later one died in between."
    ),
    LINKED_ROUNDS: gettext_noop(
        "Rounds are linked by the plots that both counted. Between two visits nobody knows when trees died; the line is"
        " drawn straight."
    ),
    SEPARATE_POINTS: gettext_noop(
        "Too few plots were counted twice, so each round stands by itself and the points are not joined."
    ),
}


def change_words(row: Estimate) -> str:
    """The change in a sentence: which way, by how much, and whether it could be chance."""
    if row.value is None:
        return reason_words(row.reason)
    by, between = points(row.value), limits_words(row)
    if row.lower is not None and row.upper is not None and row.lower < 0 < row.upper:
        return _("No clear change: %(by)s (%(between)s).") % {"by": by, "between": between}
    if row.value < 0:
        return _("Survival fell: %(by)s (%(between)s).") % {"by": by, "between": between}
    if row.value > 0:
        return _("Survival rose: %(by)s (%(between)s).") % {"by": by, "between": between}
    return _("No change: %(by)s (%(between)s).") % {"by": by, "between": between}


def limits_words(row: Estimate) -> str:
    """The limits of a change; a count of everything has none."""
    return _("everything counted") if row.method == rows.CENSUS else points_between(row.lower, row.upper)


def way_words(row: Estimate) -> str:
    """How two rounds were compared, and on how many plots."""
    facts: Mapping[str, Any] = row.facts
    if facts.get("plots_common"):
        told = ngettext("%(n)s plot seen both times", "%(n)s plots seen both times", facts["plots_common"])
        plots = told % {"n": figures.quantity(facts["plots_common"])}
    else:
        plots = _("%(then)s plots then, %(now)s now") % {
            "then": figures.quantity(facts.get("plots_earlier")),
            "now": figures.quantity(facts.get("plots_later")),
        }
    return _("%(plots)s: %(way)s") % {"plots": plots, "way": said(WAYS, row.method)}


def note_words(row: Estimate) -> str:
    """What the reader of a change must be told."""
    return reason_words(row.reason) if row.reason and row.value is not None else ""


def curve_words(row: SurvivalCurve) -> list[str]:
    """What the reader of a curve must be told, sentence by sentence."""
    found = []
    if len(row.points) == 2:
        found.append(
            _("Counted in one round only: it says where survival stood then, not how it came there.")
        )
    elif row.points:
        found.append(said(CURVE_WAYS, row.method))
    if row.reason:
        found.append(reason_words(row.reason))
    if removed := row.facts.get("removed"):
        text = ngettext(
            "%(n)s living tree was removed on purpose; it counts as withdrawn on that day, not as dead.",
            "%(n)s living trees were removed on purpose; they count as withdrawn on that day, not as dead.",
            removed,
        )
        found.append(text % {"n": figures.quantity(removed)})
    if back := row.facts.get("came_back"):
        text = ngettext(
            "%(n)s tree marked dead was alive later; it counts as alive until it was last seen so.",
            "%(n)s trees marked dead were alive later; they count as alive until they were last seen so.",
            back,
        )
        found.append(text % {"n": figures.quantity(back)})
    return found


def age_words(days: int | None) -> str:
    """An age in whole months.

    >>> age_words(400)
    '13 months'
    """
    if days is None:
        return _("age not known")
    months = round(days / DAYS_PER_MONTH)
    return ngettext("%(n)s month", "%(n)s months", months) % {"n": figures.quantity(months)}
