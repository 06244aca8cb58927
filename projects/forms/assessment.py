"""Forms of a site assessment: one for each step, for a sample, a circle, an agreement and an override."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from projects import access, readiness_words
from projects import assessment_steps as steps
from projects.access import Actor
from projects.forms.fields import CountField, DayField, MeasureField
from projects.forms.versioned import VersionedForm
from projects.models import Aspect, Consent, ConsentKind, RegenerationCircle, Site, SiteAssessment, SoilSample
from species.traits import DRAINAGES, LIGHTS, TEXTURES

NOT_KNOWN = ("", _("not known"))


def within(lowest: float, highest: float) -> dict[str, Any]:
    """Limits of a measure."""
    return {"min_value": lowest, "max_value": highest}


def text_area(rows: int = 3) -> forms.Textarea:
    return forms.Textarea(attrs={"rows": rows})


def choices(words: Mapping[str, Any]) -> Any:
    """Choices with “not known” first."""
    return lambda: [NOT_KNOWN, *words.items()]


class StepForm(forms.Form):
    """One step of the form; `version` travels along."""

    step: steps.Step
    version = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, site: Site, assessment: SiteAssessment, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        stored = steps.values_of(site, assessment, self.step.fields)
        self.initial = {**stored, "version": steps.version_of(stored)}


class LandForm(StepForm):
    """Land use and vegetation."""

    step = steps.LAND
    visited_on = DayField(label=_("Visited on"), required=False)
    land_use_history = forms.CharField(
        label=_("What the land was used for"),
        required=False,
        widget=text_area(),
        help_text=_("Ploughed, grazed, felled, burnt, mined, built on; and in which years, as far as known."),
    )
    present_vegetation = forms.CharField(label=_("What grows there now"), required=False, widget=text_area())
    competing_vegetation = forms.CharField(
        label=_("What will compete with young trees"),
        required=False,
        widget=text_area(),
        help_text=_("Grass, bracken, bramble, vines, invasive shrubs: which, how tall, how thick."),
    )
    existing_species = forms.CharField(
        label=_("Trees already there"),
        required=False,
        widget=text_area(),
        help_text=_("Which species, whether they fruit, and whether stumps sprout."),
    )
    seed_source_m = MeasureField(
        label=_("Distance to the nearest seed trees in metres"), required=False, **within(0, 200_000)
    )
    seed_source_note = forms.CharField(label=_("Which seed trees"), required=False, max_length=200)


class ShapeForm(StepForm):
    """Aspect, slope, light, dangers."""

    step = steps.SHAPE
    aspect = forms.ChoiceField(
        label=_("The ground faces"), required=False, choices=lambda: [NOT_KNOWN, *Aspect.choices]
    )
    slope_percent = MeasureField(
        label=_("Slope in per cent"),
        required=False,
        help_text=_("Metres of rise in 100 metres across; 100 is 45 degrees."),
        **within(0, 300),
    )
    light = forms.ChoiceField(label=_("Light"), required=False, choices=choices(LIGHTS))
    salinity_ds_per_m = MeasureField(
        label=_("Soil salinity in dS/m"),
        required=False,
        help_text=_("Of a saturated soil extract, where salt is likely."),
        **within(0, 200),
    )
    hazards = forms.CharField(
        label=_("Dangers"),
        required=False,
        widget=text_area(),
        help_text=_(
            "Wells, wires, steep drops, water, animals, falling limbs, munitions. Ask the landholder and the local "
            "authority: this list reminds and approves nothing."
        ),
    )
    emergency_contact = forms.CharField(
        label=_("Emergency number here"),
        required=False,
        max_length=200,
        help_text=_("Crews see it on the phone. No number is built in: ask locally."),
    )


class StopsForm(StepForm):
    """The hard stops that are asked."""

    step = steps.STOPS

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for key in self.step.fields:
            self.fields[key] = forms.ChoiceField(
                label=readiness_words.QUESTIONS[key],
                help_text=readiness_words.WHO_KNOWS[key],
                required=False,
                choices=readiness_words.ANSWERS,
                widget=forms.RadioSelect,
            )


class WantedForm(StepForm):
    """How many young natural trees are wanted, and what a shortfall means."""

    step = steps.CIRCLES
    wanted_regenerants_per_ha = CountField(
        label=_("Young trees wanted on a hectare"),
        required=False,
        min_value=1,
        max_value=1_000_000,
        help_text=_(
            "No number is built in, because published ones count different sizes of plant. Take the one your "
            "forester or your funder asks for."
        ),
    )
    shortfall_is_costly = forms.ChoiceField(
        label=_("Would too few trees cost much?"),
        required=False,
        choices=readiness_words.YES_OR_NO,
        widget=forms.RadioSelect,
        help_text=_("With yes, the advice rests on the lower limit of the count rather than on its mean."),
    )
    held_back = forms.ChoiceField(
        label=_("Does something hold the young trees back?"),
        required=False,
        choices=readiness_words.ANSWERS,
        widget=forms.RadioSelect,
        help_text=_("Weeds, grazing, browsing, fire, cutting."),
    )


STEP_FORMS: dict[str, type[StepForm]] = {
    form.step.key: form for form in (LandForm, ShapeForm, StopsForm, WantedForm)
}


class FindingForm(VersionedForm):
    """What a sample and a circle share: which block of the site they stand for."""

    def __init__(self, actor: Actor, site: Site, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        rows = access.visible_blocks(actor).filter(site=site)
        kept = self.instance.block_id
        self.fields["block"].queryset = (
            rows.filter(archived_at__isnull=True) | rows.filter(pk=kept)
        ).order_by("name", "id")
        self.fields["block"].empty_label = gettext("the whole site")
        self.fields["block"].required = False


class SoilSampleForm(FindingForm):
    """One pit or auger hole."""

    label = forms.CharField(
        label=_("Label"), max_length=60, help_text=_("As on the bag, such as S1."), widget=forms.TextInput
    )
    taken_on = DayField(label=_("Taken on"))
    texture = forms.ChoiceField(
        label=_("Texture"),
        required=False,
        choices=choices(TEXTURES),
        help_text=_("By hand: sandy does not hold together, clayey rolls into a ring."),
    )
    ph = MeasureField(label=_("pH"), required=False, **within(2.5, 10.5))
    organic_matter_percent = MeasureField(
        label=_("Organic matter in per cent"), required=False, **within(0, 100)
    )
    depth_cm = MeasureField(
        label=_("Depth that roots can use, in cm"),
        required=False,
        help_text=_("Down to rock, hardpan or standing water."),
        **within(0, 1000),
    )
    drainage = forms.ChoiceField(label=_("Drainage"), required=False, choices=choices(DRAINAGES))
    latitude = MeasureField(label=_("Latitude in degrees"), required=False, **within(-90, 90))
    longitude = MeasureField(label=_("Longitude in degrees"), required=False, **within(-180, 180))

    class Meta:
        model = SoilSample
        fields = [
            "label", "block", "taken_on", "texture", "ph", "organic_matter_percent", "depth_cm", "drainage",
            "latitude", "longitude",
        ]  # fmt: skip


class CircleForm(FindingForm):
    """Young natural trees in one circle."""

    label = forms.CharField(
        label=_("Label"), max_length=60, help_text=_("Keep it when the same circle is counted again.")
    )
    counted_on = DayField(label=_("Counted on"))
    radius_m = MeasureField(
        label=_("Radius in metres"), help_text=_("Measured level, not along the slope."), **within(0.5, 50)
    )
    count = CountField(
        label=_("Young natural trees"),
        max_value=100_000,
        help_text=_("Of the size you decided on beforehand; 0 is a count too."),
    )
    species_note = forms.CharField(label=_("Which species"), required=False, max_length=300)

    class Meta:
        model = RegenerationCircle
        fields = ["label", "block", "counted_on", "radius_m", "count", "species_note"]


class ConsentForm(VersionedForm):
    """A right, an agreement or a permit."""

    kind = forms.ChoiceField(
        label=_("Kind"), choices=lambda: [("", gettext("Choose one")), *ConsentKind.choices]
    )
    with_whom = forms.CharField(
        label=_("With whom"),
        max_length=200,
        help_text=_("The body, office or holding rather than a person's private address."),
    )
    reference = forms.CharField(label=_("Number or reference"), max_length=100, required=False)
    what = forms.CharField(label=_("What was agreed"), widget=text_area())
    caretaker = forms.CharField(label=_("Who looks after the trees"), max_length=200, required=False)
    benefits = forms.CharField(
        label=_("What they gain"),
        required=False,
        widget=text_area(2),
        help_text=_("Fruit, nuts, fodder, timber, honey, water, wages: as agreed, not as hoped."),
    )
    given_on = DayField(label=_("Given on"))
    expires_on = DayField(label=_("Ends on"), required=False, help_text=_("Empty: without end."))
    withdrawn_on = DayField(label=_("Withdrawn on"), required=False)

    class Meta:
        model = Consent
        fields = [
            "kind", "with_whom", "reference", "what", "caretaker", "benefits", "given_on", "expires_on",
            "withdrawn_on",
        ]  # fmt: skip


class OverrideForm(forms.Form):
    """Why a manager answers for going on."""

    stop = forms.ChoiceField(label=_("Which of them"))
    reason = forms.CharField(
        label=_("Why it is right to go on"),
        widget=text_area(),
        help_text=_("Your name, the day and these words stay readable, also after you withdraw them."),
    )

    def __init__(self, blocking: Any, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        first = ("", gettext("Choose one"))
        self.fields["stop"].choices = [
            first,
            *((stop.key, readiness_words.TITLES[stop.key]) for stop in blocking),
        ]
