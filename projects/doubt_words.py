"""What is odd about a record of field work from a phone, in words."""

from django.utils.translation import gettext_lazy as _

DOUBTS = {
    "future_date": _("dated in the future; put down as of the day it came"),
    "before_lifting": _("looked at before the plants were lifted"),
    "odd_temperature": _("an unlikely temperature"),
    "no_reason": _("no reason given for the verdict"),
    "put_away": _("the lot or block was put away meanwhile"),
    "done_already": _("the task was said to be done before"),
    "dropped_already": _("the task had been dropped"),
    "not_later": _("the new day is not later, so the task was not put off"),
    "clock_skew": _("the phone's clock was off"),
}
