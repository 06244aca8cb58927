"""What a reading at a hand-over says, in words with whose limit it is held against."""

from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects import figures
from projects.calc.handover_verdict import Reason, Suggestion

HANDLING = gettext_lazy("US Forest Service field handling pages")
COMMON = gettext_lazy("common practice")

WORDS: dict[str, Any] = {
    "roots_moist": gettext_lazy("roots moist"),
    "roots_drying": gettext_lazy("roots drying at the surface: wet and cover them, look again (common practice)"),
    "roots_dry": gettext_lazy("roots dry: dry roots are not planted (common practice)"),
    "roots_spoilt": gettext_lazy("roots mouldy, soft or smelling (common practice)"),
    "roots_frozen": gettext_lazy("roots frozen: thaw them slowly, never freeze them again (%(handling)s)"),
    "roots_not_seen": gettext_lazy("nobody looked at the roots"),
    "box_warm": gettext_lazy("%(a)s °C in the box, above %(b)s °C for plants that travel cold (%(handling)s)"),
    "box_hot": gettext_lazy("%(a)s °C among the roots, above %(b)s °C: shade, air and water them (common practice)"),
    "box_icy": gettext_lazy("%(a)s °C in the box: roots in containers are hurt below %(b)s °C (%(handling)s)"),
    "box_frozen": gettext_lazy("%(a)s °C in the box, frozen: thaw slowly, never freeze again (%(handling)s)"),
    "box_fine": gettext_lazy("%(a)s °C in the box"),
    "open_long": gettext_lazy("%(a)s minutes in the open, more than %(b)s (common practice)"),
    "open_short": gettext_lazy("%(a)s minutes in the open"),
    "sample_accept": gettext_lazy("%(a)s of %(b)s not fit, in the whole lot %(c)s to %(d)s"),
    "sample_hold": gettext_lazy("%(a)s of %(b)s not fit, in the whole lot %(c)s to %(d)s: look at more plants"),
    "sample_reject": gettext_lazy(
        "%(a)s of %(b)s not fit, in the whole lot %(c)s to %(d)s: more than chance gives where 1 in 20 is not fit"
        " (common practice)"
    ),
    "waited_long": gettext_lazy("%(a)s days out of store, past the %(b)s it can wait: look at roots and buds closely"),
}  # fmt: skip


def reason_words(reason: Reason) -> str:
    """Return one reason in words."""
    told = dict(zip("abcd", reason.figures, strict=False))
    named = {key: _figure(reason.code, key, value) for key, value in told.items()}
    return str(WORDS[reason.code]) % (named | {"handling": HANDLING})


def because(suggested: Suggestion, most: int = 300) -> str:
    """Return why a lot is not simply accepted, or what speaks for it; no longer than a column holds."""
    reasons = suggested.grave or suggested.reasons
    words = [reason_words(reason) for reason in reasons]
    while len("; ".join(words)) > most:
        words.pop()
    return "; ".join(words)


def _figure(code: str, key: str, value: float) -> str:
    if code.startswith("sample") and key in "cd":
        return figures.percent(value)
    return figures.quantity(value, 1) if code.startswith("box") else figures.quantity(int(value))


def points_words() -> str:
    """Say what the size of a sample rests on."""
    return _(
        "It turns down a lot with 5 % not fit at most once in 20, and lets one with 15 % through at most once in 10:"
        " common practice. Agree on your own number with the nursery."
    )
