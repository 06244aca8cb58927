"""Days on which something can have become of a lot."""

from datetime import date

from django.utils.translation import gettext as _

from projects import clocks
from projects.errors import Refusal
from projects.models import StockLot


def check_day(lot: StockLot, day: date, field: str) -> None:
    """Refuse a day before the lot came or after today."""
    if day < lot.received_on:
        raise Refusal(
            _("The lot came on %(day)s, so this cannot be earlier. Check the day, or correct the lot.")
            % {"day": lot.received_on},
            field=field,
            code="before_received",
        )
    check_not_future(lot, day, field)


def check_not_future(lot: StockLot, day: date, field: str) -> None:
    """Refuse a day after today."""
    if day > clocks.today_of(lot.organisation):
        raise Refusal(_("This day has not come yet; enter what has happened."), field=field, code="future")
