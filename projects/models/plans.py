"""Plans: versions of what is to be planted in a project, block by block, and what each version rests on."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from projects.models.stock import StockType
from projects.tenancy import TenantModel, unique_in_organisation

share = [MinValueValidator(0), MaxValueValidator(1)]


class Plan(TenantModel):
    """A version of what is to be planted in a project.

    A draft is worked on; an approved version never changes again: `frozen` holds everything its document
    showed on the day of approval. The allowances are common practice and each manager's to change.
    """

    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, related_name="plans")
    version = models.PositiveIntegerField()
    title = models.CharField(_("title"), max_length=200, blank=True)
    note = models.TextField(_("what this version is for"), blank=True)
    based_on = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    season = models.ForeignKey(
        "projects.Season", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    second_season = models.ForeignKey(
        "projects.Season", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    assurance = models.FloatField(
        _("how sure to reach the target"), default=0.9,
        validators=[MinValueValidator(0.5), MaxValueValidator(0.999)],
    )  # fmt: skip
    cull_share = models.FloatField(_("share culled on arrival"), default=0.03, validators=share)
    handling_loss_share = models.FloatField(_("share lost in handling"), default=0.02, validators=share)
    slack_weeks = models.PositiveSmallIntegerField(_("spare weeks before planting"), default=2)
    crew_people = models.PositiveSmallIntegerField(_("people who plant"), default=6)
    trees_per_person_day = models.PositiveIntegerField(_("trees one person plants in a day"), default=100)
    mix_rules = models.JSONField(default=dict)
    approved_at = models.DateTimeField(null=True, blank=True)
    approved_by = models.ForeignKey(
        "projects.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    frozen = models.JSONField(default=dict)

    class Meta:
        ordering = ["project_id", "-version"]
        constraints = [
            unique_in_organisation("plan"),
            models.UniqueConstraint(fields=["project", "version"], name="a_plan_version_exists_once"),
        ]

    def __str__(self) -> str:
        return self.title or _("version %(n)s") % {"n": self.version}

    @property
    def is_draft(self) -> bool:
        """Whether it may still be changed."""
        return self.approved_at is None


class MixLine(TenantModel):
    """How many of one species and stock type a plan puts in one block, in which wave.

    Wave 1 goes in with the plan's season; wave 2 with its second season, under nurse trees of the first.
    Survival and price are copied in: a plan says what was believed when it was made.
    """

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="mix_lines")
    block = models.ForeignKey("projects.Block", on_delete=models.PROTECT, related_name="+")
    species = models.ForeignKey("species.Species", on_delete=models.PROTECT, related_name="+")
    stock_type = models.CharField(_("stock type"), max_length=20, choices=StockType)
    wave = models.PositiveSmallIntegerField(_("wave"), default=1)
    quantity = models.PositiveIntegerField(_("how many to plant"))
    survival_mean = models.FloatField(_("expected survival"), null=True, blank=True, validators=share)
    survival_low = models.FloatField(null=True, blank=True, validators=share)
    survival_high = models.FloatField(null=True, blank=True, validators=share)
    survival_source = models.CharField(max_length=200, blank=True)
    unit_price_minor = models.BigIntegerField(null=True, blank=True)
    currency = models.CharField(max_length=3, default="EUR")
    introduced_reason = models.CharField(_("why a species from elsewhere"), max_length=300, blank=True)

    class Meta:
        ordering = ["plan_id", "block_id", "wave", "species_id", "stock_type"]
        constraints = [
            unique_in_organisation("mix_line"),
            models.UniqueConstraint(
                fields=["plan", "block", "species", "stock_type", "wave"],
                name="a_mix_names_each_kind_once_in_a_block_and_wave",
            ),
            models.CheckConstraint(condition=Q(wave__in=[1, 2]), name="a_mix_has_two_waves_at_most"),
            models.CheckConstraint(condition=Q(quantity__gt=0), name="a_mix_line_plants_something"),
        ]


class DayMeasure(models.TextChoices):
    """What is looked at in the morning, and again during a planting day."""

    AIR_C = "air_c", _("air temperature in °C")
    SOIL_C = "soil_c", _("soil temperature at rooting depth in °C")
    FROZEN_SOIL_CM = "frozen_soil_cm", _("frozen soil in cm")
    HUMIDITY_PERCENT = "humidity_percent", _("relative humidity in per cent")
    WIND_M_PER_S = "wind_m_per_s", _("wind in m/s")
    WATER_AT_SURFACE = "water_at_surface", _("water stands on the ground")
    DRY_SOIL = "dry_soil", _("soil does not hold together in the fist")
    THUNDER = "thunder", _("thunder is heard")
    OTHER = "other", _("something else, in words")


class DayRule(TenantModel):
    """One line of what decides whether a crew plants today. Without a project it holds for all of them."""

    project = models.ForeignKey(
        "projects.Project", null=True, blank=True, on_delete=models.PROTECT, related_name="day_rules"
    )
    measure = models.CharField(_("what is looked at"), max_length=20, choices=DayMeasure)
    side = models.CharField(
        _("when"), max_length=6, choices=[("below", _("below")), ("above", _("above")), ("yes", _("yes"))]
    )
    limit = models.FloatField(_("limit"), null=True, blank=True)
    effect = models.CharField(
        _("then"), max_length=5, choices=[("stop", _("do not plant")), ("think", _("think again"))]
    )
    words = models.CharField(_("in words for the crew"), max_length=200, blank=True)
    source = models.CharField(_("source"), max_length=200)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(side="yes", limit__isnull=True) | (~Q(side="yes") & Q(limit__isnull=False)),
                name="a_day_rule_has_a_limit_unless_it_is_yes_or_no",
            )
        ]

    def __str__(self) -> str:
        return self.words or str(self.get_measure_display())
