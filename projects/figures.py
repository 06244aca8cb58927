"""Figures in words: numbers, measures, money and dates as pages, mails and reports write them.

Digits are grouped by a narrow no-break space in every language (as ISO 80000-1 does), so that a figure quoted
from an English page into a Portuguese one cannot change its size; only the decimal sign follows the language.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Context, Decimal
from typing import Literal

from django.utils import formats
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

THIN = "\u202f"  # between groups of three digits
NO_BREAK = "\u00a0"  # between a number and its unit
MINUS = "\u2212"
NO_FIGURE = "–"

Units = Literal["metric", "us"]
Number = int | float | Decimal

# Exact by definition (international yard and pound, 1959; acre = 4840 square yards).
ACRES_PER_HECTARE = Decimal(10_000) / (Decimal("0.9144") ** 2 * 4840)
FEET_PER_METRE = 1 / Decimal("0.3048")
INCHES_PER_CENTIMETRE = 1 / Decimal("2.54")

# ISO 4217: currencies whose minor unit is not a hundredth.
WHOLE = (
    "BIF",
    "CLP",
    "DJF",
    "GNF",
    "ISK",
    "JPY",
    "KMF",
    "KRW",
    "PYG",
    "RWF",
    "UGX",
    "VND",
    "VUV",
    "XAF",
    "XOF",
    "XPF",
)
THOUSANDTHS = ("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND")
MINOR_DIGITS = dict.fromkeys(WHOLE, 0) | dict.fromkeys(THOUSANDTHS, 3)

WIDE = Context(prec=400)  # any float in full, so that no stored number keeps a page from opening


def rounded(number: Number, places: int) -> Decimal:
    """Round half away from zero, as people do; floats are taken at their shortest printed form."""
    step = Decimal(1).scaleb(-places)
    value = Decimal(str(number)).quantize(step, rounding=ROUND_HALF_UP, context=WIDE)
    return abs(value) if value == 0 else value


def quantity(number: Number | None, places: int = 0) -> str:
    """A plain number, digits in threes.

    >>> quantity(12640).replace(THIN, "_")
    '12_640'
    >>> quantity(-3)
    '−3'
    """
    if number is None:
        return NO_FIGURE
    value = rounded(number, places)
    whole, _point, decimals = f"{abs(value):,f}".partition(".")
    text = whole.replace(",", THIN)
    if decimals:
        text += formats.get_format("DECIMAL_SEPARATOR") + decimals
    return (MINUS if value < 0 else "") + text


def percent(share: Number | None, places: int = 0) -> str:
    """A share between 0 and 1 as a percentage; a share short of 0 or 1 never rounds to it.

    >>> percent(0.64).replace(NO_BREAK, "_")
    '64_%'
    >>> percent(0.9999).replace(NO_BREAK, "_")
    '>99_%'
    """
    if share is None:
        return NO_FIGURE
    return _together(_("%(number)s %%") % {"number": _percent_number(share, places)})


def _together(text: str) -> str:
    """Keep a number and its unit on one line."""
    return text.replace(" ", NO_BREAK)


def _percent_number(share: Number, places: int) -> str:
    step = Decimal(1).scaleb(-places)
    value = rounded(Decimal(str(share)) * 100, places)
    if value >= 100 and share < 1:
        return ">" + quantity(100 - step, places)
    if value <= 0 < share:
        return "<" + quantity(step, places)
    return quantity(value, places)


def interval_words(
    lower: Number | None, upper: Number | None, unit: str = "percent", units: Units = "metric"
) -> str:
    """The limits in one breath, their unit said once: "55 to 72 %"."""
    if lower is None or upper is None:
        return _("no interval")
    if unit == "percent":
        low, high = _percent_number(lower, 0), percent(upper)
    else:
        low, high = _in_units(lower, unit, units), with_unit(upper, unit, units)
    return _("%(lower)s to %(upper)s") % {"lower": low, "upper": high}


@dataclass(frozen=True)
class Measure:
    """How one stored metric unit is written, and its US customary counterpart."""

    metric: str
    us: str
    factor: Decimal
    places: int
    us_places: int


MEASURES: dict[str, Measure] = {
    "ha": Measure(gettext_noop("%s ha"), gettext_noop("%s acres"), ACRES_PER_HECTARE, 2, 1),
    "m": Measure(gettext_noop("%s m"), gettext_noop("%s ft"), FEET_PER_METRE, 1, 1),
    "m_whole": Measure(gettext_noop("%s m"), gettext_noop("%s ft"), FEET_PER_METRE, 0, 0),
    "cm": Measure(gettext_noop("%s cm"), gettext_noop("%s in"), INCHES_PER_CENTIMETRE, 0, 1),
    "per_ha": Measure(gettext_noop("%s per ha"), gettext_noop("%s per acre"), 1 / ACRES_PER_HECTARE, 0, 0),
    "count": Measure("%s", "%s", Decimal(1), 0, 0),
}


def _in_units(number: Number, unit: str, units: Units) -> str:
    measure = MEASURES[unit]
    if units == "us":
        return quantity(Decimal(str(number)) * measure.factor, measure.us_places)
    return quantity(number, measure.places)


def with_unit(number: Number | None, unit: str, units: Units = "metric") -> str:
    """A stored (metric) measure with its unit, in the organisation's units.

    >>> with_unit(2.5, "ha").replace(NO_BREAK, "_")
    '2.50_ha'
    >>> with_unit(2.5, "ha", "us").replace(NO_BREAK, "_")
    '6.2_acres'
    """
    if number is None:
        return NO_FIGURE
    if unit == "percent":
        return percent(number)
    words = MEASURES[unit].us if units == "us" else MEASURES[unit].metric
    return _together(_(words) % _in_units(number, unit, units))


def money(minor: int | None, currency: str) -> str:
    """An amount kept in minor units, with its ISO 4217 code.

    >>> money(123450, "EUR")
    'EUR\\xa01\\u202f234.50'
    >>> money(5000, "KES"), money(5000, "UGX")
    ('KES\\xa050.00', 'UGX\\xa05\\u202f000')
    """
    if minor is None:
        return NO_FIGURE
    places = MINOR_DIGITS.get(currency, 2)
    return f"{currency}{NO_BREAK}{quantity(Decimal(minor).scaleb(-places), places)}"


def trees(number: int | None) -> str:
    """A number of trees.

    >>> trees(1).replace(NO_BREAK, "_"), trees(342).replace(NO_BREAK, "_")
    ('1_tree', '342_trees')
    """
    if number is None:
        return NO_FIGURE
    return _together(ngettext("%(number)s tree", "%(number)s trees", number) % {"number": quantity(number)})


def plots(number: int | None) -> str:
    """A number of survival plots."""
    if number is None:
        return NO_FIGURE
    return _together(ngettext("%(number)s plot", "%(number)s plots", number) % {"number": quantity(number)})


def day(when: date | None) -> str:
    """A day as forms and headings write it: "25 November 2026"."""
    return NO_FIGURE if when is None else formats.date_format(when, _("j F Y"))


def short_day(when: date | None) -> str:
    """A day as lists write it, with its weekday: "Fri 27 Nov 2026"."""
    return NO_FIGURE if when is None else formats.date_format(when, _("D j M Y"))


def span(starts: date | None, ends: date | None) -> str:
    """Two days as one span, what they share said once: "8 February to 14 March 2027"."""
    if starts is None or ends is None or starts == ends:
        return day(starts or ends)
    if starts.year != ends.year:
        first = _("j F Y")
    elif starts.month != ends.month:
        first = _("j F")
    else:
        first = _("j")
    return _("%(starts)s to %(ends)s") % {"starts": formats.date_format(starts, first), "ends": day(ends)}
