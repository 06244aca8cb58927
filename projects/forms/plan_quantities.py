"""What decides how deliveries are spread; read from the address, so nothing is stored."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects.calc.lot_clock import limit_for
from projects.forms.fields import CountField
from projects.models import StockType

DAYS_A_WEEK = 5  # common practice


class DeliveriesForm(forms.Form):
    """Planting days of a week, and how long each stock type of the plan can wait."""

    days_a_week = CountField(
        label=gettext_lazy("Days a week on which the crew plants"),
        required=False,
        min_value=1,
        max_value=7,
        help_text=gettext_lazy("5 is common practice; fewer where weather takes days away."),
    )

    def __init__(self, stock_types: list[str], data: Any) -> None:
        labels = dict(StockType.choices)
        self.stock_types = sorted(stock_types)
        usual = {self._name(name): limit_for(name) or "" for name in self.stock_types}
        super().__init__({"days_a_week": DAYS_A_WEEK} | usual | {key: data[key] for key in data})
        for name in self.stock_types:
            self.fields[self._name(name)] = CountField(
                label=_("Days %(stock)s can wait out of the ground") % {"stock": str(labels[name]).lower()},
                required=False,
                min_value=1,
                max_value=365,
                help_text=_("7 is common practice, out of cold store or heel-in.")
                if limit_for(name)
                else _("Empty: no limit is known; keep it watered and in the shade."),
            )

    @staticmethod
    def _name(stock_type: str) -> str:
        return f"wait_{stock_type}"

    def days(self) -> int:
        """Planting days of a week; the usual ones where the form has a problem."""
        return (self.cleaned_data.get("days_a_week") if self.is_valid() else None) or DAYS_A_WEEK

    def waits(self) -> dict[str, int | None]:
        """Days each stock type can wait, None without a limit."""
        if not self.is_valid():
            return {name: limit_for(name) for name in self.stock_types}
        return {name: self.cleaned_data.get(self._name(name)) for name in self.stock_types}
