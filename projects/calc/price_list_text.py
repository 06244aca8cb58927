"""Reads a nursery's price list as people paste it: a heading, then a line for each thing on offer."""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from projects.calc.money import minor_units

MOST_LINES = 500

# What a heading may say for each column, lower case.
HEADINGS = {
    "species": ("species", "scientific name", "name"),
    "stock_type": ("stock type", "stock", "type"),
    "price": ("price", "price of one", "unit price"),
    "currency": ("currency",),
    "unit": ("sold by", "unit"),
    "on_offer": ("how many", "on offer", "available"),
    "least_quantity": ("fewest", "fewest sold", "minimum"),
    "lead_time_weeks": ("weeks", "weeks to delivery"),
    "age_code": ("age", "age code"),
    "provenance": ("provenance", "origin"),
    "valid_from": ("from", "price holds from"),
    "valid_until": ("until", "price holds until"),
    "note": ("note",),
}
NEEDED = ("species", "stock_type", "price")
COUNTS = {"on_offer": 2_000_000_000, "least_quantity": 2_000_000_000, "lead_time_weeks": 520}
DAYS = ("valid_from", "valid_until")
TEXTS = {"age_code": 20, "provenance": 200, "note": 300}

# What can be wrong; whoever shows it says it in the reader's language.
NOTHING = "nothing"
TOO_MANY = "too_many"
NO_COLUMN = "no_column"  # value: the heading that is missing
UNKNOWN_HEADING = "unknown_heading"
HEADING_TWICE = "heading_twice"
EMPTY = "empty"
NOT_A_STOCK_TYPE = "not_a_stock_type"
NOT_A_UNIT = "not_a_unit"
NOT_AN_AMOUNT = "not_an_amount"
TOO_FINE = "too_fine"
TOO_LARGE = "too_large"
NOT_A_CURRENCY = "not_a_currency"
NOT_A_COUNT = "not_a_count"
NOT_A_DAY = "not_a_day"
TOO_LONG = "too_long"
CANNOT_BE_PARTED = "cannot_be_parted"


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault: `line` counts from 1 in the text (0: the whole), `column` is a key of `HEADINGS` or empty."""

    line: int
    column: str
    code: str
    value: str = ""


@dataclass(frozen=True, slots=True)
class PriceLine:
    """One thing on offer, its species still a name."""

    line: int
    species: str
    stock_type: str
    unit_price_minor: int
    currency: str
    unit: str = ""
    on_offer: int | None = None
    least_quantity: int | None = None
    lead_time_weeks: int | None = None
    age_code: str = ""
    provenance: str = ""
    valid_from: date | None = None
    valid_until: date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Words of the reader's language, lower case, for what a cell may say; and how currencies are written.

    Attributes
    ----------
    stock_types, units : word to key.
    currency : what a line without a currency is in.
    digits : decimal digits of currencies whose minor unit is not a hundredth.
    """

    stock_types: Mapping[str, str]
    units: Mapping[str, str]
    currency: str
    digits: Mapping[str, int]


class BadPriceList(ValueError):
    """The text cannot be used; `problems` holds every fault."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__(f"{len(problems)} problems in the price list")


def read_price_list(text: str, words: Vocabulary) -> list[PriceLine]:
    """Parse pasted lines or a CSV file, its first line the headings in any order.

    Cells are parted by tabs, semicolons or commas, whichever the heading uses.

    Raises
    ------
    BadPriceList
        With every fault found.

    Examples
    --------
    >>> words = Vocabulary({"bare-root": "bare_root"}, {}, "EUR", {})
    >>> found = read_price_list("price;species;stock type\\n0,62;Quercus robur;Bare-root", words)
    >>> found[0].species, found[0].unit_price_minor, found[0].currency
    ('Quercus robur', 62, 'EUR')
    """
    lines = text.replace("\ufeff", "").splitlines()
    first = next((number for number, line in enumerate(lines) if line.strip()), None)
    if first is None:
        raise BadPriceList([Problem(0, "", NOTHING)])
    parting = next((sign for sign in "\t;" if sign in lines[first]), ",")
    try:
        rows = list(csv.reader(lines[first:], delimiter=parting))
    except csv.Error:
        raise BadPriceList([Problem(0, "", CANNOT_BE_PARTED)]) from None
    columns, problems = _columns(rows[0], first + 1)
    filled = [(first + number, row) for number, row in enumerate(rows[1:], 2) if any(map(str.strip, row))]
    if not problems and not filled:
        problems.append(Problem(0, "", NOTHING))
    if len(filled) > MOST_LINES:
        problems.append(Problem(0, "", TOO_MANY, str(len(filled))))
    if problems:
        raise BadPriceList(problems)
    found = [_line(number, _cells(row, columns), words, problems) for number, row in filled]
    if problems:
        raise BadPriceList(problems)
    return [line for line in found if line is not None]


def _columns(heading: list[str], number: int) -> tuple[list[str], list[Problem]]:
    """The key of each column, empty where its heading is empty."""
    known = {word: key for key, words in HEADINGS.items() for word in (*words, key.replace("_", " "))}
    columns, problems = [], []
    for cell in heading:
        word = " ".join(cell.lower().replace("_", " ").split())
        key = known.get(word, "")
        if word and not key:
            problems.append(Problem(number, "", UNKNOWN_HEADING, cell.strip()))
        if key and key in columns:
            problems.append(Problem(number, key, HEADING_TWICE, cell.strip()))
        columns.append(key)
    problems += [Problem(number, key, NO_COLUMN) for key in NEEDED if key not in columns]
    return columns, problems


def _cells(row: list[str], columns: list[str]) -> dict[str, str]:
    return {key: cell.strip() for key, cell in zip(columns, row, strict=False) if key}


def _line(number: int, cells: dict[str, str], words: Vocabulary, problems: list[Problem]) -> PriceLine | None:
    before = len(problems)
    for key in NEEDED:
        if not cells.get(key):
            problems.append(Problem(number, key, EMPTY))
    currency = cells.get("currency", "").upper() or words.currency
    if not (len(currency) == 3 and currency.isascii() and currency.isalpha()):
        problems.append(Problem(number, "currency", NOT_A_CURRENCY, currency))
    values: dict[str, int | str | date | None] = {
        "stock_type": _word(number, "stock_type", cells, words.stock_types, NOT_A_STOCK_TYPE, problems),
        "unit": _word(number, "unit", cells, words.units, NOT_A_UNIT, problems),
        "unit_price_minor": _price(number, cells.get("price", ""), words.digits.get(currency, 2), problems),
    }
    values |= {key: _count(number, key, cells.get(key, ""), problems) for key in COUNTS}
    values |= {key: _day(number, key, cells.get(key, ""), problems) for key in DAYS}
    for key, most in TEXTS.items():
        values[key] = cells.get(key, "")
        if len(cells.get(key, "")) > most:
            problems.append(Problem(number, key, TOO_LONG, str(most)))
    if len(problems) > before:
        return None
    return PriceLine(line=number, species=cells["species"], currency=currency, **values)  # type: ignore[arg-type]


def _word(
    number: int,
    key: str,
    cells: dict[str, str],
    known: Mapping[str, str],
    code: str,
    problems: list[Problem],
) -> str:
    said = cells.get(key, "")
    word = " ".join(said.lower().replace("_", " ").replace("-", " ").split())
    keys = {name.replace("_", " ").replace("-", " "): value for name, value in known.items()}
    if word and word not in keys:
        problems.append(Problem(number, key, code, said))
    return keys.get(word, "")


def _price(number: int, text: str, digits: int, problems: list[Problem]) -> int | None:
    if not text:
        return None
    try:
        minor = minor_units(text, digits)
    except ValueError as wrong:
        problems.append(Problem(number, "price", str(wrong), text))
        return None
    if minor < 0:
        problems.append(Problem(number, "price", NOT_AN_AMOUNT, text))
    if minor >= 2**63:
        problems.append(Problem(number, "price", TOO_LARGE, text))
    return minor


def _count(number: int, key: str, text: str, problems: list[Problem]) -> int | None:
    plain = "".join(text.split()).replace("\u202f", "")
    if not plain:
        return None
    if not (plain.isascii() and plain.isdigit()) or len(plain) > 12:
        problems.append(Problem(number, key, NOT_A_COUNT, text))
        return None
    if int(plain) > COUNTS[key]:
        problems.append(Problem(number, key, TOO_LARGE, text))
    return int(plain)


def _day(number: int, key: str, text: str, problems: list[Problem]) -> date | None:
    """A day as 2026-02-14, 14/02/2026 or 14.02.2026."""
    if not text:
        return None
    parts = text.replace(".", "-").replace("/", "-").split("-")
    try:
        year, month, day = map(int, parts if "-" in text else reversed(parts))
        return date(year, month, day)
    except (ValueError, OverflowError):
        problems.append(Problem(number, key, NOT_A_DAY, text))
        return None
