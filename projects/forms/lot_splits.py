"""Forms of lots split and put together."""

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects import figures
from projects.forms.fields import CountField, DayField
from projects.models import StockLot


class SplitForm(forms.Form):
    """Some plants of a lot become a lot of their own."""

    quantity = CountField(label=gettext_lazy("How many"), min_value=1)
    moved_on = DayField(label=gettext_lazy("When"))
    code = forms.CharField(
        label=gettext_lazy("Code of the new lot"),
        max_length=40,
        help_text=gettext_lazy("Write it on the label of what you set apart."),
    )
    note = forms.CharField(label=gettext_lazy("Note"), max_length=300, required=False)


class MergeForm(SplitForm):
    """What is on hand of several lots becomes one lot."""

    quantity = None
    lots = forms.ModelMultipleChoiceField(
        queryset=StockLot.objects.none(),
        to_field_name="uid",
        label=gettext_lazy("Together with"),
        widget=forms.CheckboxSelectMultiple,
        help_text=gettext_lazy(
            "All that is on hand of each goes over; split off first what is to stay apart."
        ),
        error_messages={"required": gettext_lazy("Choose at least one other lot to put together with.")},
    )
    field_order = ["lots", "moved_on", "code", "note"]

    def __init__(
        self, others: QuerySet[StockLot], at_hand: dict[int, int], *args: Any, **options: Any
    ) -> None:
        super().__init__(*args, **options)
        self.fields["lots"].queryset = others
        self.fields["lots"].label_from_instance = lambda lot: (
            _("%(code)s: %(number)s on hand")
            % {"code": lot.code, "number": figures.quantity(at_hand.get(lot.pk, 0))}
        )
