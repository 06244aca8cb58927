"""The form of seedlings given out to a list of holdings."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from projects.forms.fields import CountField, DayField
from projects.models import Holding
from projects.selectors.giving_out import Given


class GiveOutForm(forms.Form):
    """A day, and a number beside each holding."""

    form = forms.UUIDField(widget=forms.HiddenInput)
    moved_on = DayField(label=gettext_lazy("Given out on"))
    note = forms.CharField(label=gettext_lazy("Note"), max_length=300, required=False)

    def __init__(self, rows: list[Given], *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.holdings = {str(row.holding.uid): row.holding for row in rows}
        for uid, holding in self.holdings.items():
            self.fields[uid] = CountField(label=holding.label, required=False)

    def shares(self) -> list[tuple[Holding, int]]:
        """What each holding was given, those without a number left out."""
        told = ((holding, self.cleaned_data.get(uid)) for uid, holding in self.holdings.items())
        return [(holding, number) for holding, number in told if number]

    def rows(self) -> list[tuple[Holding, Any]]:
        """Each holding with its field."""
        return [(holding, self[uid]) for uid, holding in self.holdings.items()]
