"""Projects, sites, blocks with their versioned ground, holdings, seasons."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from projects.tenancy import TenantModel, unique_in_organisation

share = [MinValueValidator(0), MaxValueValidator(1)]


class ArchivableQuerySet(models.QuerySet):
    def current(self) -> "ArchivableQuerySet":
        """Leave out what was archived."""
        return self.filter(archived_at__isnull=True)


class Project(TenantModel):
    """Why trees are planted, for whom, and what counts as having worked."""

    name = models.CharField(_("name"), max_length=200)
    purpose = models.TextField(_("purpose"), blank=True)
    funder_name = models.CharField(_("funder"), max_length=200, blank=True)
    target_survival = models.DecimalField(
        _("target survival"), max_digits=5, decimal_places=4, default="0.8000", validators=share
    )
    check_age_seasons = models.PositiveSmallIntegerField(
        _("check age in completed growing seasons"), default=2
    )
    check_age_months = models.PositiveSmallIntegerField(_("check age in months"), default=18)
    target_stocking_per_ha = models.PositiveIntegerField(
        _("target living trees per hectare"), null=True, blank=True
    )
    replanting_level = models.DecimalField(
        _("confidence for replanting decisions"), max_digits=4, decimal_places=3, default="0.900"
    )
    claim_level = models.DecimalField(
        _("confidence for claims to funders"), max_digits=4, decimal_places=3, default="0.950"
    )
    min_plots_per_species = models.PositiveSmallIntegerField(
        _("plots a species must stand in to be compared"), default=5
    )
    budget_minor = models.BigIntegerField(_("budget in minor units"), null=True, blank=True)
    contingency_share = models.FloatField(_("set aside for the unforeseen"), default=0.1, validators=share)
    currency = models.CharField(_("currency"), max_length=3, default="EUR")
    has_baseline = models.BooleanField(_("trees were counted at planting"), default=True)
    archived_at = models.DateTimeField(null=True, blank=True)

    objects = ArchivableQuerySet.as_manager()

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            unique_in_organisation("project"),
            models.CheckConstraint(
                condition=Q(target_survival__gte=0) & Q(target_survival__lte=1),
                name="target_survival_is_a_share",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Site(TenantModel):
    """A piece of country with its own weather, clock and emergency number."""

    name = models.CharField(_("name"), max_length=200)
    country_code = models.CharField(_("country"), max_length=2, help_text=_("ISO 3166-1, two letters"))
    region = models.CharField(_("region"), max_length=100, blank=True)
    time_zone = models.CharField(_("time zone"), max_length=64, default="UTC")
    boundary = models.JSONField(_("boundary"), null=True, blank=True)  # GeoJSON geometry, RFC 7946
    gross_area_ha = models.FloatField(_("area in hectares"), null=True, blank=True)
    elevation_m = models.IntegerField(_("elevation in metres"), null=True, blank=True)
    description = models.TextField(_("description"), blank=True)
    access_notes = models.TextField(_("how to get there"), blank=True)
    emergency_contact = models.CharField(_("emergency number here"), max_length=200, blank=True)
    climate_normals = models.JSONField(null=True, blank=True)
    climate_source = models.CharField(max_length=200, blank=True)
    ecological_zone = models.CharField(_("ecological zone"), max_length=40, blank=True)
    archived_at = models.DateTimeField(null=True, blank=True)

    objects = ArchivableQuerySet.as_manager()

    class Meta:
        ordering = ["name", "id"]
        constraints = [unique_in_organisation("site")]

    def __str__(self) -> str:
        return self.name


class Pattern(models.TextChoices):
    SQUARE = "square", _("square or rectangular")
    TRIANGLE = "triangle", _("triangular")
    ROW = "row", _("a single row")
    IRREGULAR = "irregular", _("irregular")


class Layout(models.TextChoices):
    GROUND = "ground", _("one piece of ground")
    HOLDINGS = "holdings", _("a list of holdings")


class Block(TenantModel):
    """The unit that is planted and the stratum that is sampled: one site and one project."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="blocks")
    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="blocks")
    name = models.CharField(_("name"), max_length=200)
    layout = models.CharField(_("layout"), max_length=10, choices=Layout, default=Layout.GROUND)
    pattern = models.CharField(_("pattern"), max_length=10, choices=Pattern, default=Pattern.SQUARE)
    row_spacing_m = models.FloatField(_("distance between rows in metres"), null=True, blank=True)
    in_row_spacing_m = models.FloatField(_("distance in the row in metres"), null=True, blank=True)
    target_stocking_per_ha = models.PositiveIntegerField(
        _("target living trees per hectare"), null=True, blank=True
    )
    aspect_note = models.CharField(_("aspect and ground"), max_length=200, blank=True)
    hazards = models.TextField(_("hazards for crews"), blank=True)
    archived_at = models.DateTimeField(null=True, blank=True)

    objects = ArchivableQuerySet.as_manager()

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            unique_in_organisation("block"),
            models.CheckConstraint(
                condition=Q(row_spacing_m__isnull=True) | Q(row_spacing_m__gt=0),
                name="row_spacing_is_above_zero",
            ),
            models.CheckConstraint(
                condition=Q(in_row_spacing_m__isnull=True) | Q(in_row_spacing_m__gt=0),
                name="in_row_spacing_is_above_zero",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class BlockGround(TenantModel):
    """One version of a block's ground. The greatest version is current; older ones stay."""

    block = models.ForeignKey(Block, on_delete=models.PROTECT, related_name="grounds")
    version = models.PositiveIntegerField()
    geometry = models.JSONField(null=True, blank=True)  # GeoJSON Polygon or MultiPolygon, RFC 7946
    gross_area_ha = models.FloatField(_("gross area in hectares"))
    exclusions_ha = models.FloatField(_("left out, in hectares"), default=0)
    net_area_ha = models.FloatField(_("net area in hectares"))
    area_source = models.CharField(max_length=30, default="stated")  # stated | geodesic
    valid_from = models.DateField()

    class Meta:
        ordering = ["block_id", "-version"]
        constraints = [
            models.UniqueConstraint(fields=["block", "version"], name="a_ground_version_exists_once"),
            models.CheckConstraint(
                condition=Q(net_area_ha__gt=0) & Q(gross_area_ha__gte=F("net_area_ha")),
                name="net_area_is_part_of_gross_area",
            ),
        ]


class Holding(TenantModel):
    """One farm or garden of a block that is a list of holdings."""

    block = models.ForeignKey(Block, on_delete=models.PROTECT, related_name="holdings")
    label = models.CharField(_("label"), max_length=120)
    person = models.ForeignKey(
        "projects.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)
    trees_received = models.PositiveIntegerField(_("trees received"))

    class Meta:
        ordering = ["label", "id"]
        constraints = [
            unique_in_organisation("holding"),
            models.UniqueConstraint(fields=["block", "label"], name="a_holding_is_listed_once"),
        ]

    def __str__(self) -> str:
        return self.label


class SeasonKind(models.TextChoices):
    PLANTING = "planting", _("planting season")
    REPORTING = "reporting", _("reporting season")


class Season(TenantModel):
    """A named span of dates: when trees go in, or what a funder's page covers."""

    kind = models.CharField(_("kind"), max_length=10, choices=SeasonKind)
    label = models.CharField(_("label"), max_length=60)
    starts_on = models.DateField(_("from"))
    ends_on = models.DateField(_("to"))

    class Meta:
        ordering = ["kind", "starts_on"]
        constraints = [
            unique_in_organisation("season"),
            models.UniqueConstraint(
                fields=["organisation", "kind", "label"], name="a_season_label_is_used_once"
            ),
            models.CheckConstraint(
                condition=Q(ends_on__gte=F("starts_on")), name="a_season_ends_after_it_starts"
            ),
        ]

    def __str__(self) -> str:
        return self.label
