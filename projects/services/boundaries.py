"""Accept a boundary, or refuse it with the field and what to do."""

from typing import Any

from projects import countries, country_boxes
from projects.boundary_words import boundary_words
from projects.calc import geometry
from projects.calc.boundary_text import BoundaryProblem
from projects.calc.typed_corners import looks_typed, polygon_of
from projects.errors import Refusal
from projects.models import Site

MOST_SITE_HA = 200_000.0
MOST_BLOCK_HA = 20_000.0


OFF_COAST_M = 50_000.0  # a country's box is rough
FAR_FROM_SITE_M = 100_000.0  # the largest site believed is some 45 km across


def refused(code: str, field: str, **facts: Any) -> Refusal:
    """A refusal of a boundary in its words."""
    return Refusal(boundary_words(code, facts), field=field, code=code)


def accepted(
    source: str | dict[str, Any], *, field: str, most_ha: float, near: list[tuple[float, float]] | None = None
) -> geometry.Boundary:
    """Return the checked boundary, or raise a refusal on `field`."""
    try:
        shape = polygon_of(source) if isinstance(source, str) and looks_typed(source) else source
        found = geometry.read_boundary(shape, most_ha=most_ha)
    except BoundaryProblem as problem:
        raise refused(problem.code, field, **problem.facts) from problem
    longitude, latitude = geometry.centre(found.geometry)
    if abs(longitude) < 1 and abs(latitude) < 1:
        raise refused("null_island", field)
    if geometry.looks_swapped(found.geometry, near or []):
        raise refused("looks_swapped", field)
    return found


def site_boundary(
    source: str | dict[str, Any],
    *,
    country_code: str,
    lies_there: bool = False,
    standing: dict[str, Any] | None = None,
) -> geometry.Boundary:
    """Accept a site's boundary; one that only fits its country with exchanged axes is refused.

    So is one far outside its country, at sea or elsewhere, unless `lies_there` says that it is meant or
    it is the one that is `standing`.
    """
    near = list(countries.places_in(country_code))
    found = accepted(source, field="boundary", most_ha=MOST_SITE_HA, near=near)
    if not lies_there and found.geometry != standing:
        _check_country(found, country_code, "lies_there")
    return found


def _check_country(found: geometry.Boundary, country_code: str, field: str) -> None:
    outside_m = country_boxes.outside_m(country_code, *geometry.centre(found.geometry))
    if outside_m > OFF_COAST_M:
        country = countries.country_name(country_code)
        raise refused("outside_country", field, distance_km=round(outside_m, -4) / 1000, country=country)


def block_boundary(source: str | dict[str, Any], *, site: Site) -> geometry.Boundary:
    """Accept a block's boundary; one that only fits its site with exchanged axes, or lies far from it, is refused."""
    near = [geometry.centre(site.boundary)] if site.boundary else list(countries.places_in(site.country_code))
    found = accepted(source, field="geometry", most_ha=MOST_BLOCK_HA, near=near)
    if site.boundary:
        distance_m = geometry.distance_m(geometry.centre(found.geometry), near[0])
        if distance_m > FAR_FROM_SITE_M:
            distance_km = round(distance_m, -3) / 1000
            raise refused("far_from_site", "geometry", distance_km=distance_km, site=site.name)
    return found
