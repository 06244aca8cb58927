"""Lay out a plot, set its baseline, give a phone a pass."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from monitoring import access
from monitoring.models import BaselineSource, RoundStatus, Selection, Shape, SurveyRound, SurvivalPlot
from projects.access import Actor, visible_projects
from projects.forms.fields import CountField, DayField, MeasureField
from projects.models import Block, Cohort, Holding, Membership, Person, Project, Role, Unit
from projects.versions import token
from species.models import Species

PLOT_FIELDS = (
    "name", "shape", "radius_m", "length_m", "width_m", "spots", "slope_percent", "latitude", "longitude",
    "holding", "selection_method", "seed", "plot_weight", "is_permanent", "directions",
)  # fmt: skip


class PlotForm(forms.Form):
    """One plot of a block."""

    name = forms.CharField(
        label=_("Name"), max_length=40, help_text=_("As it stands on the card, for example N7.")
    )
    shape = forms.ChoiceField(label=_("Shape"), choices=Shape.choices)
    radius_m = MeasureField(
        label=_("Radius in metres"),
        required=False,
        help_text=_("For circles: the horizontal radius. 5.64 m makes 100 square metres."),
    )
    length_m = MeasureField(label=_("Length in metres"), required=False, help_text=_("For rectangles."))
    width_m = MeasureField(label=_("Width in metres"), required=False, help_text=_("For rectangles."))
    spots = CountField(
        label=_("Planting spots"),
        required=False,
        min_value=1,
        help_text=_("For rows: how many spots in a line."),
    )
    slope_percent = MeasureField(label=_("Slope in per cent"), required=False, min_value=0, max_value=300)
    latitude = MeasureField(label=_("Latitude"), required=False, min_value=-90, max_value=90)
    longitude = MeasureField(label=_("Longitude"), required=False, min_value=-180, max_value=180)
    holding = forms.ModelChoiceField(Holding.objects.none(), label=_("Holding"), required=False)
    selection_method = forms.ChoiceField(
        label=_("How the place was chosen"),
        choices=Selection.choices,
        help_text=_("Only plots drawn at random stand for the whole block."),
    )
    seed = CountField(
        label=_("Random seed of the draw"),
        required=False,
        help_text=_("So that anyone can draw the same points."),
    )
    plot_weight = MeasureField(
        label=_("Weight"),
        required=False,
        help_text=_("Only where plots stand for different numbers of trees."),
    )
    is_permanent = forms.BooleanField(label=_("Marked to be found again"), required=False, initial=True)
    directions = forms.CharField(label=_("How to find it"), max_length=300, required=False)
    version = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, block: Block, plot: SurvivalPlot | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        holding: Any = self.fields["holding"]
        holding.queryset = block.holdings.all()
        if not holding.queryset.exists():
            del self.fields["holding"]
        if plot is not None:
            self.initial = {name: getattr(plot, name) for name in PLOT_FIELDS} | {"version": token(plot)}


class BaselineForm(forms.Form):
    """How many of one species were planted in a plot."""

    species = forms.ModelChoiceField(
        Species.objects.none(), label=_("Species"), error_messages={"required": _("Choose the species.")}
    )
    cohort = forms.ModelChoiceField(
        Cohort.objects.none(),
        label=_("Cohort"),
        required=False,
        help_text=_("Lot and season. Leave empty where lots were mixed in the row."),
    )
    planted = CountField(
        label=_("Planted in this plot"),
        min_value=0,
        required=False,
        help_text=_("Leave empty if nobody counted."),
    )
    unit = forms.ChoiceField(label=_("Counted as"), choices=Unit.choices)
    source = forms.ChoiceField(label=_("Where the number comes from"), choices=BaselineSource.choices)
    counted_on = DayField(label=_("Counted on"))

    def __init__(self, *args: Any, plot: SurvivalPlot, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: Any = self.fields
        cohorts = Cohort.objects.filter(block=plot.block).select_related("species", "lot", "season")
        fields["cohort"].queryset = cohorts
        fields["species"].queryset = access.visible_species(plot.organisation).order_by("scientific_name")


class PassForm(forms.Form):
    """A pass for one person's phone."""

    person = forms.ModelChoiceField(
        Person.objects.none(),
        label=_("For whom"),
        required=False,
        help_text=_("Somebody who has a place here already, or write a name below."),
    )
    person_name = forms.CharField(
        label=_("Or a new name"),
        max_length=200,
        required=False,
        help_text=_("A role will do: “Volunteer 3”."),
    )
    label = forms.CharField(label=_("Which phone"), max_length=120, required=False)
    rounds = forms.ModelMultipleChoiceField(
        SurveyRound.objects.none(),
        label=_("Rounds it may add counts to"),
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )
    projects = forms.ModelMultipleChoiceField(
        Project.objects.none(),
        label=_("May also record hand-overs, walks and care in"),
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text=_(
            "For these it works as a field lead of the project would; it sees lots, blocks and open care."
        ),
    )
    valid_days = CountField(label=_("Days it stays valid"), min_value=1, max_value=400, initial=120)

    def __init__(self, *args: Any, actor: Actor, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: Any = self.fields
        people = Person.objects.filter(organisation=actor.organisation, erased_at__isnull=True)
        funders = Membership.objects.filter(role=Role.FUNDER, ended_at__isnull=True)
        people = people.exclude(id__in=funders.values("person_id"))
        fields["person"].queryset = people.order_by("name")
        fields["person"].empty_label = _("somebody new, named below")
        rounds = access.visible_rounds(actor).filter(status=RoundStatus.OPEN)
        fields["rounds"].queryset = rounds.select_related("project")
        fields["rounds"].label_from_instance = lambda row: f"{row.project} · {row.name}"
        fields["projects"].queryset = visible_projects(actor).filter(archived_at__isnull=True)
