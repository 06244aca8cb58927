"""Forms of aftercare: what to do in a block and when, and that it was done."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from projects.forms.fields import DayField, MoneyField, settle_money
from projects.forms.versioned import VersionedForm
from projects.models import CareKind, CareTask


class CareTaskForm(VersionedForm):
    """A new care task and the window in which it helps."""

    kind = forms.ChoiceField(
        label=_("Kind of care"), choices=lambda: [("", _("Choose one")), *CareKind.choices]
    )
    what = forms.CharField(
        label=_("What to do"), max_length=200, help_text=_("Such as: cut bracken around the oaks.")
    )
    due_from = DayField(label=_("Helps from"), required=False)
    due_by = DayField(
        label=_("Helps until"), required=False, help_text=_("After this day it is late; home says so.")
    )

    class Meta:
        model = CareTask
        fields = ["kind", "what", "due_from", "due_by"]


class DoneFields(VersionedForm):
    """When a task was done, and its cost."""

    done_on = DayField(label=_("Done on"))
    cost = MoneyField(label=_("What it cost"), required=False, help_text=_("In whole units, such as 120.50."))
    currency = forms.CharField(label=_("Currency"), max_length=3, help_text=_("Three letters, such as EUR."))

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.initial["cost"] = MoneyField.shown(self.instance.cost_minor, self.instance.currency)

    def clean(self) -> dict[str, Any]:
        return settle_money(self, super().clean() or self.cleaned_data, "cost")


class CareDoneForm(DoneFields):
    """That a task was done."""

    class Meta:
        model = CareTask
        fields = ["done_on", "cost", "currency"]


class CareEditForm(CareTaskForm, DoneFields):
    """Everything about a task; emptying the day it was done opens it again."""

    done_on = DayField(label=_("Done on"), required=False, help_text=_("Empty it to open the task again."))
    field_order = ["kind", "what", "due_from", "due_by", "done_on", "cost", "currency"]

    class Meta(CareTaskForm.Meta):
        fields = ["kind", "what", "due_from", "due_by", "done_on", "cost", "currency"]
