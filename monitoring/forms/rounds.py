"""Open and change a survey round; settle a case."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from monitoring.models import Case, SurveyRound
from monitoring.services import cases
from projects import access
from projects.access import Actor
from projects.forms.fields import CountField, DayField
from projects.models import Block, Project, SeasonKind
from projects.versions import token


class RoundForm(forms.Form):
    """A round over blocks of one project."""

    project = forms.ModelChoiceField(
        Project.objects.none(), label=_("Project"), error_messages={"required": _("Choose the project.")}
    )
    name = forms.CharField(
        label=_("Name of the round"), max_length=120, help_text=_("For example “Autumn 2026”.")
    )
    season = forms.ModelChoiceField(Project.objects.none(), label=_("Reporting season"))
    opens_on = DayField(label=_("First day"))
    closes_on = DayField(label=_("Last day"))
    protocol = forms.CharField(
        label=_("Protocol version"),
        max_length=40,
        initial="1",
        help_text=_("Write a new version whenever the crew is told to count differently."),
    )
    second_stage_plots = CountField(
        label=_("Further plots of a second stage"),
        max_value=2000,
        required=False,
        help_text=_(
            "Leave empty unless you plan to look twice: first at these plots, then at this many more if blocks are"
            " not settled. Both looks then need stricter limits, so that together they keep the promised"
            " confidence. It cannot be fixed after the first look without adding to the risk."
        ),
    )
    blocks = forms.ModelMultipleChoiceField(
        Block.objects.none(),
        label=_("Blocks to survey"),
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Every plot in use of these blocks joins the round."),
        error_messages={"required": _("Choose at least one block.")},
    )
    version = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, actor: Actor, survey_round: SurveyRound | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        fields: Any = self.fields
        fields["project"].queryset = access.visible_projects(actor).current()
        fields["season"].queryset = access.visible_seasons(actor).filter(kind=SeasonKind.REPORTING)
        blocks = (
            access.visible_blocks(actor)
            .current()
            .select_related("site", "project")
            .order_by("project", "name")
        )
        fields["blocks"].queryset = blocks.filter(project=survey_round.project) if survey_round else blocks
        fields["blocks"].label_from_instance = lambda block: f"{block.project} · {block.site} · {block.name}"
        if survey_round is not None:
            self.change(survey_round)

    def clean_second_stage_plots(self) -> int:
        return self.cleaned_data["second_stage_plots"] or 0

    def change(self, survey_round: SurveyRound) -> None:
        """Fill the form with a round that exists; its project stays."""
        del self.fields["project"], self.fields["second_stage_plots"]
        names = ("name", "season", "opens_on", "closes_on", "protocol")
        self.initial = {name: getattr(survey_round, name) for name in names}
        self.initial["blocks"] = [row.block_id for row in survey_round.round_blocks.all()]
        self.initial["version"] = token(survey_round)


class CaseForm(forms.Form):
    """How a lead settles a doubt, and why."""

    choice = forms.ChoiceField(
        label=_("What shall count?"),
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose one of the ways to settle this.")},
    )
    reason = forms.CharField(
        label=_("Why"),
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("A few words; they stay with the decision."),
    )

    def __init__(self, *args: Any, case: Case, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chosen: Any = self.fields["choice"]
        chosen.choices = cases.choices(case)
