"""Small forms of the list of things to decide, the weekly letter and calendar addresses."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects.access import Actor
from projects.models import Membership
from projects.selectors.reminder_owners import current_members


class SnoozeForm(forms.Form):
    """Until when a reminder may wait."""

    until_on = forms.DateField(
        label=gettext_lazy("Not before"),
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        error_messages={"invalid": gettext_lazy("Write the day as year-month-day.")},
    )
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=200, required=False)

    def first_problem(self) -> str:
        """Return one sentence for the message line."""
        for messages in self.errors.values():
            return str(messages[0])
        return _("Choose a day after today.")


class OwnerForm(forms.Form):
    """Who sees to a reminder; nobody chosen gives it back to whoever it falls to by itself."""

    membership = forms.ModelChoiceField(
        Membership.objects.none(),
        to_field_name="uid",
        required=False,
        error_messages={
            "invalid_choice": gettext_lazy("This person is no member here any more. Choose another.")
        },
    )

    def __init__(self, actor: Actor, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["membership"].queryset = current_members(actor.organisation)

    def first_problem(self) -> str:
        """Return one sentence for the message line."""
        return next((str(messages[0]) for messages in self.errors.values()), "")


class LetterForm(forms.Form):
    """Whether a member wants the weekly letter."""

    wanted = forms.BooleanField(label=gettext_lazy("Send me the weekly letter"), required=False)


class CalendarForm(forms.Form):
    """A calendar address to make."""

    label = forms.CharField(
        label=gettext_lazy("For which calendar"),
        max_length=120,
        help_text=gettext_lazy("A word to know it by, such as the phone or the computer it is for."),
        error_messages={"required": gettext_lazy("Say which calendar the address is for.")},
    )
    only_mine = forms.BooleanField(label=gettext_lazy("Only what I see to"), required=False)
