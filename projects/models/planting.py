"""Cohorts and planting days: the denominators of survival; and the first shapes of a plan."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from projects.models.field_days import TreeMark
from projects.models.stock import StockType, Unit
from projects.tenancy import TenantModel, unique_in_organisation


class Cohort(TenantModel):
    """Trees of one lot planted in one block in one season. A replacement planting is a new cohort."""

    block = models.ForeignKey("projects.Block", on_delete=models.PROTECT, related_name="cohorts")
    lot = models.ForeignKey(
        "projects.StockLot", null=True, blank=True, on_delete=models.PROTECT, related_name="cohorts"
    )
    season = models.ForeignKey("projects.Season", on_delete=models.PROTECT, related_name="+")
    species = models.ForeignKey("species.Species", on_delete=models.PROTECT, related_name="+")
    stock_type = models.CharField(max_length=20, choices=StockType)
    unit = models.CharField(max_length=10, choices=Unit, default=Unit.TREE)
    replaces = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="replacements"
    )
    label = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["block_id", "season_id", "id"]
        constraints = [
            unique_in_organisation("cohort"),
            models.UniqueConstraint(
                fields=["block", "lot", "season"],
                condition=Q(lot__isnull=False),
                name="one_cohort_per_block_lot_and_season",
            ),
        ]

    def __str__(self) -> str:
        return self.label or f"cohort {self.pk}"


class PlantingDay(TenantModel):
    """What one crew planted of one lot in one block on one day."""

    block = models.ForeignKey("projects.Block", on_delete=models.PROTECT, related_name="planting_days")
    cohort = models.ForeignKey(Cohort, on_delete=models.PROTECT, related_name="planting_days")
    lot = models.ForeignKey(
        "projects.StockLot", null=True, blank=True, on_delete=models.PROTECT, related_name="planting_days"
    )
    holding = models.ForeignKey(
        "projects.Holding", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    planted_on = models.DateField(_("planted on"))
    quantity = models.PositiveIntegerField(_("how many"))
    crew = models.CharField(_("crew"), max_length=120, blank=True)
    crew_day = models.ForeignKey(
        "projects.CrewDay", null=True, blank=True, on_delete=models.PROTECT, related_name="planting_days"
    )
    mark = models.CharField(_("mark"), max_length=6, choices=TreeMark, default=TreeMark.NONE)
    mark_note = models.CharField(_("colour or number of the mark"), max_length=60, blank=True)
    note = models.CharField(_("note"), max_length=300, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-planted_on", "-id"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="a_planting_day_plants_something")
        ]

    def __str__(self) -> str:
        return f"{self.quantity}, {self.planted_on:%Y-%m-%d}"


class PlantingWindow(TenantModel):
    """The dates in which one stock type may go into one block, with why each side closes."""

    block = models.ForeignKey("projects.Block", on_delete=models.PROTECT, related_name="planting_windows")
    stock_type = models.CharField(_("stock type"), max_length=20, choices=StockType)
    opens_on = models.DateField(_("opens"))
    closes_on = models.DateField(_("closes"))
    opens_because = models.CharField(_("why not earlier"), max_length=200, blank=True)
    closes_because = models.CharField(_("why not later"), max_length=200, blank=True)
    source = models.CharField(_("source"), max_length=200, default="stated by the manager")

    class Meta:
        ordering = ["block_id", "opens_on"]
        constraints = [
            models.CheckConstraint(
                condition=Q(closes_on__gte=F("opens_on")), name="a_window_closes_after_it_opens"
            )
        ]


class CostKind(models.TextChoices):
    """What money goes to."""

    STOCK = "stock", _("plants and seed")
    GROUND = "ground", _("preparing the ground")
    PLANTING = "planting", _("planting")
    TRANSPORT = "transport", _("transport and storage")
    PROTECTION = "protection", _("fences and guards")
    CARE = "care", _("aftercare")
    SURVEY = "survey", _("counting")
    PEOPLE = "people", _("people and training")
    OTHER = "other", _("other")


class BudgetLine(TenantModel):
    """Money planned or spent, in minor units of one currency."""

    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, related_name="budget_lines")
    block = models.ForeignKey(
        "projects.Block", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    season = models.ForeignKey(
        "projects.Season", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    kind = models.CharField(_("kind"), max_length=10, choices=CostKind, default=CostKind.OTHER)
    plan = models.ForeignKey(
        "projects.Plan", null=True, blank=True, on_delete=models.PROTECT, related_name="budget_lines"
    )
    what = models.CharField(_("what for"), max_length=200)
    planned_minor = models.BigIntegerField(_("planned"), default=0)
    spent_minor = models.BigIntegerField(_("spent"), default=0)
    currency = models.CharField(max_length=3, default="EUR")
    exchange_rate = models.DecimalField(max_digits=14, decimal_places=6, null=True, blank=True)
    exchange_rate_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["project_id", "id"]

    def __str__(self) -> str:
        return self.what


class CareKind(models.TextChoices):
    WEEDING = "weeding", _("weeding")
    WATER = "water", _("watering")
    GUARDS = "guards", _("guards")
    FENCE = "fence", _("fence")
    MULCH = "mulch", _("mulching")
    STAKES = "stakes", _("stakes")
    SHADE = "shade", _("shade")
    SOIL = "soil", _("soil test, amendment or fertiliser")
    WALK = "walk", _("walk through and look")
    INVASIVE = "invasive", _("remove invasive growth")
    REVISIT = "revisit", _("go back and look")
    OTHER = "other", _("other")


class CareTask(TenantModel):
    """A piece of aftercare with a window in which it helps."""

    block = models.ForeignKey("projects.Block", on_delete=models.PROTECT, related_name="care_tasks")
    kind = models.CharField(max_length=12, choices=CareKind)
    what = models.CharField(max_length=200)
    why = models.CharField(_("why"), max_length=300, blank=True)
    source = models.CharField(_("whose word"), max_length=200, blank=True)
    cohort = models.ForeignKey(
        Cohort, null=True, blank=True, on_delete=models.PROTECT, related_name="care_tasks"
    )
    rule = models.CharField(max_length=40, blank=True)  # the rule of the schedule that made it
    amount = models.FloatField(_("how much"), null=True, blank=True)
    amount_unit = models.CharField(_("of what"), max_length=30, blank=True)
    assigned_to = models.ForeignKey(
        "projects.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    due_from = models.DateField(null=True, blank=True)
    due_by = models.DateField(null=True, blank=True)
    first_due_by = models.DateField(null=True, blank=True)  # before it was put off
    put_off_because = models.CharField(_("put off because"), max_length=300, blank=True)
    done_on = models.DateField(null=True, blank=True)
    done_by = models.ForeignKey(
        "projects.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    dropped_at = models.DateTimeField(null=True, blank=True)  # it is no longer needed
    dropped_because = models.CharField(_("not needed because"), max_length=300, blank=True)
    submission = models.OneToOneField(
        "projects.Submission", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    cost_minor = models.BigIntegerField(null=True, blank=True)
    currency = models.CharField(max_length=3, default="EUR")
    source_key = models.CharField(max_length=120, blank=True)

    kept_out_of_history = ("assigned_to", "done_by")  # people's names stay where they can be erased

    class Meta:
        ordering = ["due_by", "id"]
        constraints = [
            unique_in_organisation("care_task"),
            models.UniqueConstraint(
                fields=["organisation", "source_key"],
                condition=~Q(source_key=""),
                name="one_care_task_per_cause",
            ),
        ]

    def __str__(self) -> str:
        return self.what
