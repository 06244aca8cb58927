"""The columns a file of counts may hold, how a cell is read, and what can be wrong with one."""

import math
from dataclasses import dataclass
from datetime import date

from monitoring.estimators.table import SEED, SEED_SPOT, TREE

REQUIRED = ("block", "plot", "species", "planted", "alive")
COUNTS = ("planted", "alive", "dead", "dead_stem", "empty_spot", "not_found", "not_assessed", "removed")
NAMES = ("project", "site", "block", "plot", "species", "cohort", "lot", "stock_type", "nursery")
BLOCK_FACTS = ("block_planted", "block_planted_spots", "block_plots")
OTHERS = ("unit", "plot_weight", "observed_on", "census")
KNOWN = NAMES + COUNTS + BLOCK_FACTS + OTHERS

ALIASES = {
    "living": "alive",
    "dead_stems": "dead_stem",
    "empty_spots": "empty_spot",
    "notfound": "not_found",
    "planting_block": "block",
    "plot_code": "plot",
    "is_census": "census",
}
UNITS = {"": TREE, "tree": TREE, "trees": TREE, "seed_spot": SEED_SPOT, "seed_spots": SEED_SPOT, "seed": SEED}
YES_NO = {"0": False, "no": False, "false": False, "1": True, "yes": True, "true": True}

# What can be wrong; the command that reads the file says each in the reader's language.
UNREADABLE = "unreadable"  # not text, or no header line
EMPTY_FILE = "empty_file"
COLUMN_MISSING = "column_missing"
COLUMN_TWICE = "column_twice"
COLUMN_IGNORED = "column_ignored"
TOO_MANY_CELLS = "too_many_cells"
NAME_MISSING = "name_missing"
NOT_A_COUNT = "not_a_count"
NOT_A_WEIGHT = "not_a_weight"
NOT_A_DATE = "not_a_date"
NOT_A_UNIT = "not_a_unit"
NOT_YES_OR_NO = "not_yes_or_no"
LINE_TWICE = "line_twice"
DIFFERS_IN_BLOCK = "differs_in_block"
DIFFERS_IN_PLOT = "differs_in_plot"
FEWER_THAN_VISITED = "fewer_than_visited"
FEWER_THAN_IN_PLOTS = "fewer_than_in_plots"
MORE_ALIVE_THAN_PLANTED = "more_alive_than_planted"
DOES_NOT_ADD_UP = "does_not_add_up"
NOT_ALIVE_TAKEN_AS_DEAD = "not_alive_taken_as_dead"

LARGEST_COUNT = 10_000_000


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with a file: `line` counts from 1 with the header (0: the whole file)."""

    line: int
    column: str
    code: str
    value: str = ""


class BadCell(ValueError):
    """A cell that cannot be read, with the code of the problem."""


def column_name(heading: str) -> str:
    """The column a heading means, whatever its case and spacing.

    >>> column_name(" Not found "), column_name("Living")
    ('not_found', 'alive')
    """
    plain = "_".join(heading.replace("\ufeff", "").strip().lower().replace("-", " ").split())
    return ALIASES.get(plain, plain)


def read_count(text: str) -> int:
    """A whole number of 0 or more; `12.0` as spreadsheets write it is accepted.

    >>> read_count("12"), read_count("12.0")
    (12, 12)
    """
    try:
        number = float(text)
    except ValueError as error:
        raise BadCell(NOT_A_COUNT) from error
    if not (number.is_integer() and 0 <= number <= LARGEST_COUNT):
        raise BadCell(NOT_A_COUNT)
    return int(number)


def read_weight(text: str) -> float:
    """A number above 0, with a decimal point or comma; empty means 1."""
    try:
        weight = float(text.replace(",", ".")) if text else 1.0
    except ValueError as error:
        raise BadCell(NOT_A_WEIGHT) from error
    if not (weight > 0 and math.isfinite(weight)):
        raise BadCell(NOT_A_WEIGHT)
    return weight


def read_date(text: str) -> date | None:
    """A date as YYYY-MM-DD, or None when empty."""
    try:
        return date.fromisoformat(text) if text else None
    except ValueError as error:
        raise BadCell(NOT_A_DATE) from error


def read_unit(text: str) -> int:
    """The code of a planting unit; empty means tree."""
    unit = UNITS.get(text.strip().lower().replace(" ", "_").replace("-", "_"))
    if unit is None:
        raise BadCell(NOT_A_UNIT)
    return unit


def read_yes_no(text: str) -> bool | None:
    """Yes or no in the usual spellings; None when empty."""
    if not text:
        return None
    answer = YES_NO.get(text.strip().lower())
    if answer is None:
        raise BadCell(NOT_YES_OR_NO)
    return answer
