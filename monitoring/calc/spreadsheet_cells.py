"""What people write into cells: whole numbers, days, and texts a spreadsheet must not take for formulas."""

import re
import unicodedata
from datetime import date, datetime

from species.calc.cells import GROUPS, RISKY, as_meant, harmless, is_formula

__all__ = ["RISKY", "as_meant", "day", "folded", "harmless", "is_formula", "whole_number"]

WHOLE = re.compile(r"([+-]?[0-9]{1,12})(\.0)?")
DAY_FORMATS = ("%Y-%m-%d", "%d/%m/%Y", "%d.%m.%Y", "%d-%m-%Y")


def folded(text: str) -> str:
    """Return a text as headings and names are compared: lower case, no accents, words with single spaces.

    >>> folded("  Não_encontradas (n.º)")
    'nao encontradas n o'
    """
    decomposed = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(sign for sign in decomposed if not unicodedata.combining(sign))
    return " ".join(re.findall(r"\w+", plain.replace("_", " ")))


def whole_number(text: str) -> int | None:
    """Return the whole number a cell holds, or None. Blanks between groups of three digits are read over.

    A decimal part other than “.0” is refused, and so is any comma: “1,000” means one to some and a
    thousand to others.

    >>> whole_number("1 200"), whole_number("12.0"), whole_number("-3"), whole_number("1,000")
    (1200, 12, -3, None)
    """
    found = WHOLE.fullmatch(GROUPS.sub("", text.strip()))
    return int(found[1]) if found else None


def day(text: str) -> date | None:
    """Return the day a cell holds, or None: year-month-day, or day/month/year with / . or -.

    >>> day("2025-09-14") == day("14/09/2025") == day("14.9.2025") == date(2025, 9, 14)
    True
    >>> day("09/14/2025") is None
    True
    """
    text = text.strip().removesuffix(" 00:00:00")
    for form in DAY_FORMATS:
        try:
            return datetime.strptime(text, form).date()  # noqa: DTZ007  (a day has no zone)
        except ValueError:
            continue
    return None
