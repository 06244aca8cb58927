"""Input of the species pages."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from species.countries import country_name
from species.models import RangeStatus


class SpeciesFilterForm(forms.Form):
    """Search words and a place; every field may stay empty."""

    q = forms.CharField(
        label=_("Name, in any language"), max_length=160, required=False, widget=forms.SearchInput
    )
    country = forms.ChoiceField(label=_("Country"), required=False)
    status = forms.ChoiceField(label=_("Status there"), choices=RangeStatus.Status.choices, required=False)

    def __init__(self, *args: Any, countries: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["country"].choices = [
            ("", _("any country")),
            *((code, country_name(code)) for code in countries),
        ]
