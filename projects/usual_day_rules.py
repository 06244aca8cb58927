"""The usual rules of a planting day, to start from: two sets, each line with its source. Every line may be changed."""

from typing import NamedTuple

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, gettext_noop

CONIFERS = gettext_noop("USDA Forest Service planting pages; western conifers")
COMMON = gettext_noop("common practice")


class Usual(NamedTuple):
    """One line to start from."""

    measure: str
    side: str
    limit: float | None
    effect: str
    words: str = ""
    source: str = COMMON

    def values(self) -> dict[str, object]:
        """The line as a rule's fields, its words in the language of the moment."""
        words = _(self.words) if self.words else ""
        return {**self._asdict(), "words": words, "source": _(self.source)}


# 35, 40, 50 and 80 °F, 10 mph and ½ inch, to a hundredth of the metric unit.
TEMPERATE = (
    Usual("thunder", "yes", None, "stop", gettext_noop("take shelter; the crew leader says when work goes on")),
    Usual("water_at_surface", "yes", None, "stop", "", CONIFERS),
    Usual(
        "frozen_soil_cm", "above", 1.27, "stop",
        gettext_noop("one page of the source says half an inch (1.27 cm), another one inch (2.54 cm)"), CONIFERS,
    ),
    Usual("soil_c", "below", 4.44, "stop", gettext_noop("measured at 15 to 20 cm"), CONIFERS),
    Usual("air_c", "above", 26.67, "think", gettext_noop("consider stopping"), CONIFERS),
    Usual("air_c", "above", 10, "think", gettext_noop("warmer than favourable: keep roots shaded and moist"), CONIFERS),
    Usual("air_c", "below", 1.67, "think", gettext_noop("colder than favourable: do not let roots freeze"), CONIFERS),
    Usual("humidity_percent", "below", 50, "think", gettext_noop("dry air: keep bare roots covered"), CONIFERS),
    Usual(
        "wind_m_per_s", "above", 4.47, "think", gettext_noop("a drying wind: consider stopping"), CONIFERS
    ),
    Usual("dry_soil", "yes", None, "stop", gettext_noop("wait for rain, or water in")),
    Usual("other", "yes", None, "stop", gettext_noop("limbs or tops come down, or sway hard, where the crew works")),
)  # fmt: skip
WARM = (
    Usual("thunder", "yes", None, "stop", gettext_noop("take shelter; the crew leader says when work goes on")),
    Usual(
        "other", "yes", None, "stop",
        gettext_noop("the rains have not set in: the soil is moist less than a hand deep"),
    ),
    Usual("dry_soil", "yes", None, "stop", gettext_noop("wait for rain")),
    Usual("water_at_surface", "yes", None, "stop", gettext_noop("holes fill with water")),
    Usual("other", "yes", None, "think", gettext_noop("a dry spell of a week or more is forecast")),
    Usual(
        "other", "yes", None, "think",
        gettext_noop("the rains end sooner than roots need: see the planting windows"),
    ),
    Usual("air_c", "above", 35, "think", gettext_noop("plant early and late in the day; mind the crew")),
    Usual("wind_m_per_s", "above", 8, "think", gettext_noop("a drying wind")),
    Usual("other", "yes", None, "stop", gettext_noop("limbs or tops come down, or sway hard, where the crew works")),
)  # fmt: skip

SETS = {"temperate": TEMPERATE, "warm": WARM}
SET_NAMES = {
    "temperate": gettext_lazy("for cold and temperate places"),
    "warm": gettext_lazy("for warm places that plant with the rains"),
}
