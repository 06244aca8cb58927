"""What twelve monthly normals say to a tree: rain of the year, coldest and hottest month, dry months."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ClimateSummary:
    """Attributes
    ----------
    rain_mm : rain of a year. [mm]
    coldest_month_c, hottest_month_c : mean daily minimum of the coldest and maximum of the hottest month. [°C]
    dry_months : months whose rain in mm is less than twice their mean temperature in °C.
    """

    rain_mm: float
    coldest_month_c: float
    hottest_month_c: float
    dry_months: int


def climate_summary(
    minimum_c: Sequence[float], maximum_c: Sequence[float], rain_mm: Sequence[float]
) -> ClimateSummary:
    """Summarise normals, January first or any order.

    The rule of dry months is Bagnouls and Gaussen's (1953, from memory); frozen months are never dry.

    >>> climate_summary([5] * 6 + [17] * 6, [13] * 6 + [32] * 6, [90] * 6 + [20] * 6)
    ClimateSummary(rain_mm=660.0, coldest_month_c=5.0, hottest_month_c=32.0, dry_months=6)
    """
    if not len(minimum_c) == len(maximum_c) == len(rain_mm) == 12:
        raise ValueError("twelve months are needed of each series.")
    dry = sum(
        rain < low + high
        for low, high, rain in zip(minimum_c, maximum_c, rain_mm, strict=True)
        if low + high > 0
    )
    return ClimateSummary(float(sum(rain_mm)), float(min(minimum_c)), float(max(maximum_c)), dry)
