"""What the comparison of stock types rests on beside prices and counts; read from the address, nothing is stored."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects.access import Actor
from projects.forms.fields import CountField, MeasureField, MoneyField
from projects.forms.stock import choosable_species
from projects.models import StockType
from projects.selectors.stock_choices import Wishes
from projects.stock_words import FACTS

WEEKS = 20  # of a first dry season; common practice


class StockChoicesForm(forms.Form):
    """A species, what a person's day costs, and rates by stock type."""

    species = forms.ModelChoiceField(queryset=None, to_field_name="slug", label=gettext_lazy("Species"))
    day_cost = MoneyField(
        label=gettext_lazy("What one person's day costs"),
        required=False,
        help_text=gettext_lazy("Empty: planting is left out of the cost."),
    )
    weeks = CountField(
        label=gettext_lazy("Weeks of watering in the first season"),
        required=False,
        max_value=52,
        help_text=gettext_lazy("20 is common practice."),
    )

    def __init__(self, actor: Actor, currency: str, data: Any) -> None:
        self.currency = currency
        super().__init__({"weeks": WEEKS} | {key: data[key] for key in data} if data else None)
        self.fields["species"].queryset = choosable_species(actor)
        self.fields["species"].empty_label = _("Choose a species")
        for name, label in StockType.choices:
            facts = FACTS[name]
            self.fields[f"rate_{name}"] = CountField(
                label=_("%(stock)s: plants one person plants in a day") % {"stock": label}, required=False,
                min_value=1, max_value=100_000,
                help_text=_("Empty: %(n)s, %(source)s.") % {"n": facts.rate, "source": facts.rate_source},
            )  # fmt: skip
            if facts.calliper_cm is not None:
                self.fields[f"calliper_{name}"] = MeasureField(
                    label=_("%(stock)s: trunk diameter in cm") % {"stock": label}, required=False,
                    min_value=0, max_value=40,
                    help_text=_("Empty: %(n)s, common practice.") % {"n": f"{facts.calliper_cm:g}"},
                )  # fmt: skip

    def clean_day_cost(self) -> int | None:
        minor = MoneyField.settle(self.cleaned_data.get("day_cost"), self.currency)
        if minor is not None and minor < 0:
            raise forms.ValidationError(_("An amount cannot be negative."))
        return minor

    def main_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in ("species", "day_cost", "weeks")]

    def more_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith(("rate_", "calliper_"))]

    def wishes(self) -> Wishes:
        """What was given, once the form is in order."""
        given = self.cleaned_data

        def by_type(prefix: str) -> dict[str, Any]:
            found = {name: given.get(f"{prefix}_{name}") for name in StockType.values}
            return {name: value for name, value in found.items() if value}

        weeks = given.get("weeks")
        return Wishes(
            given["day_cost"], by_type("rate"), by_type("calliper"), WEEKS if weeks is None else weeks
        )
