"""Make a season summary; share one with a funder."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from projects import access
from projects.access import Actor
from projects.forms.fields import CountField
from projects.models import Project, Season, SeasonKind


class SummaryForm(forms.Form):
    """Which project, which reporting season."""

    project = forms.ModelChoiceField(
        Project.objects.none(), label=_("Project"), error_messages={"required": _("Choose the project.")}
    )
    season = forms.ModelChoiceField(
        Season.objects.none(),
        label=_("Reporting season"),
        help_text=_("Figures come from the latest survey round of the project in this season."),
        error_messages={"required": _("Choose the season.")},
    )

    def __init__(self, *args: Any, actor: Actor, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: Any = self.fields
        fields["project"].queryset = access.visible_projects(actor).current()
        reporting = access.visible_seasons(actor).filter(kind=SeasonKind.REPORTING)
        fields["season"].queryset = reporting.order_by("-starts_on", "-id")


class ShareForm(forms.Form):
    """For whom a link is, and how long it opens."""

    label = forms.CharField(
        label=_("For whom"), max_length=120, help_text=_("So that you know later which link is whose.")
    )
    days = CountField(
        label=_("Days it stays open"), initial=90, min_value=1, max_value=365, help_text=_("365 at most.")
    )
