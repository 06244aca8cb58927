"""What is wrong with a boundary, in words that say what to do about it."""

from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

WORDS = {
    "not_json": gettext_noop(
        "This is not JSON: reading stopped at line %(line)s, column %(column)s. Copy the whole GeoJSON file, "
        "from the first { to the last }."
    ),
    "not_geojson": gettext_noop(
        "This is JSON but not GeoJSON: it has no “type”. Export the boundary as GeoJSON and paste that."
    ),
    "not_one_shape": gettext_noop(
        "The file holds %(count)s shapes. Keep the one that is meant and paste that; several pieces of one "
        "boundary go into one MultiPolygon."
    ),
    "wrong_type": gettext_noop(
        "A boundary is a Polygon or MultiPolygon; this is a %(type)s. Draw the edge as a closed area."
    ),
    "other_reference": gettext_noop(
        "The coordinates are in %(name)s. Export them in WGS 84 (longitude, latitude in degrees), as RFC 7946 asks."
    ),
    "corner_not_read": gettext_noop(
        "Line %(line)s, “%(value)s”, is not a corner. Type latitude and longitude in decimal degrees, such as "
        "40.3012, -7.5031, one corner a line."
    ),
    "too_few_typed": gettext_noop(
        "%(count)s corners were typed; an area has three or more. Type one corner a line."
    ),
    "null_island": gettext_noop(
        "This boundary lies at longitude 0, latitude 0, in the sea off Africa, where coordinates end up that were "
        "never filled in. Export or type them again."
    ),
    "outside_country": gettext_noop(
        "By a rough table this boundary lies about %(distance_km)s km outside %(country)s: at sea, or in another "
        "country. Check longitude, latitude and the country. If it is right, tick this box and save again."
    ),
    "far_from_site": gettext_noop(
        "This boundary lies about %(distance_km)s km from its site, %(site)s. Check longitude and latitude, or "
        "whether the block belongs to another site."
    ),
    "no_coordinates": gettext_noop("The shape has no corners. Export it again with its coordinates."),
    "too_many_corners": gettext_noop(
        "The boundary has %(count)s corners, more than the %(most)s kept here. Simplify it and try again."
    ),
    "too_few_corners": gettext_noop(
        "A ring has %(count)s positions; it needs at least four, the last one the same as the first."
    ),
    "not_closed": gettext_noop(
        "A ring is open: it must end where it began, at longitude %(longitude)s, latitude %(latitude)s. "
        "Repeat the first position as the last."
    ),
    "not_a_number": gettext_noop(
        "“%(value)s” is not a coordinate. Every position is [longitude, latitude] in degrees."
    ),
    "swapped": gettext_noop(
        "Latitude %(latitude)s is beyond the pole, so longitude and latitude look exchanged. "
        "GeoJSON puts longitude first."
    ),
    "looks_swapped": gettext_noop(
        "This boundary lies far from where it should be, and right where it should be with its numbers "
        "exchanged. GeoJSON puts longitude first, then latitude."
    ),
    "out_of_range": gettext_noop(
        "Longitude %(longitude)s, latitude %(latitude)s is not on Earth. Export in WGS 84 degrees, not in metres."
    ),
    "crosses_date_line": gettext_noop(
        "The boundary spans more than half the Earth. If it crosses the 180° meridian, cut it there into a "
        "MultiPolygon; otherwise one corner is wrong."
    ),
    "crosses_itself": gettext_noop(
        "The boundary crosses or touches itself near longitude %(longitude)s, latitude %(latitude)s. "
        "Move that corner, or put the corners in walking order."
    ),
    "hole_outside": gettext_noop(
        "A piece left out lies outside the boundary, near longitude %(longitude)s, latitude %(latitude)s. "
        "Move it inside or remove it."
    ),
    "no_area": gettext_noop(
        "The corners lie on one line or one spot, so there is no area. Check the corners."
    ),
    "too_large": gettext_noop(
        "The boundary covers %(area_ha)s ha, more than the %(most_ha)s ha that is believed here. "
        "Check for a wrong corner or exchanged coordinates."
    ),
}


def boundary_words(code: str, facts: dict[str, Any]) -> str:
    """Return the sentence for a problem; a place the checker could not name is left as “?”."""
    known = {"longitude": "?", "latitude": "?", **{name: _shown(value) for name, value in facts.items()}}
    return _(WORDS[code]) % known


def _shown(value: Any) -> str:
    if isinstance(value, float) and abs(value) >= 1000:
        return f"{value:,.0f}".replace(",", "\u202f")
    return f"{value:.0f}" if isinstance(value, float) and value.is_integer() else str(value)
