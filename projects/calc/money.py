"""Money as integer minor units of one ISO 4217 currency."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation


def minor_units(text: str, digits: int) -> int:
    """Read an amount as people type it and return integer minor units.

    Parameters
    ----------
    text : str
        Digits with one decimal point or comma; spaces between groups of digits are allowed.
    digits : int
        Decimal digits of the currency's minor unit. [digits]

    Returns
    -------
    int
        Amount. [minor units]

    Raises
    ------
    ValueError
        ``"not_an_amount"`` or ``"too_fine"``.

    Examples
    --------
    >>> minor_units("12.50", 2), minor_units("1 234,5", 2), minor_units("5000", 0)
    (1250, 123450, 5000)
    """
    plain = "".join(text.split()).replace("\u202f", "")
    if plain.count(",") + plain.count(".") > 1:
        raise ValueError("not_an_amount")
    try:
        amount = Decimal(plain.replace(",", "."))
    except InvalidOperation:
        raise ValueError("not_an_amount") from None
    if not amount.is_finite() or "e" in plain.lower():
        raise ValueError("not_an_amount")
    minor = amount.scaleb(digits)
    if minor != minor.to_integral_value():
        raise ValueError("too_fine")
    return int(minor)


def major_text(minor: int, digits: int) -> str:
    """Return minor units as a form shows them.

    Examples
    --------
    >>> major_text(1250, 2), major_text(5000, 0)
    ('12.50', '5000')
    """
    return f"{Decimal(minor).scaleb(-digits):f}"
