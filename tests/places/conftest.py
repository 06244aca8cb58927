"""Places for tests: boundaries near a real-looking spot, and a form's answer in one line."""

import json

import pytest


def square(longitude=-7.5, latitude=40.3, side=0.01):
    """A closed square, anticlockwise, as GeoJSON text."""
    west, south, east, north = longitude, latitude, longitude + side, latitude + side
    ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    return json.dumps({"type": "Polygon", "coordinates": [ring]})


@pytest.fixture
def boundary():
    return square()
