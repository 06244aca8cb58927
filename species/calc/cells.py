"""What people write into the cells of a table: decimal numbers, and texts a spreadsheet must not take for formulas."""

import re
from decimal import Decimal

RISKY = ("=", "+", "-", "@", "\t", "\r", "\x00")
GROUPS = re.compile("(?<=[0-9])[ \u00a0\u202f](?=[0-9]{3})")
DECIMAL = re.compile(r"[+-]?[0-9]{1,12}([.,][0-9]{1,12})?")
PERHAPS_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}")


def harmless(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula: one that could be gets an apostrophe before it.

    A text that begins with an apostrophe gets one too, so that `as_meant` always gives the text back.

    >>> harmless("=1+1"), harmless("oak")
    ("'=1+1", 'oak')
    """
    return f"'{text}" if text.startswith((*RISKY, "'")) else text


def as_meant(text: str) -> str:
    """Return a text without the apostrophe that `harmless` put before it.

    >>> as_meant("'=1+1"), as_meant("'tis"), as_meant(harmless("'tis"))
    ('=1+1', "'tis", "'tis")
    """
    return text[1:] if text.startswith("'") and text[1:].startswith((*RISKY, "'")) else text


def is_formula(text: str) -> bool:
    """Say whether a spreadsheet would compute this cell.

    >>> is_formula("=B2+C2"), is_formula("'=B2"), is_formula("-3")
    (True, False, False)
    """
    return text.startswith("=")


def decimal_number(text: str) -> Decimal | None:
    """Return the number a cell holds, or None where it holds none, or one that could be read in two ways.

    5,5 and 5.5 are the same, and blanks between groups of three digits are read over. “1,000” is a thousand to
    some and one to others, so it is refused; “0,125” and “1.000” can only be decimals as this table writes them.

    Parameters
    ----------
    text : a cell, no unit.

    >>> decimal_number("5,5"), decimal_number(" 1 200 "), decimal_number("\u221212.5"), decimal_number("0,125")
    (Decimal('5.5'), Decimal('1200'), Decimal('-12.5'), Decimal('0.125'))
    >>> [decimal_number(text) for text in ("1,000", "1e3", "NaN", "about 5", "")]
    [None, None, None, None, None]
    """
    plain = GROUPS.sub("", text.strip()).replace("\u2212", "-")
    if not (plain.isascii() and DECIMAL.fullmatch(plain)) or PERHAPS_THOUSANDS.fullmatch(plain):
        return None
    return Decimal(plain.replace(",", "."))


def plain_number(value: Decimal) -> str:
    """Return a number as files write it: a point, no trailing zeros.

    >>> plain_number(Decimal("600.000")), plain_number(Decimal("5.50")), plain_number(Decimal(-12))
    ('600', '5.5', '-12')
    """
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
