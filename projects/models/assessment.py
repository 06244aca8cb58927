"""What was found out about a site before anything is planted there, and who agreed to what."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from projects.tenancy import TenantModel, unique_in_organisation
from species.traits import DRAINAGES, LIGHTS, TEXTURES


class Aspect(models.TextChoices):
    NORTH = "N", _("north")
    NORTH_EAST = "NE", _("north-east")
    EAST = "E", _("east")
    SOUTH_EAST = "SE", _("south-east")
    SOUTH = "S", _("south")
    SOUTH_WEST = "SW", _("south-west")
    WEST = "W", _("west")
    NORTH_WEST = "NW", _("north-west")
    LEVEL = "level", _("level")


class SiteAssessment(TenantModel):
    """One assessment of a site, filled in over several visits.

    `answers` holds the yes, no or not-known of each hard stop and of the two questions about young natural trees;
    `unsaved` what was typed into a step and could not be stored yet, by step, so that nothing typed is lost.
    """

    site = models.OneToOneField("projects.Site", on_delete=models.PROTECT, related_name="assessment")
    visited_on = models.DateField(_("visited on"), null=True, blank=True)
    land_use_history = models.TextField(_("what the land was used for"), blank=True)
    present_vegetation = models.TextField(_("what grows there now"), blank=True)
    competing_vegetation = models.TextField(_("what will compete with young trees"), blank=True)
    existing_species = models.TextField(_("trees already there"), blank=True)
    aspect = models.CharField(_("aspect"), max_length=5, choices=Aspect, blank=True)
    slope_percent = models.FloatField(
        _("slope in per cent"),
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(300)],
    )
    light = models.CharField(_("light"), max_length=12, choices=list(LIGHTS.items()), blank=True)
    salinity_ds_per_m = models.FloatField(_("soil salinity in dS/m"), null=True, blank=True)
    seed_source_m = models.FloatField(_("distance to seed trees in metres"), null=True, blank=True)
    seed_source_note = models.CharField(_("which seed trees"), max_length=200, blank=True)
    hazards = models.TextField(_("hazards"), blank=True)
    wanted_regenerants_per_ha = models.PositiveIntegerField(
        _("young natural trees wanted per hectare"), null=True, blank=True
    )
    answers = models.JSONField(default=dict)
    unsaved = models.JSONField(default=dict)
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["site_id"]
        constraints = [unique_in_organisation("site_assessment")]

    def __str__(self) -> str:
        return str(self.site)


class SoilSample(TenantModel):
    """What one pit or auger hole showed."""

    site = models.ForeignKey("projects.Site", on_delete=models.PROTECT, related_name="soil_samples")
    block = models.ForeignKey(
        "projects.Block", null=True, blank=True, on_delete=models.PROTECT, related_name="soil_samples"
    )
    label = models.CharField(_("label"), max_length=60)
    taken_on = models.DateField(_("taken on"))
    texture = models.CharField(_("texture"), max_length=8, choices=list(TEXTURES.items()), blank=True)
    ph = models.FloatField(_("pH"), null=True, blank=True)
    organic_matter_percent = models.FloatField(_("organic matter in per cent"), null=True, blank=True)
    depth_cm = models.FloatField(_("rooting depth in cm"), null=True, blank=True)
    drainage = models.CharField(_("drainage"), max_length=10, choices=list(DRAINAGES.items()), blank=True)
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)

    class Meta:
        ordering = ["site_id", "taken_on", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "label"], name="a_soil_sample_label_is_used_once_on_a_site"
            ),
            models.CheckConstraint(
                condition=Q(ph__isnull=True) | (Q(ph__gte=2.5) & Q(ph__lte=10.5)), name="a_soil_ph_can_be"
            ),
        ]

    def __str__(self) -> str:
        return self.label


class ConsentKind(models.TextChoices):
    TENURE = "tenure", _("right to the land")
    CONSENT = "consent", _("consent of those who hold rights")
    COMMUNITY = "community", _("agreement with a community")
    LANDHOLDER = "landholder", _("agreement with a landholder")
    PERMIT = "permit", _("permit")


class Consent(TenantModel):
    """Who agreed to what, until when; for communities and landholders also who cares for the trees."""

    site = models.ForeignKey("projects.Site", on_delete=models.PROTECT, related_name="consents")
    kind = models.CharField(_("kind"), max_length=12, choices=ConsentKind)
    with_whom = models.CharField(_("with whom"), max_length=200)
    reference = models.CharField(_("number or reference"), max_length=100, blank=True)
    what = models.TextField(_("what was agreed"))
    caretaker = models.CharField(_("who looks after the trees"), max_length=200, blank=True)
    benefits = models.TextField(_("what they gain"), blank=True)
    given_on = models.DateField(_("given on"))
    expires_on = models.DateField(_("ends on"), null=True, blank=True)
    withdrawn_on = models.DateField(_("withdrawn on"), null=True, blank=True)

    kept_out_of_history = ("with_whom", "what", "caretaker", "benefits")

    class Meta:
        ordering = ["site_id", "kind", "given_on", "id"]
        constraints = [
            unique_in_organisation("consent"),
            models.CheckConstraint(
                condition=Q(expires_on__isnull=True) | Q(expires_on__gte=models.F("given_on")),
                name="a_consent_ends_after_it_was_given",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.given_on:%Y-%m-%d}"


class RegenerationCircle(TenantModel):
    """Young natural trees counted in one circle before planting."""

    site = models.ForeignKey("projects.Site", on_delete=models.PROTECT, related_name="regeneration_circles")
    block = models.ForeignKey(
        "projects.Block", null=True, blank=True, on_delete=models.PROTECT, related_name="regeneration_circles"
    )
    label = models.CharField(_("label"), max_length=60)
    counted_on = models.DateField(_("counted on"))
    radius_m = models.FloatField(
        _("radius in metres"), validators=[MinValueValidator(0.5), MaxValueValidator(50)]
    )
    count = models.PositiveIntegerField(_("young natural trees"))
    species_note = models.CharField(_("which species"), max_length=300, blank=True)

    class Meta:
        ordering = ["site_id", "counted_on", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "label", "counted_on"], name="a_regeneration_circle_is_counted_once_a_day"
            ),
        ]

    def __str__(self) -> str:
        return self.label


class ReadinessOverride(TenantModel):
    """A named manager answers for going on in spite of a hard stop."""

    site = models.ForeignKey("projects.Site", on_delete=models.PROTECT, related_name="readiness_overrides")
    stop = models.CharField(_("hard stop"), max_length=40)
    reason = models.TextField(_("reason"))
    approved_by = models.ForeignKey("projects.Person", on_delete=models.PROTECT, related_name="+")
    approved_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["site_id", "stop", "-approved_at"]

    def __str__(self) -> str:
        return self.stop
