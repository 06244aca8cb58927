"""Countries by their ISO 3166-1 codes, from the public-domain tables that come with the time zones."""

import re
from functools import cache
from importlib.resources import files

POSITION = re.compile(r"^([+-])(\d{2})(\d{2})(?:\d{2})?([+-])(\d{3})(\d{2})(?:\d{2})?$")


@cache
def names() -> dict[str, str]:
    """Return {code: usual English name}, ordered by name."""
    rows = (line.split("\t") for line in _lines("iso3166.tab"))
    return dict(sorted(((row[0], row[1]) for row in rows), key=lambda pair: pair[1]))


def country_name(code: str) -> str:
    """Return the usual English name of a country, else its code."""
    return names().get(code, code)


@cache
def places_in(code: str) -> tuple[tuple[float, float], ...]:
    """Return (longitude, latitude) of the country's time-zone cities: rough, but enough to notice a mix-up."""
    rows = (line.split("\t") for line in _lines("zone.tab"))
    return tuple(_position(row[1]) for row in rows if row[0] == code)


def _lines(name: str) -> list[str]:
    text = (files("tzdata") / "zoneinfo" / name).read_text(encoding="utf-8")
    return [line for line in text.splitlines() if line and not line.startswith("#")]


def _position(text: str) -> tuple[float, float]:
    """Read an ISO 6709 position such as +3843-00908."""
    found = POSITION.match(text)
    if found is None:
        raise ValueError(f"{text!r} is not an ISO 6709 position.")
    north, lat_degrees, lat_minutes, east, lon_degrees, lon_minutes = found.groups()
    latitude = (int(lat_degrees) + int(lat_minutes) / 60) * (1 if north == "+" else -1)
    longitude = (int(lon_degrees) + int(lon_minutes) / 60) * (1 if east == "+" else -1)
    return longitude, latitude
