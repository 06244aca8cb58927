"""How long stock can wait out of store, whose word that is, and what to do when the days run out."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects.calc.lot_clock import COMMON, HANDLING, Wait, wait_for

SOURCES: Mapping[str, Any] = {
    COMMON: gettext_lazy("common practice"),
    HANDLING: gettext_lazy("US Forest Service field handling pages"),
}


@dataclass(frozen=True)
class Waiting:
    """How to keep waiting stock, and what to do once its days are over."""

    keep: Any
    over: Any


USUAL: Mapping[str, Waiting] = {
    "bare_root": Waiting(
        gettext_lazy(
            "Roots moist, dark and cool. Heeled in or in cold store (1 to 4 °C, 85 to 95 % humidity) its clock stands"
            " still. Hardwoods: planted or stored within a week of delivery (US Forest Service field handling pages)."
        ),
        gettext_lazy(
            "Heel it in or cool it today, plant it before any other lot, and look at roots and buds again first: dry"
            " roots are not planted (common practice)."
        ),
    ),
    "wildling": Waiting(
        gettext_lazy("Roots wrapped and moist, in the shade; planted the day it is dug (common practice)."),
        gettext_lazy(
            "Heel it in at once. Look at the roots again before planting: dry roots are not planted (common"
            " practice)."
        ),
    ),
    "cutting": Waiting(
        gettext_lazy("Dark, cool and moist, or standing in water; the right end up (common practice)."),
        gettext_lazy(
            "Cool it or stand it in water, cut the ends afresh, and plant it first (common practice)."
        ),
    ),
    "balled_burlapped": Waiting(
        gettext_lazy("Ball covered and moist, crown in the shade, out of the wind (common practice)."),
        gettext_lazy(
            "Heel the balls into mulch, water them, and plant these before any other (common practice)."
        ),
    ),
    "container": Waiting(
        gettext_lazy(
            "No number of days is given: water the plugs for as long as they wait, in light shade, off the ground"
            " (common practice). Keep them from frost; frozen ones are thawed slowly in the cold, over 10 to 14 days"
            " (US Forest Service field handling pages)."
        ),
        gettext_lazy(
            "Keep the thawed plugs cool and moist, never freeze them again (US Forest Service field handling pages),"
            " and plant them first (common practice)."
        ),
    ),
    "direct_seed": Waiting(
        gettext_lazy(
            "Seed has no clock here: whether it keeps dry or moist, and how long, depends on its species."
        ),
        "",
    ),
}


def usual_of(stock_type: str) -> Waiting | None:
    """How stock of a type is kept while it waits."""
    return USUAL.get(stock_type)


def source_of(stock_type: str) -> str:
    """Whose word the days are that stock of a type can wait; what was frozen goes by common practice."""
    wait = wait_for(stock_type)
    return str(SOURCES[wait.source if wait else COMMON])


def limit_words(wait: Wait | None) -> str:
    """Say how long stock can wait, with whose word that is."""
    if wait is None:
        return ""
    words = {"days": wait.days, "most": wait.up_to, "source": SOURCES[wait.source]}
    if wait.days == wait.up_to:
        return _("about %(days)s days out of store (%(source)s)") % words
    return _("%(days)s to %(most)s days out of store (%(source)s); the clock counts the %(days)s") % words
