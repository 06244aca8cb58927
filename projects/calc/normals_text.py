"""Reads monthly climate normals as people paste them: twelve lines of lowest, highest, rain; January first."""

from dataclasses import dataclass

COLUMNS = ("minimum_c", "maximum_c", "rain_mm")
LIMITS = {"minimum_c": (-60.0, 40.0), "maximum_c": (-50.0, 55.0), "rain_mm": (0.0, 3000.0)}

# What can be wrong; whoever shows it says it in the reader's language.
NOT_TWELVE = "not_twelve"  # value: how many months there are
NOT_THREE = "not_three"  # value: how many numbers the line has
NOT_A_NUMBER = "not_a_number"
OUT_OF_BOUNDS = "out_of_bounds"
MINIMUM_ABOVE_MAXIMUM = "minimum_above_maximum"


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault: `line` counts from 1 in the pasted text (0: the whole), `column` is one of `COLUMNS`."""

    line: int
    column: str
    code: str
    value: str = ""


@dataclass(frozen=True, slots=True)
class Normals:
    """Twelve months each, January first. [°C, °C, mm a month]"""

    minimum_c: tuple[float, ...]
    maximum_c: tuple[float, ...]
    rain_mm: tuple[float, ...]


class BadNormals(ValueError):
    """The text cannot be used; `problems` holds every fault."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__(f"{len(problems)} problems in the climate normals")


def read_normals(text: str) -> Normals:
    """Parse pasted lines or a CSV file.

    A heading is skipped; the month may stand first on a line, as a name or a number; cells are parted by tabs,
    semicolons or commas, else by blanks; decimal commas are read where commas do not part cells.

    Raises
    ------
    BadNormals
        With every fault found.

    Examples
    --------
    >>> months = read_normals("\\n".join(f"{m};{m / 2};{m + 10};{5 * m}" for m in range(1, 13)))
    >>> months.minimum_c[0], months.maximum_c[11], months.rain_mm[11]
    (0.5, 22.0, 60.0)
    """
    lines = [
        (number, line)
        for number, line in enumerate(text.replace("\ufeff", "").splitlines(), 1)
        if line.strip()
    ]
    parting = _parting([line for _number, line in lines])
    rows = [(number, _cells(line, parting)) for number, line in lines]
    if rows and not any(_number(cell) is not None for cell in rows[0][1]):
        rows = rows[1:]
    problems: list[Problem] = []
    months = [_month(number, cells, problems) for number, cells in rows]
    if len(months) != 12:
        problems.insert(0, Problem(0, "", NOT_TWELVE, str(len(months))))
    if problems:
        raise BadNormals(problems)
    return Normals(*(tuple(month[i] for month in months) for i in range(3)))


def _parting(lines: list[str]) -> str | None:
    """The sign that parts cells; a comma does only where no other sign can."""
    for sign in ("\t", ";", ","):
        if lines and all(line.count(sign) >= 2 for line in lines):
            return sign
    return None


def _cells(line: str, parting: str | None) -> list[str]:
    return [cell.strip() for cell in (line.split(parting) if parting else line.split())]


def _number(cell: str) -> float | None:
    try:
        return float(cell.replace(",", ".").replace("\u2212", "-"))
    except ValueError:
        return None


def _month(number: int, cells: list[str], problems: list[Problem]) -> list[float]:
    """Three values of a line; faults are noted and stand as 0."""
    cells = cells[1:] if len(cells) == 4 else cells
    if len(cells) != 3:
        problems.append(Problem(number, "", NOT_THREE, str(len(cells))))
        return [0.0] * 3
    values = [_value(number, name, cell, problems) for name, cell in zip(COLUMNS, cells, strict=True)]
    if None not in values and values[0] > values[1]:  # type: ignore[operator]
        problems.append(Problem(number, "minimum_c", MINIMUM_ABOVE_MAXIMUM, cells[0]))
    return [value or 0.0 for value in values]


def _value(line: int, column: str, cell: str, problems: list[Problem]) -> float | None:
    value = _number(cell)
    if value is None:
        problems.append(Problem(line, column, NOT_A_NUMBER, cell))
        return None
    lowest, highest = LIMITS[column]
    if not lowest <= value <= highest:
        problems.append(Problem(line, column, OUT_OF_BOUNDS, cell))
        return None
    return value
