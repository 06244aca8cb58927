"""Forms about projects, sites, blocks, holdings and seasons."""

import json
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from projects import access
from projects.access import Actor
from projects.forms.boundaries import HOW, boundary_box, file_box, text_of_file
from projects.forms.fields import (
    CountField,
    CountryField,
    DayField,
    MeasureField,
    MoneyField,
    PercentField,
    ZoneField,
)
from projects.forms.versioned import VersionedForm
from projects.models import Block, BlockGround, Holding, Project, Season, SeasonKind, Site


class ProjectForm(VersionedForm):
    """Why trees are planted, for whom, and what counts as having worked."""

    target_survival = PercentField(
        label=_("Target survival, %"), help_text=_("Living of planted, at the age of the check.")
    )
    check_age_seasons = CountField(
        label=_("Age of the check, in completed growing seasons"),
        min_value=1,
        max_value=50,
        help_text=_("Before this age figures are “so far” and give no outcome."),
    )
    check_age_months = CountField(label=_("The same age in months"), min_value=1, max_value=600)
    target_stocking_per_ha = CountField(
        label=_("Target living trees per hectare"), required=False, min_value=1
    )
    replanting_level = PercentField(
        label=_("Confidence for replanting decisions, %"),
        places=3,
        help_text=_("One-sided. Common practice: 90."),
    )
    claim_level = PercentField(
        label=_("Confidence for claims to funders, %"),
        places=3,
        help_text=_("One-sided. Common practice: 95."),
    )
    min_plots_per_species = CountField(
        label=_("Plots a species must stand in to be compared"), min_value=2, max_value=1000
    )
    currency = forms.CharField(label=_("Currency"), max_length=3, help_text=_("Three letters, such as EUR."))
    budget = MoneyField(
        label=_("Budget"), required=False, help_text=_("In whole units, such as 12500 or 12500.50.")
    )

    class Meta:
        model = Project
        fields = [
            "name", "purpose", "funder_name", "target_survival", "check_age_seasons", "check_age_months",
            "target_stocking_per_ha", "replanting_level", "claim_level", "min_plots_per_species", "currency",
            "has_baseline",
        ]  # fmt: skip
        help_texts = {
            "has_baseline": _(
                "Untick for a project that joins after planting: only stocking can be estimated then."
            )
        }
        widgets = {"purpose": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.order_fields([*self.Meta.fields[:-1], "budget", "has_baseline"])
        self.initial.setdefault(
            "budget", MoneyField.shown(self.instance.budget_minor, self.instance.currency)
        )

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        values["currency"] = values.get("currency", "").strip().upper()
        try:
            values["budget_minor"] = MoneyField.settle(values.pop("budget", None), values["currency"])
        except forms.ValidationError as wrong:
            self.add_error("budget", wrong)
        return values


class SiteForm(VersionedForm):
    """A site; the boundary is drawn on the map or pasted as GeoJSON."""

    country_code = CountryField(label=_("Country"))
    time_zone = ZoneField(label=_("Time zone"), help_text=_("The day of a visit is counted on this clock."))
    elevation_m = forms.IntegerField(
        label=_("Elevation in metres"),
        required=False,
        min_value=-500,
        max_value=9000,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )
    boundary = boundary_box(_("Boundary"), HOW)
    boundary_file = file_box()
    lies_there = forms.BooleanField(label=_("The boundary does lie there"), required=False)

    field_order = ["name", "country_code", "region", "time_zone", "boundary", "boundary_file", "lies_there"]

    class Meta:
        model = Site
        fields = [
            "name", "country_code", "region", "time_zone", "boundary", "elevation_m", "emergency_contact",
            "access_notes", "description",
        ]  # fmt: skip
        widgets = {
            "description": forms.Textarea(attrs={"rows": 3}),
            "access_notes": forms.Textarea(attrs={"rows": 2}),
        }
        help_texts = {
            "emergency_contact": _("Crews see it on the phone. No number is built in: ask locally."),
        }

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if self.instance.boundary:
            self.initial["boundary"] = geojson_text(self.instance.boundary)
        if not self.is_bound:
            del self.fields["lies_there"]  # asked only of a boundary that looks out of place

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        text_of_file(self, values, "boundary", "boundary_file")
        return values

    def ask_less(self) -> None:
        """Leave out the question about a boundary out of place where none was found."""
        if not self.has_error("lies_there") and not self.cleaned_data.get("lies_there"):
            del self.fields["lies_there"]


def geojson_text(geometry: dict[str, Any] | None) -> str:
    """Return a geometry as the text area shows it."""
    return json.dumps(geometry, separators=(", ", ": ")) if geometry else ""


class GroundFields(forms.Form):
    """The ground of a block: drawn, or its area stated; and what of it is left out."""

    geometry = boundary_box(_("Boundary"), HOW)
    geometry_file = file_box()
    gross_area_ha = MeasureField(
        label=_("Area in hectares"), required=False, help_text=_("Only where the block is not drawn.")
    )
    exclusions_ha = MeasureField(
        label=_("Left out, in hectares"),
        required=False,
        help_text=_("Tracks, water, rock, open ground. Net area = area − what is left out."),
    )
    valid_from = DayField(label=_("Holds from"), required=False, help_text=_("Empty: today."))

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        text_of_file(self, values, "geometry", "geometry_file")
        return values


class BlockForm(VersionedForm):
    """A block's facts."""

    row_spacing_m = MeasureField(label=_("Distance between rows in metres"), required=False)
    in_row_spacing_m = MeasureField(label=_("Distance in the row in metres"), required=False)
    target_stocking_per_ha = CountField(
        label=_("Target living trees per hectare"),
        required=False,
        min_value=1,
        help_text=_("Empty: the project's target."),
    )

    class Meta:
        model = Block
        fields = [
            "name", "project", "layout", "pattern", "row_spacing_m", "in_row_spacing_m", "target_stocking_per_ha",
            "aspect_note", "hazards",
        ]  # fmt: skip
        widgets = {"hazards": forms.Textarea(attrs={"rows": 2}), "layout": forms.RadioSelect}
        help_texts = {"hazards": _("What a crew must know before walking in.")}

    def __init__(self, actor: Actor, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["project"].empty_label = gettext("Choose a project")
        projects = access.visible_projects(actor)
        kept = self.instance.project_id
        self.fields["project"].queryset = (
            projects.filter(archived_at__isnull=True) | projects.filter(pk=kept)
        ).order_by("name", "id")
        self.fields["layout"].choices = Block._meta.get_field("layout").choices


class NewBlockForm(GroundFields, BlockForm):
    """A block and the first version of its ground."""

    field_order = [
        "name", "project", "layout", "geometry", "geometry_file", "gross_area_ha", "exclusions_ha",
        "valid_from", "pattern", "row_spacing_m", "in_row_spacing_m", "target_stocking_per_ha", "aspect_note",
        "hazards",
    ]  # fmt: skip

    class Meta(BlockForm.Meta):
        pass


class GroundForm(GroundFields):
    """A new version of a block's ground."""

    after = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(label=_("Why the ground changes"), max_length=300, required=False)

    def __init__(self, ground: BlockGround | None, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.initial["after"] = ground.version if ground else 0
        if ground is not None:
            self.initial |= {"geometry": geojson_text(ground.geometry), "exclusions_ha": ground.exclusions_ha}
        if ground is not None and not ground.geometry:
            self.initial["gross_area_ha"] = ground.gross_area_ha


class HoldingForm(VersionedForm):
    """One farm or garden of a block's list."""

    trees_received = CountField(label=_("Trees received"))
    person_name = forms.CharField(
        label=_("Grower"),
        max_length=200,
        required=False,
        help_text=_("Kept with the people; it can be erased there."),
    )
    latitude = MeasureField(label=_("Latitude in degrees"), required=False)
    longitude = MeasureField(label=_("Longitude in degrees"), required=False)

    class Meta:
        model = Holding
        fields = ["label", "trees_received", "person_name", "latitude", "longitude"]

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if self.instance.pk and self.instance.person:
            self.initial["person_name"] = self.instance.person.name


class SeasonForm(VersionedForm):
    """A named span of dates."""

    starts_on = DayField(label=_("From"))
    ends_on = DayField(label=_("To"))

    class Meta:
        model = Season
        fields = ["kind", "label", "starts_on", "ends_on"]
        widgets = {"kind": forms.RadioSelect}
        help_texts = {"label": _("As people say it, such as winter 2025/26.")}

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["kind"].choices = SeasonKind.choices
        if self.instance.pk:
            del self.fields["kind"]
