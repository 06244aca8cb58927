"""What the log says was seen: visits, their lines, regeneration, removals and open cases. All derived."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from projects.models import Unit
from projects.tenancy import TenantModel, unique_in_organisation


class PlotStatus(models.TextChoices):
    COUNTED = "counted", _("counted")
    DESTROYED = "destroyed", _("destroyed")
    MISSING = "missing", _("missing")


REASON_WORDS = {
    "burnt": _("burnt"),
    "slid": _("slid away"),
    "built_on": _("built on"),
    "unsafe": _("unsafe, not visited"),
    "refused": _("access refused"),
    "not_located": _("not located"),
    "not_reached": _("not reached"),
    "other": _("other"),
}


class Purpose(models.TextChoices):
    SURVIVAL = "survival", _("survival count")
    BASELINE = "baseline", _("baseline visit")


class Visit(TenantModel):
    """One revision of one visit, projected from a submission; `uid` is the phone's id for it."""

    uid = models.UUIDField(editable=False)  # given by a phone, so unique within its organisation only
    root = models.UUIDField()
    parents = models.JSONField(default=list)
    depth = models.PositiveIntegerField(default=0)
    submission_seq = models.BigIntegerField()
    purpose = models.CharField(max_length=8, choices=Purpose, default=Purpose.SURVIVAL)
    plot = models.ForeignKey("monitoring.SurvivalPlot", on_delete=models.PROTECT, related_name="visits")
    round = models.ForeignKey(
        "monitoring.SurveyRound", null=True, on_delete=models.PROTECT, related_name="visits"
    )
    observed_on = models.DateField()
    clock_offset_ms = models.BigIntegerField(null=True)
    status = models.CharField(max_length=9, choices=PlotStatus)
    reason = models.CharField(max_length=20, blank=True)
    flags = models.JSONField(default=list)
    n_flags = models.PositiveSmallIntegerField(default=0)
    is_head = models.BooleanField(default=False)  # the leaf that stands for its visit
    is_counting = models.BooleanField(default=False)  # the head that counts for its plot and round

    class Meta:
        ordering = ["round_id", "plot_id", "id"]
        constraints = [
            unique_in_organisation("visit"),
            models.UniqueConstraint(
                fields=["organisation", "uid"], name="a_visit_revision_is_projected_once"
            ),
            models.UniqueConstraint(
                fields=["plot", "round"],
                condition=Q(is_counting=True) & Q(round__isnull=False),
                name="one_counting_visit_per_plot_and_round",
            ),
        ]
        indexes = [
            models.Index(fields=["organisation", "root"], name="visit_of_root"),
            models.Index(fields=["round", "plot"], condition=Q(is_counting=True), name="visit_counting"),
        ]

    @property
    def reason_words(self) -> str:
        """Why a plot was destroyed or not counted, in words."""
        return str(REASON_WORDS.get(self.reason, ""))


class CountLine(TenantModel):
    """One line of a count sheet."""

    uid = None  # known by its visit and position; a million rows need no second key
    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="lines")
    position = models.PositiveSmallIntegerField()
    baseline = models.ForeignKey(
        "monitoring.PlotBaseline", null=True, on_delete=models.PROTECT, related_name="+"
    )
    baseline_lines = models.JSONField(default=list)  # every baseline line the row refers to
    species = models.ForeignKey("species.Species", on_delete=models.PROTECT, related_name="+")
    unit = models.CharField(max_length=10, choices=Unit, default=Unit.TREE)
    planted = models.PositiveIntegerField(null=True)  # baseline as it stood when the visit was projected
    alive = models.PositiveIntegerField(default=0)
    dead_stem = models.PositiveIntegerField(default=0)
    empty_spot = models.PositiveIntegerField(default=0)
    not_found = models.PositiveIntegerField(default=0)  # as stated, else what the line leaves open
    not_found_stated = models.PositiveIntegerField(null=True)
    not_assessed = models.PositiveIntegerField(default=0)
    resprout = models.PositiveIntegerField(default=0)
    origin_uncertain = models.PositiveIntegerField(default=0)
    seedlings = models.PositiveIntegerField(null=True)
    signs = models.JSONField(default=dict)
    heights_cm = models.JSONField(default=list)
    spots = models.JSONField(default=list)

    class Meta:
        ordering = ["visit_id", "position"]
        constraints = [
            models.UniqueConstraint(fields=["visit", "position"], name="a_line_has_its_own_position")
        ]


class HeightClass(models.TextChoices):
    LOWER = "lower", _("lower height class")
    UPPER = "upper", _("upper height class")


class RegenerationLine(TenantModel):
    """Natural regeneration of one species in one height class of a plot."""

    uid = None
    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="regeneration")
    species = models.ForeignKey("species.Species", null=True, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=120, blank=True)
    height_class = models.CharField(max_length=6, choices=HeightClass)
    count = models.PositiveIntegerField()
    capped = models.BooleanField(default=False)
    subplot_area_m2 = models.FloatField(null=True)

    class Meta:
        ordering = ["visit_id", "id"]


class Removal(TenantModel):
    """Living trees taken out on purpose. Not a death."""

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="removals")
    plot = models.ForeignKey("monitoring.SurvivalPlot", on_delete=models.PROTECT, related_name="removals")
    baseline_line = models.UUIDField()
    removed_on = models.DateField()
    alive_removed = models.PositiveIntegerField()
    reason = models.CharField(max_length=20)
    is_counted = models.BooleanField(default=False)  # of a standing visit, and told once

    class Meta:
        ordering = ["plot_id", "removed_on", "id"]


class CaseKind(models.TextChoices):
    OVER_BASELINE = "over_baseline", _("more alive than were planted")
    SUM_OPEN = "sum_open", _("the line does not add up to the baseline")
    FUTURE_DATE = "future_date", _("observed in the future")
    BEFORE_PLANTING = "before_planting", _("observed before planting")
    LATE = "late", _("observed after the round closed")
    CONTRADICTS = "contradicts_earlier", _("contradicts an earlier visit")
    SECOND_ROOT = "second_root", _("two people counted one plot")
    FORKED = "forked", _("two corrections of one visit")
    CLOCK_SKEW = "clock_skew", _("the phone's clock was off")
    UNKNOWN_BASELINE = "unknown_baseline", _("the line names a baseline we do not have")
    NOT_ON_ROUND = "not_on_this_round", _("the plot is not part of the round")
    ORPHAN = "orphan", _("corrects a visit that has not arrived")
    OUTLIER = "outlier", _("far from the other plots of its block")
    TOTALS_DISAGREE = "totals_disagree", _("living trees by ledger and by area disagree")


CASES_OF_FIGURES = (CaseKind.OUTLIER, CaseKind.TOTALS_DISAGREE)  # opened by what is computed, not by a sheet


class Case(TenantModel):
    """A doubt a field lead should settle. Derived from flags; settled by a `Decision`."""

    kind = models.CharField(max_length=20, choices=CaseKind)
    round = models.ForeignKey(
        "monitoring.SurveyRound", null=True, on_delete=models.CASCADE, related_name="cases"
    )
    plot = models.ForeignKey(  # none where the doubt is about a whole round
        "monitoring.SurvivalPlot", null=True, on_delete=models.CASCADE, related_name="cases"
    )
    visit_root = models.UUIDField(null=True)
    facts = models.JSONField(default=dict)
    settled_seq = models.BigIntegerField(null=True, blank=True)
    settled_as = models.CharField(max_length=30, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            unique_in_organisation("case"),
            models.UniqueConstraint(
                fields=["organisation", "kind", "plot", "round", "visit_root"],
                name="one_case_per_doubt",
                nulls_distinct=False,
            ),
        ]
