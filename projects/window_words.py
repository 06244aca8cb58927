"""Why a planting window opens and closes, in words."""

from django.utils.dates import MONTHS
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from projects import figures
from projects.calc import planting_windows as rules

OPENS = {
    rules.SITE_CLOSED: gettext_noop("the site cannot be reached before"),
    rules.STOCK_NOT_DORMANT: gettext_noop("the stock is still growing before"),
    rules.GROUND_FROZEN: gettext_noop("the ground is frozen before"),
    rules.SOIL_DRY: gettext_noop("the soil is too dry before"),
    rules.FROST_HEAVE: gettext_noop("frost would lift small plugs before"),
    rules.FROST_AHEAD: gettext_noop("hard frost would come before roots have settled"),
    rules.HEAT_AHEAD: gettext_noop("heat would come before roots have settled"),
    rules.DROUGHT_AHEAD: gettext_noop("drought would come before roots have settled"),
    rules.TOO_COLD_TO_ROOT: gettext_noop("the soil is too cold for roots before"),
}
CLOSES = {
    rules.SITE_CLOSED: gettext_noop("the site cannot be reached afterwards"),
    rules.STOCK_NOT_DORMANT: gettext_noop("the stock is in growth afterwards"),
    rules.GROUND_FROZEN: gettext_noop("the ground freezes afterwards"),
    rules.SOIL_DRY: gettext_noop("the soil is too dry afterwards"),
    rules.FROST_HEAVE: gettext_noop("frost would lift small plugs planted later"),
    rules.FROST_AHEAD: gettext_noop("planted later, hard frost comes before roots have settled"),
    rules.HEAT_AHEAD: gettext_noop("planted later, heat comes before roots have settled"),
    rules.DROUGHT_AHEAD: gettext_noop("planted later, drought comes before roots have settled"),
    rules.TOO_COLD_TO_ROOT: gettext_noop("the soil is too cold for roots afterwards"),
}
NEVER = {
    rules.SITE_CLOSED: gettext_noop("the site cannot be reached"),
    rules.STOCK_NOT_DORMANT: gettext_noop("it never gets cold enough for the stock to rest"),
    rules.GROUND_FROZEN: gettext_noop("the ground is frozen"),
    rules.SOIL_DRY: gettext_noop("the soil is too dry"),
    rules.FROST_HEAVE: gettext_noop("frost would lift small plugs"),
    rules.FROST_AHEAD: gettext_noop("hard frost always comes before roots have settled"),
    rules.HEAT_AHEAD: gettext_noop("heat always comes before roots have settled"),
    rules.DROUGHT_AHEAD: gettext_noop("drought always comes before roots have settled"),
    rules.TOO_COLD_TO_ROOT: gettext_noop("the soil is too cold for roots"),
}
STRIPS = {
    "roots-grow": gettext_noop("soil moist and above %(degrees)s °C: roots grow"),
    "stock-rests": gettext_noop("mean below %(degrees)s °C: nursery stock rests"),
    "hard-frost": gettext_noop("nights below %(degrees)s °C in one year of ten"),
    "hot-days": gettext_noop("days above %(degrees)s °C"),
}

__all__ = ["MONTHS", "closes", "letter_words", "never", "opens", "strip"]


def strip(kind: str, degrees: float, *, is_empty: bool) -> str:
    """What a strip of the drawing shows, with its threshold."""
    words = _(STRIPS[kind]) % {"degrees": figures.quantity(degrees, 0 if degrees == int(degrees) else 1)}
    return _("%(words)s – none") % {"words": words} if is_empty else words


def letter_words(side: str, code: str) -> str:
    """What a letter on the drawing stands for."""
    return opens(code) if side == "opens" else closes(code)


def opens(code: str) -> str:
    """Why not earlier; empty where the whole year is open."""
    return _(OPENS[code]) if code else ""


def closes(code: str) -> str:
    """Why not later; empty where the whole year is open."""
    return _(CLOSES[code]) if code else ""


def never(code: str) -> str:
    """Why on no day."""
    return _(NEVER[code])
