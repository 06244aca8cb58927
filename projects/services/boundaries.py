"""Accept a boundary, or refuse it with the field and what to do."""

from typing import Any

from projects import countries
from projects.boundary_words import boundary_words
from projects.calc import geometry
from projects.calc.boundary_text import BoundaryProblem
from projects.errors import Refusal
from projects.models import Site

MOST_SITE_HA = 200_000.0
MOST_BLOCK_HA = 20_000.0


def accepted(
    source: str | dict[str, Any], *, field: str, most_ha: float, near: list[tuple[float, float]] | None = None
) -> geometry.Boundary:
    """Return the checked boundary, or raise a refusal on `field`."""
    try:
        found = geometry.read_boundary(source, most_ha=most_ha)
    except BoundaryProblem as problem:
        raise Refusal(
            boundary_words(problem.code, problem.facts), field=field, code=problem.code
        ) from problem
    if geometry.looks_swapped(found.geometry, near or []):
        raise Refusal(boundary_words("looks_swapped", {}), field=field, code="looks_swapped")
    return found


def site_boundary(source: str | dict[str, Any], *, country_code: str) -> geometry.Boundary:
    """Accept a site's boundary; one that only fits its country with exchanged axes is refused."""
    near = list(countries.places_in(country_code))
    return accepted(source, field="boundary", most_ha=MOST_SITE_HA, near=near)


def block_boundary(source: str | dict[str, Any], *, site: Site) -> geometry.Boundary:
    """Accept a block's boundary; one that only fits its site with exchanged axes is refused."""
    near = [geometry.centre(site.boundary)] if site.boundary else list(countries.places_in(site.country_code))
    return accepted(source, field="geometry", most_ha=MOST_BLOCK_HA, near=near)
