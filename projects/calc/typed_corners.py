"""Corners typed by hand, one on a line as a positioning device shows them: latitude first, then longitude."""

import re

from projects.calc.boundary_text import BoundaryProblem

BEGINS = re.compile(r"^\s*[+\-\u2212NSns]?\s*\d")
BARE = r"(\d{1,3}(?:[.,]\d+)?)\s*°?\s*"
LETTERS_AFTER = re.compile(rf"^{BARE}([NS])[\s,;]*{BARE}([EW])$", re.IGNORECASE)
LETTERS_BEFORE = re.compile(rf"^([NS])\s*{BARE}[\s,;]*([EW])\s*{BARE}$", re.IGNORECASE)
SIGNED = re.compile(r"^[+-]?\d{1,3}(?:\.\d+)?$")
MOST_LINES = 2_000


def looks_typed(text: str) -> bool:
    """Say whether a text begins like a typed corner rather than like GeoJSON.

    >>> looks_typed(" 40.3, -7.5"), looks_typed("N 40.3 W 7.5"), looks_typed('{"type": "Polygon"}')
    (True, True, False)
    """
    return bool(BEGINS.match(text))


def polygon_of(text: str) -> dict[str, object]:
    """Return the GeoJSON Polygon whose corners were typed; the last is joined to the first.

    Parameters
    ----------
    text : one corner a line: latitude and longitude in decimal degrees, parted by a comma, semicolon or space;
        N, S, E or W may stand before or after a number; a decimal comma is understood where it cannot part.

    Raises
    ------
    BoundaryProblem
        `corner_not_read` with the line and its text, `too_few_typed` with their number.

    Examples
    --------
    >>> polygon_of("40.3, -7.5\\n40,3; -7,49\\n40.31N 7.49W")["coordinates"][0]
    [[-7.5, 40.3], [-7.49, 40.3], [-7.49, 40.31], [-7.5, 40.3]]
    """
    lines = [(number, line.strip()) for number, line in enumerate(text.splitlines(), 1) if line.strip()]
    if len(lines) > MOST_LINES:
        raise BoundaryProblem("too_many_corners", count=len(lines), most=MOST_LINES)
    corners = [_corner(number, line) for number, line in lines]
    if len(corners) > 1 and corners[0] == corners[-1]:
        corners.pop()
    if len(corners) < 3:
        raise BoundaryProblem("too_few_typed", count=len(corners))
    return {"type": "Polygon", "coordinates": [[*corners, corners[0]]]}


def _corner(number: int, line: str) -> list[float]:
    line = line.replace("\u2212", "-")
    if found := LETTERS_AFTER.match(line):
        return [_turned(found[3], found[4]), _turned(found[1], found[2])]
    if found := LETTERS_BEFORE.match(line):
        return [_turned(found[4], found[3]), _turned(found[2], found[1])]
    parts = [part.replace("°", "").strip().replace(",", ".") for part in _parts(line)]
    if len(parts) != 2 or not all(SIGNED.match(part) for part in parts):
        raise BoundaryProblem("corner_not_read", line=number, value=line[:40])
    return [float(parts[1]), float(parts[0])]


def _turned(number: str, letter: str) -> float:
    """A number with the sign of its letter."""
    return float(number.replace(",", ".")) * (-1 if letter.upper() in "SW" else 1)


def _parts(line: str) -> list[str]:
    """Split a line into its two numbers: at a semicolon, else at a comma that is no decimal one, else at a space."""
    if ";" in line:
        return line.split(";")
    if found := re.match(r"^(.*?)(?:,\s+|\s+,\s*)(.*)$", line):
        return list(found.groups())
    if line.count(",") == 1 and len(line.split()) == 1:
        return line.split(",")
    return line.split()
