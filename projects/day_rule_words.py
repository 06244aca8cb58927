"""Rules of a planting day in words: what is looked at, when it speaks, and what it says, in the reader's units."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, gettext_noop

from projects import figures
from projects.calc import day_rules as calc
from projects.models import DayRule

NAMES = {
    "air_c": gettext_lazy("Air temperature"),
    "soil_c": gettext_lazy("Soil temperature at rooting depth"),
    "frozen_soil_cm": gettext_lazy("Depth of frozen soil"),
    "humidity_percent": gettext_lazy("Relative humidity"),
    "wind_m_per_s": gettext_lazy("Wind"),
    "water_at_surface": gettext_lazy("Does water stand on the ground?"),
    "dry_soil": gettext_lazy("Is the soil too dry to hold together in the fist?"),
    "thunder": gettext_lazy("Is thunder heard?"),
    "other": gettext_lazy("Something else, in words"),
}
UNITS = {  # metric, US customary
    "air_c": ("°C", "°F"),
    "soil_c": ("°C", "°F"),
    "frozen_soil_cm": ("cm", "in"),
    "humidity_percent": ("%", "%"),
    "wind_m_per_s": ("m/s", "mph"),
}
SENTENCES = {
    ("air_c", "below"): gettext_noop("the air is colder than %(limit)s"),
    ("air_c", "above"): gettext_noop("the air is warmer than %(limit)s"),
    ("soil_c", "below"): gettext_noop("the soil at rooting depth is colder than %(limit)s"),
    ("soil_c", "above"): gettext_noop("the soil at rooting depth is warmer than %(limit)s"),
    ("frozen_soil_cm", "above"): gettext_noop("more than %(limit)s of the soil is frozen"),
    ("frozen_soil_cm", "below"): gettext_noop("less than %(limit)s of the soil is frozen"),
    ("humidity_percent", "below"): gettext_noop("relative humidity is below %(limit)s"),
    ("humidity_percent", "above"): gettext_noop("relative humidity is above %(limit)s"),
    ("wind_m_per_s", "above"): gettext_noop("the wind is stronger than %(limit)s"),
    ("wind_m_per_s", "below"): gettext_noop("the wind is weaker than %(limit)s"),
    ("water_at_surface", "yes"): gettext_noop("water stands on the ground"),
    ("dry_soil", "yes"): gettext_noop("the soil does not hold together in the fist"),
    ("thunder", "yes"): gettext_noop("thunder is heard"),
}
EFFECTS = {calc.STOP: gettext_lazy("do not plant"), calc.THINK: gettext_lazy("think again")}
VERDICTS = {
    calc.STOP: gettext_lazy("Do not plant now"),
    calc.THINK: gettext_lazy("Think again before planting"),
    calc.GO: gettext_lazy("None of the rules speaks against planting"),
}


def unit(measure: str, units: str) -> str:
    """The unit a measure is read in; empty for yes or no."""
    metric, us = UNITS.get(measure, ("", ""))
    return us if units == "us" else metric


def shown(measure: str, metric: float, units: str) -> float:
    """A stored number in the reader's units."""
    return calc.to_us(measure, metric) if units == "us" else round(metric, 2)


def amount(measure: str, metric: float, units: str) -> str:
    """A stored number with its unit, as people write it."""
    number = shown(measure, metric, units)
    places = 0 if float(number).is_integer() else 1
    return figures.quantity(number, places) + figures.NO_BREAK + unit(measure, units)


def when(rule: DayRule, units: str) -> str:
    """When the rule speaks: "the soil at rooting depth is colder than 4.4 °C"."""
    if rule.measure == calc.OTHER:
        return rule.words
    limit = amount(rule.measure, rule.limit, units) if rule.limit is not None else ""
    return _(SENTENCES[rule.measure, rule.side]) % {"limit": limit}


def beside(rule: DayRule) -> str:
    """What stands beside it for the crew."""
    return "" if rule.measure == calc.OTHER else rule.words


def question(rule: DayRule, units: str) -> str:
    """What to look at this morning, with its unit."""
    if rule.measure == calc.OTHER:
        return _("Is it so: %(words)s?") % {"words": rule.words}
    name, of = str(NAMES[rule.measure]), unit(rule.measure, units)
    return _("%(measure)s in %(unit)s") % {"measure": name, "unit": of} if of else name
