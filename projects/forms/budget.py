"""The form of one line of a project's budget."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from projects import access
from projects.access import Actor
from projects.forms.fields import DayField, MoneyField, PercentField, number_input, settle_money
from projects.forms.versioned import VersionedForm
from projects.models import BudgetLine, Project


class RateField(forms.DecimalField):
    """A rate of exchange; 0,92 and 0.92 are the same."""

    default_error_messages = {"invalid": _("Write a number, such as 0.92.")}

    def __init__(self, **options: Any) -> None:
        super().__init__(**{"max_digits": 14, "decimal_places": 6, "widget": number_input(), **options})

    def to_python(self, value: Any) -> Decimal | None:
        return super().to_python(value.replace(",", ".").strip() if isinstance(value, str) else value)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {}


class SetAsideForm(VersionedForm):
    """The share set aside for the unforeseen."""

    contingency_share = PercentField(
        label=_("Set aside for the unforeseen, % of everything planned"),
        help_text=_(
            "10 is common practice; ask what your funder allows. It stands in a row of its own and is never "
            "hidden in a line."
        ),
    )

    class Meta:
        model = Project
        fields = ["contingency_share"]


class PlanCostsForm(forms.Form):
    """What a day of planting costs, to put a plan's costs into the budget."""

    day_cost = MoneyField(
        label=_("Cost of one person for a day of planting"),
        help_text=_("Pay, food and travel; 0 where nobody is paid."),
    )
    currency = forms.CharField(label=_("Currency"), max_length=3, help_text=_("Three letters, such as EUR."))

    def clean(self) -> dict[str, Any]:
        return settle_money(self, super().clean() or self.cleaned_data, "day_cost")


class BudgetLineForm(VersionedForm):
    """What money is for, in which season, how much is planned and how much is spent."""

    planned = MoneyField(
        label=_("Planned"), required=False, help_text=_("In whole units, such as 4200 or 4200.50.")
    )
    spent = MoneyField(label=_("Spent so far"), required=False)
    currency = forms.CharField(label=_("Currency"), max_length=3, help_text=_("Three letters, such as EUR."))
    exchange_rate = RateField(
        label=_("Rate of exchange"),
        required=False,
        help_text=_(
            "Only for a line in another currency than the project's: what one unit of it is worth in the "
            "project's. Without it the line is left out of totals, and they say so."
        ),
    )
    exchange_rate_on = DayField(label=_("Day of that rate"), required=False)

    class Meta:
        model = BudgetLine
        fields = [
            "kind", "what", "season", "block", "planned", "spent", "currency", "exchange_rate", "exchange_rate_on",
        ]  # fmt: skip
        labels = {"season": _("Season"), "block": _("Block")}

    def __init__(self, actor: Actor, project: Project, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["season"].queryset = access.visible_seasons(actor)
        self.fields["season"].empty_label = _("no season in particular")
        self.fields["block"].queryset = access.visible_blocks(actor).filter(project=project)
        self.fields["block"].empty_label = _("the whole project")
        for name in ("planned", "spent"):
            held = getattr(self.instance, f"{name}_minor")
            self.initial[name] = MoneyField.shown(held, self.instance.currency) if self.instance.pk else ""
        if not self.instance.pk:
            self.initial["currency"] = project.currency

    def clean(self) -> dict[str, Any]:
        values = settle_money(self, super().clean() or self.cleaned_data, "planned", "spent")
        for name in ("planned_minor", "spent_minor"):
            values[name] = values.get(name) or 0
        return values
