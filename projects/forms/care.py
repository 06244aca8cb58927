"""Forms of aftercare: what to do in a block and when, who does it, that it was done, put off or not needed."""

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from projects.access import Actor
from projects.forms.fields import DayField, MeasureField, MoneyField, settle_money
from projects.forms.versioned import VersionedForm
from projects.models import CareKind, CareTask
from projects.selectors.care import people_for
from projects.services.papers import MOST_BYTES


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
    """That a task was done: by whom, with how much, at what cost, and a picture of it."""

    done_by = forms.ModelChoiceField(label=_("Who did it"), queryset=None, required=False)
    amount = MeasureField(label=_("How much"), required=False, min_value=0, max_value=1e9)
    photo = forms.FileField(
        label=_("Photo"), required=False, allow_empty_file=True,
        widget=forms.ClearableFileInput(attrs={"accept": ".jpg,.jpeg,.png"}),
        help_text=_("JPEG or PNG. It is kept without place and camera."),
    )  # fmt: skip
    field_order = ["done_on", "done_by", "amount", "cost", "currency", "photo"]

    class Meta:
        model = CareTask
        fields = ["done_on", "amount", "cost", "currency"]

    def __init__(self, actor: Actor, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if actor.may("care.edit"):  # others are not shown the names of everybody
            self.fields["done_by"].queryset = people_for(actor)
            self.fields["done_by"].empty_label = gettext("whoever says so here")
        else:
            del self.fields["done_by"]
        if self.instance.amount_unit:
            self.fields["amount"].label = gettext("How much, in %(unit)s") % {
                "unit": self.instance.amount_unit
            }
        else:
            del self.fields["amount"]

    def clean_photo(self) -> Any:
        photo = self.cleaned_data["photo"]
        if photo and (photo.size or 0) > MOST_BYTES:
            raise forms.ValidationError(
                gettext("The photo is larger than %(most)s MB. Take it smaller.")
                % {"most": MOST_BYTES // 2**20}
            )
        return photo


class CareEditForm(CareTaskForm, DoneFields):
    """Everything about a task; emptying the day it was done opens it again."""

    done_on = DayField(label=_("Done on"), required=False, help_text=_("Empty it to open the task again."))
    field_order = ["kind", "what", "due_from", "due_by", "done_on", "cost", "currency"]

    class Meta(CareTaskForm.Meta):
        fields = ["kind", "what", "due_from", "due_by", "done_on", "cost", "currency"]


class CareAssignForm(VersionedForm):
    """Who sees to a task."""

    person = forms.ModelChoiceField(
        label=_("Who sees to it"), queryset=None, required=False,
        help_text=_("Volunteers find it among their own tasks and say there that it is done."),
    )  # fmt: skip

    class Meta:
        model = CareTask
        fields: list[str] = []

    def __init__(self, actor: Actor, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["person"].queryset = people_for(actor)
        self.fields["person"].empty_label = gettext("nobody yet")
        self.initial["person"] = self.instance.assigned_to_id


class CarePutOffForm(VersionedForm):
    """A later window, and why."""

    due_from = DayField(
        label=_("Helps from"), required=False, help_text=_("Left empty, the window moves as a whole.")
    )
    due_by = DayField(label=_("Helps until"))
    because = forms.CharField(
        label=_("Why"), max_length=300, help_text=_("Such as: the ground is under water. No names of people.")
    )

    class Meta:
        model = CareTask
        fields: list[str] = []


class CareDropForm(VersionedForm):
    """That a task is not needed, and why."""

    because = forms.CharField(label=_("Why it is not needed"), max_length=300)

    class Meta:
        model = CareTask
        fields: list[str] = []
