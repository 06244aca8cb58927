"""How a species fits a block, in words."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from projects.figures import quantity
from species.calc import suitability as fit
from species.traits import DRAINAGES, LIGHTS, TEXTURES

FACTORS = {
    "rain": gettext_noop("rain in a year"),
    "cold": gettext_noop("cold of winter nights"),
    "heat": gettext_noop("heat of summer days"),
    "drought": gettext_noop("dry months"),
    "altitude": gettext_noop("altitude"),
    "soil_reaction": gettext_noop("soil pH"),
    "soil_depth": gettext_noop("rooting depth"),
    "salinity": gettext_noop("soil salinity"),
    "soil_texture": gettext_noop("soil texture"),
    "drainage": gettext_noop("drainage"),
    "light": gettext_noop("light"),
}
UNITS = {
    "rain": "mm", "cold": "°C", "heat": "°C", "drought": "", "altitude": "m", "soil_reaction": "",
    "soil_depth": "cm", "salinity": "dS/m",
}  # fmt: skip
WORDS = {"soil_texture": TEXTURES, "drainage": DRAINAGES, "light": LIGHTS}
VERDICTS = {
    fit.FITS: gettext_noop("fits"),
    fit.LIMITED: gettext_noop("fits with a limit"),
    fit.UNFIT: gettext_noop("does not fit"),
}


def factor_name(name: str) -> str:
    return _(FACTORS[name])


def verdict(found: fit.Suitability) -> str:
    """The verdict in words; unknown where nothing could be judged."""
    return _(VERDICTS[found.verdict]) if found.verdict else _("not known")


def amount(name: str, value: float) -> str:
    """A value of a factor with its unit."""
    text = quantity(value, 1) if name == "soil_reaction" else quantity(value)
    return f"{text} {UNITS[name]}".strip()


def limit(factor: fit.Factor | None) -> str:
    """The limiting factor with the site's number and the species' own.

    A species that stands words (texture, drainage, light) is told the site's word.
    """
    if factor is None:
        return ""
    if isinstance(factor.value, str) or factor.limit is None:
        word = WORDS.get(factor.name, {}).get(factor.value, factor.value)
        return _("%(factor)s: it does not stand “%(word)s”") % {
            "factor": factor_name(factor.name),
            "word": word,
        }
    numbers = {
        "factor": factor_name(factor.name),
        "here": amount(factor.name, factor.value or 0.0),
        "limit": amount(factor.name, factor.limit),
    }
    if (factor.value or 0.0) < factor.limit:
        return _("%(factor)s: %(here)s here, it wants %(limit)s or more") % numbers
    return _("%(factor)s: %(here)s here, it wants %(limit)s or less") % numbers


def unknown(names: tuple[str, ...]) -> str:
    """Factors that could not be judged, in one line."""
    return ", ".join(factor_name(name) for name in names)


def tolerance(name: str, points: Sequence[float | None]) -> str:
    """What a species stands of a factor, as its drawing shows it: where it lives, and where it does best.

    `points` rise from the lowest to the highest it stands; None on a side without a limit.
    """
    lowest, best_from, best_to, highest = (None if point is None else amount(name, point) for point in points)
    lives, best = _between(lowest, highest), _between(best_from, best_to)
    return _("lives %(lives)s, best %(best)s") % {"lives": lives, "best": best}


def _between(low: str | None, high: str | None) -> str:
    if low is None:
        return _("up to %(high)s") % {"high": high}
    if high is None:
        return _("from %(low)s up") % {"low": low}
    return _("from %(low)s to %(high)s") % {"low": low, "high": high}
