"""Forms of plans: begin a version, change a draft's seasons and allowances."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from projects import access
from projects.access import Actor
from projects.forms.fields import CountField, PercentField
from projects.forms.versioned import VersionedForm
from projects.models import Plan, Project, SeasonKind


class BeginPlanForm(forms.Form):
    """A new version: what it is called, what for, and what it begins from."""

    title = forms.CharField(
        label=_("Title"),
        max_length=200,
        required=False,
        help_text=_("For example “Winter planting, 3 sites”."),
    )
    note = forms.CharField(
        label=_("What this version is for"), required=False, max_length=5000, widget=forms.Textarea(attrs={"rows": 3})
    )  # fmt: skip
    copy_of = forms.ModelChoiceField(
        label=_("Begin from"), queryset=Plan.objects.none(), required=False, empty_label=_("nothing: an empty plan")
    )  # fmt: skip

    def __init__(self, actor: Actor, project: Project, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        earlier = access.visible_plans(actor).filter(project=project).order_by("-version")
        self.fields["copy_of"].queryset = earlier
        self.fields["copy_of"].label_from_instance = told
        if newest := earlier.first():
            self.initial["copy_of"] = newest.pk
        else:
            del self.fields["copy_of"]


def told(plan: Plan) -> str:
    """A version in a list of choices."""
    words = _("version %(n)s: %(title)s") if plan.title else _("version %(n)s")
    return str(words) % {"n": plan.version, "title": plan.title}


class PlanForm(VersionedForm):
    """A draft's seasons and allowances, the source of each default beside it."""

    assurance = PercentField(
        label=_("How sure to reach the target"), places=3,
        help_text=_(
            "From 50 to 99.9 %. Enough is ordered that the target is reached with this chance. 90 % is common "
            "practice, without a source; a claim to a funder may ask for more."
        ),
    )  # fmt: skip
    cull_share = PercentField(
        label=_("Culled on arrival"),
        help_text=_("Plants thrown out at the hand-over. 3 % is common practice; use what your lots showed."),
    )
    handling_loss_share = PercentField(
        label=_("Lost in handling"),
        help_text=_(
            "Between hand-over and planting. 2 % is common practice; use what your own records show."
        ),
    )
    slack_weeks = CountField(
        label=_("Spare weeks before planting"), max_value=52,
        help_text=_("Kept free between delivery and planting for what goes wrong. 2 is common practice."),
    )  # fmt: skip
    crew_people = CountField(
        label=_("People who plant"), min_value=1, max_value=2000,
        help_text=_("On an ordinary day. 6 is only a beginning: write your own crew."),
    )  # fmt: skip
    trees_per_person_day = CountField(
        label=_("Trees one person plants in a day"), min_value=1, max_value=10_000,
        help_text=_(
            "50 to 200 for volunteers is common practice; 1 000 to 3 000 with a planting bar in prepared ground "
            "by trained people (University of Minnesota, Woodland Stewardship, chapter 4)."
        ),
    )  # fmt: skip

    class Meta:
        model = Plan
        fields = [
            "title", "note", "season", "second_season", "assurance", "cull_share", "handling_loss_share",
            "slack_weeks", "crew_people", "trees_per_person_day",
        ]  # fmt: skip
        labels = {
            "title": _("Title"), "note": _("What this version is for"), "season": _("Planting season"),
            "second_season": _("Season of the second wave"),
        }  # fmt: skip
        help_texts = {
            "second_season": _("Only where shade-bearing trees follow under nurse trees of the first wave.")
        }

    def __init__(self, actor: Actor, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        seasons = access.visible_seasons(actor).filter(kind=SeasonKind.PLANTING).order_by("-starts_on")
        for name, nothing in (("season", _("not decided")), ("second_season", _("no second wave"))):
            self.fields[name].queryset = seasons
            self.fields[name].empty_label = nothing
        self.fields["note"].widget.attrs["rows"] = 3

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        for name in ("assurance", "cull_share", "handling_loss_share"):
            if values.get(name) is not None:
                values[name] = float(values[name])
        return values
