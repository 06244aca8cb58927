"""The columns a file of counts may hold, how a cell is read, and what can be wrong with one."""

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from monitoring.estimators.table import COUNTED, REBUILT, SEED, SEED_SPOT, TREE

REQUIRED = ("block", "plot", "species", "planted", "alive")
COUNTS = (
    "planted", "alive", "dead", "dead_stem", "empty_spot", "not_found", "not_assessed", "removed",
    "origin_uncertain", "natural",
)  # fmt: skip
NAMES = (
    "round", "project", "site", "block", "plot", "species", "cohort", "lot", "stock_type", "nursery",
    "planting_season",
)  # fmt: skip
BLOCK_COUNTS = ("block_planted", "block_planted_spots", "block_plots", "target_per_ha")
BLOCK_FACTS = (*BLOCK_COUNTS, "net_area_ha")
PLOT_FACTS = ("plot_weight", "plot_area_m2")
OTHERS = ("unit", "baseline", "status", "observed_on", "planted_on", "census", "flagged")
NOT_READ = ("plot_uid",)  # stands in files of counts for other readers
KNOWN = NAMES + COUNTS + BLOCK_FACTS + PLOT_FACTS + OTHERS

ALIASES = {
    "date": "observed_on",
    "living": "alive",
    "dead_stems": "dead_stem",
    "empty_spots": "empty_spot",
    "notfound": "not_found",
    "planting_block": "block",
    "plot_code": "plot",
    "is_census": "census",
}
UNITS = {"": TREE, "tree": TREE, "trees": TREE, "seed_spot": SEED_SPOT, "seed_spots": SEED_SPOT, "seed": SEED}
YES_NO = {"0": 0, "no": 0, "false": 0, "1": 1, "yes": 1, "true": 1}
NO_BASELINE = 2  # living trees of a plot nobody counted at planting: they enter stocking only
BASELINES = {
    "": COUNTED, "at_planting": COUNTED, "later": COUNTED, "counted": COUNTED, "visible_spots": REBUILT,
    "rebuilt": REBUILT, "none": NO_BASELINE,
}  # fmt: skip
PLOT_COUNTED, PLOT_DESTROYED, PLOT_MISSING = 0, 1, 2
STATUSES = {"": PLOT_COUNTED, "counted": PLOT_COUNTED, "destroyed": PLOT_DESTROYED, "missing": PLOT_MISSING}

# What can be wrong; the command that reads the file says each in the reader's language.
UNREADABLE = "unreadable"  # not text, or no header line
EMPTY_FILE = "empty_file"
COLUMN_MISSING = "column_missing"
COLUMN_TWICE = "column_twice"
COLUMN_IGNORED = "column_ignored"
TOO_MANY_CELLS = "too_many_cells"
NAME_MISSING = "name_missing"
NOT_A_COUNT = "not_a_count"
NOT_ABOVE_ZERO = "not_above_zero"
NOT_A_DATE = "not_a_date"
OBSERVED_BEFORE_PLANTED = "observed_before_planted"
NOT_A_UNIT = "not_a_unit"
NOT_A_BASELINE = "not_a_baseline"
NOT_A_STATUS = "not_a_status"
NOT_YES_OR_NO = "not_yes_or_no"
BAD_QUOTES = "bad_quotes"
NO_DAY_FOR_ROUND = "no_day_for_round"
ROUNDS_BY_DAY = "rounds_by_day"
ALIVE_WHERE_DESTROYED = "alive_where_destroyed"
COUNTED_WHERE_MISSING = "counted_where_missing"
MORE_UNCERTAIN_THAN_ALIVE = "more_uncertain_than_alive"
AREA_UNKNOWN = "area_unknown"
PLOTS_MISSING = "plots_missing"
STOPPED_AT_A_CAP = "stopped_at_a_cap"
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


WHOLE_NUMBER = re.compile(r"(\d{1,9})(?:[.,]0{1,2})?")  # "1,000" may be a thousand or a one: refused


def read_count(text: str) -> int:
    """A whole number of 0 or more, -1 when empty; `12.0` and `12,0` as spreadsheets write it are accepted.

    >>> read_count("12"), read_count("12.0"), read_count("")
    (12, 12, -1)
    """
    if not text:
        return -1
    whole = WHOLE_NUMBER.fullmatch(text)
    if whole is None or int(whole[1]) > LARGEST_COUNT:
        raise BadCell(NOT_A_COUNT)
    return int(whole[1])


def read_natural(text: str) -> int:
    """A count that may have stopped at a cap, written `20+`; it is used as capped.

    >>> read_natural("20+"), read_natural("7")
    (20, 7)
    """
    return read_count(text.removesuffix("+").rstrip())


def read_above_zero(text: str) -> float:
    """A number above 0, with a decimal point or comma; NaN when empty."""
    try:
        number = float(text.replace(",", ".")) if text else math.nan
    except ValueError as error:
        raise BadCell(NOT_ABOVE_ZERO) from error
    if text and not (number > 0 and math.isfinite(number)):
        raise BadCell(NOT_ABOVE_ZERO)
    return number


def read_day(text: str) -> int:
    """The number of a day written YYYY-MM-DD (the first day of the year 1 is 1), or 0 when empty."""
    try:
        return date.fromisoformat(text).toordinal() if text else 0
    except ValueError as error:
        raise BadCell(NOT_A_DATE) from error


def read_yes_no(text: str) -> int:
    """1 or 0 for the usual spellings of yes and no; -1 when empty."""
    return _one_of(YES_NO, text, NOT_YES_OR_NO) if text else -1


def read_unit(text: str) -> int:
    """The code of a planting unit; empty means tree."""
    return _one_of(UNITS, text, NOT_A_UNIT)


def read_baseline(text: str) -> int:
    """Where the number planted comes from; empty means that it was counted."""
    return _one_of(BASELINES, text, NOT_A_BASELINE)


def read_status(text: str) -> int:
    """What became of the plot; empty means that it was counted."""
    return _one_of(STATUSES, text, NOT_A_STATUS)


def _one_of(codes: dict[str, int], text: str, fault: str) -> int:
    code = codes.get(text.strip().lower().replace(" ", "_").replace("-", "_"))
    if code is None:
        raise BadCell(fault)
    return code


Reader = Callable[[str], float]
READERS: dict[str, Reader] = {
    **dict.fromkeys((*COUNTS, *BLOCK_COUNTS), read_count),
    "natural": read_natural,
    **dict.fromkeys(("net_area_ha", *PLOT_FACTS), read_above_zero),
    "unit": read_unit,
    "baseline": read_baseline,
    "status": read_status,
    **dict.fromkeys(("observed_on", "planted_on"), read_day),
    **dict.fromkeys(("census", "flagged"), read_yes_no),
}
