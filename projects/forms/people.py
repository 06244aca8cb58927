"""Forms about the organisation and its members."""

from typing import Any

from django import forms
from django.conf import settings
from django.utils.translation import gettext_lazy

from projects import access
from projects.access import Actor
from projects.forms.fields import ZoneField
from projects.forms.versioned import VersionedForm
from projects.models import Membership, Organisation, Project, Role


class OrganisationForm(VersionedForm):
    """The organisation's own settings."""

    time_zone = ZoneField(
        label=gettext_lazy("Time zone"),
        help_text=gettext_lazy("Reminders count days on this clock; each site keeps its own."),
    )
    language = forms.ChoiceField(label=gettext_lazy("Language"), choices=settings.LANGUAGES)

    class Meta:
        model = Organisation
        fields = ["name", "time_zone", "currency", "language", "units", "emergency_contact"]
        help_texts = {
            "emergency_contact": gettext_lazy("Shown to crews where a site names no number of its own."),
            "units": gettext_lazy("How measures are shown. They are stored metric."),
        }

    def clean_currency(self) -> str:
        return self.cleaned_data["currency"].strip().upper()


class GrantField(forms.ModelMultipleChoiceField):
    """The projects a member may see."""

    widget = forms.CheckboxSelectMultiple

    def __init__(self, **options: Any) -> None:
        label = gettext_lazy("Projects they see")
        help_text = gettext_lazy(
            "Funders and field volunteers see only these. A field lead with none ticked sees all, "
            "and a manager always does."
        )
        super().__init__(
            queryset=Project.objects.none(), required=False, label=label, help_text=help_text, **options
        )


class InviteForm(forms.Form):
    """Invite somebody by e-mail."""

    name = forms.CharField(label=gettext_lazy("Name"), max_length=200)
    email = forms.EmailField(label=gettext_lazy("E-mail"), max_length=254)
    role = forms.ChoiceField(label=gettext_lazy("Role"), choices=Role.choices, widget=forms.RadioSelect)
    projects = GrantField()

    def __init__(self, actor: Actor, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["projects"].queryset = access.visible_projects(actor).current().order_by("name", "id")


class MemberForm(VersionedForm):
    """Change a member's role and projects."""

    name = forms.CharField(label=gettext_lazy("Name"), max_length=200)
    projects = GrantField()

    class Meta:
        model = Membership
        fields = ["role"]
        widgets = {"role": forms.RadioSelect}

    field_order = ["name", "role", "projects"]

    def __init__(self, actor: Actor, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["role"].choices = Role.choices
        held = self.instance.grants.values_list("project_id", flat=True)
        self.fields["projects"].queryset = access.visible_projects(actor).order_by("name", "id")
        self.initial |= {"name": self.instance.person.name, "projects": list(held)}


class ReasonForm(forms.Form):
    """A few words on why something is taken back."""

    reason = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=300,
        error_messages={"required": gettext_lazy("Say in a few words why; it is kept in the history.")},
    )
