"""Rows and cases that planning is checked against, written by hand, and the mark of a test that checks them.

Each row says how its figure is known, and a word of its source that must stand beside the check:

read         the figure, or what it comes from, was read in a text
quoted       read as someone else quotes it, with example and page
remembered   from memory; the arithmetic comes out right
reckoned     arithmetic on stated numbers; nobody is claimed to have printed it
computed     by a library or program named beside it
practice     common practice, with no one source
"""

from collections.abc import Callable
from typing import TypeVar

Test = TypeVar("Test", bound=Callable[..., None])

# What the check has to say of a figure known so; where nothing is listed the source alone is enough.
SAID = {
    "read": (),
    "quoted": (),
    "remembered": ("from memory",),
    "reckoned": ("arithmetic", "computed"),
    "computed": (),
    "practice": ("common practice",),
}

ROWS: dict[str, tuple[str, str]] = {
    # Plots on the ground.
    "A1": ("remembered", "British Columbia"), "A2": ("practice", "0.01 ha"), "A3": ("read", "Teagasc"),
    "A4": ("read", "Elliott"), "A5": ("practice", "400 m2"), "A6": ("reckoned", "acre"),
    "A7": ("reckoned", "secant"), "A8": ("reckoned", "3.99"), "A9": ("reckoned", "50 %"),
    "A10": ("read", "Friday"), "A11": ("remembered", "British Columbia"),
    "X3": ("reckoned", "1.1025"), "X6": ("remembered", "British Columbia"), "X13": ("reckoned", "9.4"),
    # Spacing.
    "B1": ("reckoned", "2500"), "B2": ("reckoned", "1600"), "B3": ("reckoned", "1111"),
    "B4": ("read", "Chiang Mai"), "B5": ("reckoned", "1667"), "B6": ("reckoned", "2887"),
    "B7": ("reckoned", "1283"), "B8": ("reckoned", "1.1547"), "B9": ("read", "Michigan"),
    "B10": ("reckoned", "741"), "B11": ("reckoned", "568"), "B12": ("reckoned", "3.015"),
    # Seed and parents.
    "C1": ("read", "seed-trade"), "C2": ("read", "seed-trade"), "C3": ("read", "Texas"),
    "C4": ("read", "Soil Conservation Service"), "C5": ("remembered", "nursery manuals"),
    "C6": ("read", "Brown and Marshall"), "C7": ("remembered", "handbook"), "C8": ("reckoned", "2.551"),
    "X14": ("reckoned", "Lindgren and Kang"),
    # Weather and water.
    "D1": ("quoted", "FAO-56 examples 8"), "D2": ("quoted", "9, pages 80 and 83"),
    "D3": ("quoted", "examples 10"), "D4": ("quoted", "examples 2"), "D5": ("quoted", "examples 2 to 5"),
    "D6": ("quoted", "examples 2 to 5"), "D7": ("quoted", "examples 2 to 5"), "D8": ("quoted", "14"),
    "D9": ("quoted", "15"), "D10": ("quoted", "FAO-56 example 18"), "D11": ("quoted", "FAO-56 example 17"),
    "D12": ("quoted", "FAO-56 example 13"), "D13": ("remembered", "Lyon"), "D14": ("quoted", "Mehta 2006"),
    "D15": ("reckoned", "38.795"), "D16": ("remembered", "FAO-56 example 36"),
    "D17": ("remembered", "irrigation manual"), "D18": ("reckoned", "degree_days"),
    "D19": ("remembered", "Baskerville and Emin"), "D20": ("reckoned", "0.401"), "D21": ("reckoned", "122.8"),
    "J8": ("reckoned", "22.5"),
    "K1": ("reckoned", "definition"), "X9": ("remembered", "hardiness zone map"), "X10": ("reckoned", "0.60"),
    "X11": ("remembered", "ISO 7243"),
    # Diversity.
    "I1": ("remembered", "Zar"), "I2": ("remembered", "teaching example"), "I3": ("reckoned", "Hill 1973"),
    "X15": ("reckoned", "0.50"),
    # Stock, soil, water, mulch, nutrients, lifting.
    "J1": ("read", "grower"), "J2": ("reckoned", "73.5"), "J3": ("reckoned", "919"),
    "J4": ("read", "extension"), "J5": ("reckoned", "58.9"), "J6": ("reckoned", "atomic masses"),
    "J7": ("remembered", "Dickson"), "K4": ("remembered", "NIOSH"), "K5": ("reckoned", "15"),
    "X12": ("reckoned", "1500"),
    # Orders and what a living tree costs.
    "L1": ("reckoned", "1447"), "L2": ("reckoned", "373"), "L3": ("reckoned", "0.206"),
    "L4": ("reckoned", "1406"), "L5": ("reckoned", "1642"), "L6": ("reckoned", "0.833"),
    "X4": ("reckoned", "8.33"),
    # Cases computed outside.
    "10-ra-J15-lat0.0": ("computed", "FAO-56"), "10-ra-J355-lat66.0": ("computed", "FAO-56"),
    "10-ra-J172-lat70.0": ("computed", "FAO-56"), "10-thornthwaite": ("computed", "Thornthwaite 1948"),
    "10-thornthwaite-hot": ("computed", "Willmott"),
    "10-waterbalance-TM-exp": ("computed", "Mather"), "10-waterbalance-TM-linear": ("computed", "McCabe"),
    "11-area-multi-antimeridian": ("computed", "pyproj Geod"), "11-utm-36.8--1.2": ("computed", "PROJ"),
    "11-utm-146.5--42.2": ("computed", "PROJ"), "11-utm-10.75-59.91": ("computed", "PROJ"),
    "11-utm-5.0-60.0": ("computed", "PROJ"), "11-utm--122.4-45.5": ("computed", "PROJ"),
    "11-inverse": ("computed", "Geod.inv"), "11-uniformity": ("computed", "chi-square"),
    "11-point-in-polygon": ("computed", "shapely contains"),
    "12-infeasible": ("computed", "enumerat"), "12-trays": ("computed", "enumerat"),
    "12-two-sites": ("computed", "enumerat"),
}  # fmt: skip


def checks(*names: str) -> Callable[[Test], Test]:
    """Mark a test with the rows it checks.

    Raises
    ------
    KeyError
        If a row is not among those listed here.
    """
    for name in names:
        ROWS[name]

    def mark(test: Test) -> Test:
        vars(test)["checks"] = names
        return test

    return mark
