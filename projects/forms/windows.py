"""A planting window stated by somebody who knows the place."""

from django import forms
from django.utils.translation import gettext_lazy as _

from projects.forms.fields import DayField
from projects.models import StockType


class WindowForm(forms.Form):
    """Stock type, dates, and why."""

    stock_type = forms.ChoiceField(
        label=_("Stock type"), choices=lambda: [("", _("Choose one")), *StockType.choices]
    )
    opens_on = DayField(label=_("First day"))
    closes_on = DayField(label=_("Latest day with time to root"))
    opens_because = forms.CharField(label=_("Why not earlier"), max_length=200, required=False)
    closes_because = forms.CharField(label=_("Why not later"), max_length=200, required=False)
