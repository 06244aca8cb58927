"""How well a species fits a piece of ground: the least favourable factor decides, and is named.

A trapezoid per factor: 0 at and beyond the absolute limits, 1 between the ends of the optimum, straight in
between; a one-sided tolerance has one slope. The whole is the smallest of its factors (law of the minimum), not
their mean. What is not known, of the species or of the site, is unknown and never counts as a fit.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

UNKNOWN_OF_SPECIES = "unknown_of_species"
UNKNOWN_OF_SITE = "unknown_of_site"
KNOWN = "known"

REFUSED = "refused"  # invasive where it would stand
WARNED = "warned"  # introduced: needs a reason
WELCOME = "welcome"
STATUS_UNKNOWN = "status_unknown"

FITS, LIMITED, UNFIT = "fits", "limited", "unfit"


@dataclass(frozen=True, slots=True)
class Slopes:
    """Points of a tolerance; None on a side that has no limit.

    Raises
    ------
    ValueError
        If the points do not rise.
    """

    lowest: float | None = None
    optimum_from: float | None = None
    optimum_to: float | None = None
    highest: float | None = None

    def __post_init__(self) -> None:
        points = [p for p in (self.lowest, self.optimum_from, self.optimum_to, self.highest) if p is not None]
        if points != sorted(points):
            raise ValueError("the points of a tolerance must rise from lowest to highest.")

    def score(self, value: float) -> float:
        """Fit of a value, 0..1.

        >>> slopes = Slopes(10, 20, 28, 38)
        >>> [round(slopes.score(t), 2) for t in (16, 24, 33, 40)]
        [0.6, 1.0, 0.5, 0.0]
        """
        return min(_rise(value, self.lowest, self.optimum_from), _fall(value, self.optimum_to, self.highest))


def _rise(value: float, lowest: float | None, full_from: float | None) -> float:
    if lowest is None or full_from is None or value >= full_from:
        return 1.0
    return 0.0 if value <= lowest else (value - lowest) / (full_from - lowest)


def _fall(value: float, full_to: float | None, highest: float | None) -> float:
    if full_to is None or highest is None or value <= full_to:
        return 1.0
    return 0.0 if value >= highest else (highest - value) / (highest - full_to)


@dataclass(frozen=True, slots=True)
class Factor:
    """One factor of a species on a site.

    Attributes
    ----------
    name : key of the factor, such as `rain` or `soil_texture`.
    knowledge : `known`, `unknown_of_species` or `unknown_of_site`.
    score : 0..1; None where unknown.
    value : what the site offers, a number or a word; None where unknown.
    limit : the point of the tolerance the value runs into; None where it fits or is told in words.
    """

    name: str
    knowledge: str
    score: float | None = None
    value: float | str | None = None
    limit: float | None = None


@dataclass(frozen=True, slots=True)
class Suitability:
    """A species on a block.

    Attributes
    ----------
    score : smallest known factor; None when none is known.
    verdict : `fits` (1), `limited` or `unfit` (0); empty when nothing is known.
    limiting : the factor that sets the score; None at a score of 1 or when nothing is known.
    unknown : names of factors that could not be judged.
    factors : all of them, in the order of `FACTORS`.
    """

    score: float | None
    verdict: str
    limiting: Factor | None
    unknown: tuple[str, ...]
    factors: tuple[Factor, ...]


# Name of a factor, the site's fact, and the traits of its slopes (lowest, optimum from, optimum to, highest).
NUMBERS: tuple[tuple[str, str, tuple[str, str, str, str]], ...] = (
    (
        "rain",
        "rain_mm",
        ("rain_lowest_mm", "rain_optimum_from_mm", "rain_optimum_to_mm", "rain_highest_mm"),
    ),
    ("cold", "coldest_month_c", ("coldest_month_lowest_c", "coldest_month_optimum_from_c", "", "")),
    ("heat", "hottest_month_c", ("", "", "hottest_month_optimum_to_c", "hottest_month_highest_c")),
    ("drought", "dry_months", ("", "", "dry_months_optimum_to", "dry_months_highest")),
    (
        "altitude",
        "altitude_m",
        ("altitude_lowest_m", "altitude_optimum_from_m", "altitude_optimum_to_m", "altitude_highest_m"),
    ),
    (
        "soil_reaction",
        "soil_ph",
        ("soil_ph_lowest", "soil_ph_optimum_from", "soil_ph_optimum_to", "soil_ph_highest"),
    ),
    ("soil_depth", "soil_depth_cm", ("soil_depth_lowest_cm", "soil_depth_optimum_from_cm", "", "")),
    (
        "salinity",
        "salinity_ds_per_m",
        ("", "", "salinity_optimum_to_ds_per_m", "salinity_highest_ds_per_m"),
    ),
)
WORDS: tuple[tuple[str, str, str], ...] = (
    ("soil_texture", "soil_texture", "soil_textures"),
    ("drainage", "drainage", "soil_drainage"),
    ("light", "light", "light"),
)
FACTORS = tuple(name for name, *_rest in (*NUMBERS, *WORDS))

Traits = Mapping[str, float | Sequence[str]]
Site = Mapping[str, float | str]


def suitability(traits: Traits, site: Site) -> Suitability:
    """Judge a species by its traits on a site by its facts.

    Parameters
    ----------
    traits : trait key → number, or allowed words (keys of the species reference).
    site : `rain_mm` (a year), `coldest_month_c` (mean daily minimum), `hottest_month_c` (mean daily maximum),
        `dry_months`, `altitude_m`, `soil_ph`, `soil_depth_cm`, `salinity_ds_per_m`, and the words
        `soil_texture`, `drainage`, `light`; any may be missing.

    Examples
    --------
    >>> traits = {"rain_lowest_mm": 400, "rain_optimum_from_mm": 600, "rain_optimum_to_mm": 1200,
    ...           "rain_highest_mm": 2000, "soil_textures": ["coarse"]}
    >>> found = suitability(traits, {"rain_mm": 500, "soil_texture": "coarse"})
    >>> found.score, found.limiting.name, found.limiting.limit, "cold" in found.unknown
    (0.5, 'rain', 600.0, True)
    """
    factors = (
        *(_number(name, site.get(fact), traits, keys) for name, fact, keys in NUMBERS),
        *(_word(name, site.get(fact), traits.get(trait)) for name, fact, trait in WORDS),
    )
    known = [factor for factor in factors if factor.score is not None]
    unknown = tuple(factor.name for factor in factors if factor.score is None)
    if not known:
        return Suitability(None, "", None, unknown, factors)
    worst = min(known, key=lambda factor: factor.score or 0.0)
    score = worst.score or 0.0
    verdict = FITS if score >= 1 else LIMITED if score > 0 else UNFIT
    return Suitability(score, verdict, worst if score < 1 else None, unknown, factors)


def _number(name: str, value: float | str | None, traits: Traits, keys: Sequence[str]) -> Factor:
    points = [_point(traits, key) for key in keys]
    needed = [point for point, key in zip(points, keys, strict=True) if key]
    if any(point is None for point in needed):
        return Factor(name, UNKNOWN_OF_SPECIES, value=value)
    if value is None:
        return Factor(name, UNKNOWN_OF_SITE)
    slopes, at = Slopes(*points), float(value)
    score = slopes.score(at)
    return Factor(name, KNOWN, score, at, _limit(slopes, at) if score < 1 else None)


def _point(traits: Traits, key: str) -> float | None:
    value = traits.get(key) if key else None
    return float(value) if isinstance(value, int | float) else None


def _limit(slopes: Slopes, value: float) -> float | None:
    """The point the value has crossed: the absolute limit where it is beyond, else the end of the optimum."""
    if slopes.optimum_from is not None and value < slopes.optimum_from:
        beyond = slopes.lowest is not None and value <= slopes.lowest
        return slopes.lowest if beyond else slopes.optimum_from
    beyond = slopes.highest is not None and value >= slopes.highest
    return slopes.highest if beyond else slopes.optimum_to


def _word(name: str, value: float | str | None, allowed: float | Sequence[str] | None) -> Factor:
    if not allowed or isinstance(allowed, int | float):
        return Factor(name, UNKNOWN_OF_SPECIES, value=value)
    if value is None:
        return Factor(name, UNKNOWN_OF_SITE)
    return Factor(name, KNOWN, 1.0 if value in allowed else 0.0, value)


def answer_to_status(status: str | None) -> str:
    """What the status of a species where it would stand means for choosing it.

    >>> [answer_to_status(status) for status in ("native", "introduced", "invasive", None)]
    ['welcome', 'warned', 'refused', 'status_unknown']
    """
    return {"native": WELCOME, "introduced": WARNED, "invasive": REFUSED}.get(status or "", STATUS_UNKNOWN)


def needs_reason(status: str | None) -> bool:
    """Whether a species may enter a mix only with a reason written down: one brought from elsewhere.

    An invasive species is refused, with or without a reason; one of unknown status is asked about locally.

    >>> [needs_reason(status) for status in ("native", "introduced", "invasive", "unknown", None)]
    [False, True, False, False, False]
    """
    return answer_to_status(status) == WARNED


# Zones of 10 °F of the mean yearly lowest temperature, halved into a and b; zone 1a begins at −60 °F.
_ZONE_BASE_F, _HALF_ZONE_F, _LAST_ZONE = -60.0, 5.0, 13


def hardiness_zone(mean_yearly_lowest_c: float) -> str:
    """Plant hardiness zone of a mean yearly lowest temperature (USDA map, zone limits from memory).

    >>> hardiness_zone((-17 - 32) / 1.8), hardiness_zone((12 - 32) / 1.8)
    ('5a', '8a')
    """
    half = int((mean_yearly_lowest_c * 1.8 + 32 - _ZONE_BASE_F + 1e-9) // _HALF_ZONE_F)
    half = min(max(half, 0), 2 * _LAST_ZONE - 1)
    return f"{half // 2 + 1}{'ab'[half % 2]}"
