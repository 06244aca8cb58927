"""What is computed: estimates, replacement needs, performance; and the editions told to funders."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from projects.tenancy import TenantModel, unique_in_organisation


class Scope(models.TextChoices):
    PROJECT = "project", _("project")
    SITE = "site", _("site")
    BLOCK = "block", _("block")
    COHORT = "cohort", _("cohort")
    SPECIES = "species", _("species")
    LOT = "lot", _("lot")
    STOCK_TYPE = "stock_type", _("stock type")
    NURSERY = "nursery", _("nursery")
    BLOCK_SPECIES = "block_species", _("species in a block")


class Derived(TenantModel):
    """A row that one command can drop and rebuild byte for byte: uuid5 key, no clock column."""

    uid = models.UUIDField(unique=True, editable=False)
    input_digest = models.CharField(max_length=64)
    code_version = models.CharField(max_length=20)
    revision = models.BigIntegerField(default=0)  # the log number the figures stand at

    class Meta:
        abstract = True


class Estimate(Derived):
    """One figure with its uncertainty and what it rests on."""

    project = models.ForeignKey("projects.Project", on_delete=models.CASCADE, related_name="+")
    round = models.ForeignKey(
        "monitoring.SurveyRound", null=True, on_delete=models.CASCADE, related_name="estimates"
    )
    block = models.ForeignKey("projects.Block", null=True, on_delete=models.CASCADE, related_name="+")
    scope = models.CharField(max_length=14, choices=Scope)
    key = models.CharField(max_length=120)
    measure = models.CharField(max_length=40)
    method = models.CharField(max_length=40)
    level = models.FloatField()
    value = models.FloatField(null=True)
    se = models.FloatField(null=True)
    lower = models.FloatField(null=True)
    upper = models.FloatField(null=True)
    lower_one_sided = models.FloatField(null=True)  # at the replanting level
    upper_one_sided = models.FloatField(null=True)
    lower_claim = models.FloatField(null=True)  # at the level of claims to funders
    upper_claim = models.FloatField(null=True)
    deff = models.FloatField(null=True)
    n_plots = models.PositiveIntegerField(default=0)
    n_trees = models.BigIntegerField(default=0)
    n_flagged = models.PositiveIntegerField(default=0)
    is_headline = models.BooleanField(default=False)
    status = models.CharField(max_length=14, default="ok")  # ok | not_estimable
    reason = models.CharField(max_length=60, blank=True)
    outcome = models.CharField(max_length=16, blank=True)  # meets_target | falls_short | not_settled | so_far
    outcome_claim = models.CharField(max_length=16, blank=True)
    more_plots = models.PositiveIntegerField(null=True)
    next_step = models.CharField(max_length=20, blank=True)  # more_plots | look_again
    facts = models.JSONField(default=dict)  # counts behind the figure

    class Meta:
        ordering = ["scope", "key", "measure", "method"]
        constraints = [
            unique_in_organisation("estimate"),
            models.UniqueConstraint(
                fields=["organisation", "round", "scope", "key", "measure", "method", "level"],
                name="one_estimate_per_figure",
                nulls_distinct=False,
            ),
        ]
        indexes = [
            models.Index(
                fields=["round", "measure"], condition=Q(is_headline=True), name="estimate_headline"
            ),
            models.Index(fields=["block", "measure"], name="estimate_of_block"),
        ]


class ReplacementNeed(Derived):
    """How many to replant of a species in a block, expected and assured, and by when to order."""

    project = models.ForeignKey("projects.Project", on_delete=models.CASCADE, related_name="+")
    round = models.ForeignKey("monitoring.SurveyRound", on_delete=models.CASCADE, related_name="needs")
    block = models.ForeignKey("projects.Block", on_delete=models.CASCADE, related_name="needs")
    species = models.ForeignKey("species.Species", null=True, on_delete=models.CASCADE, related_name="+")
    stock_type = models.CharField(max_length=20, blank=True)
    target = models.PositiveIntegerField(null=True)
    living = models.FloatField(null=True)
    living_lower = models.FloatField(null=True)
    living_upper = models.FloatField(null=True)
    replacement_survival = models.FloatField(null=True)
    replacement_survival_source = models.CharField(max_length=60, blank=True)
    n_expected = models.PositiveIntegerField(null=True)
    n_assured = models.PositiveIntegerField(null=True)
    assurance = models.FloatField(null=True)
    window_opens_on = models.DateField(null=True)
    window_closes_on = models.DateField(null=True)
    order_by = models.DateField(null=True)
    status = models.CharField(max_length=16, default="ok")  # ok | none_needed | not_estimable
    reason = models.CharField(max_length=60, blank=True)
    living_at_check = models.FloatField(null=True)  # of those alive today, expected alive at the check age
    n_assured_if_known = models.PositiveIntegerField(null=True)  # if the living were known exactly
    losses = models.JSONField(default=dict)  # signs seen on what was lost
    facts = models.JSONField(default=dict)  # gaps, choices with their cost per living tree, season

    class Meta:
        ordering = ["order_by", "block_id", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["organisation", "round", "block", "species", "stock_type"],
                name="one_need_per_block_and_species",
                nulls_distinct=False,
            )
        ]


class PerformanceRow(Derived):
    """How a species, lot, stock type or nursery did, pooled with its peers and compared within blocks."""

    project = models.ForeignKey("projects.Project", on_delete=models.CASCADE, related_name="+")
    round = models.ForeignKey("monitoring.SurveyRound", on_delete=models.CASCADE, related_name="performance")
    scope = models.CharField(max_length=14, choices=Scope)
    key = models.CharField(max_length=120)
    raw = models.FloatField(null=True)
    pooled = models.FloatField(null=True)
    lower = models.FloatField(null=True)
    upper = models.FloatField(null=True)
    within_block = models.FloatField(null=True)
    within_lower = models.FloatField(null=True)
    within_upper = models.FloatField(null=True)
    rank_low = models.PositiveIntegerField(null=True)
    rank_high = models.PositiveIntegerField(null=True)
    n_plots = models.PositiveIntegerField(default=0)
    n_blocks = models.PositiveIntegerField(default=0)
    n_trees = models.BigIntegerField(default=0)
    group = models.PositiveSmallIntegerField(default=0)  # compared only inside one connected group
    status = models.CharField(max_length=20, default="ok")  # ok | too_few_plots | cannot_separate | alone
    facts = models.JSONField(default=dict)

    class Meta:
        ordering = ["scope", "key"]
        constraints = [
            models.UniqueConstraint(
                fields=["organisation", "round", "scope", "key"], name="one_performance_row_per_thing"
            )
        ]


class SurvivalCurve(Derived):
    """Survival over time of one cohort (or of all plantings of a block or project), in one method.

    `points` hold age in days, survival with limits, trees and plots at risk, and the round where there is one.
    """

    project = models.ForeignKey("projects.Project", on_delete=models.CASCADE, related_name="+")
    scope = models.CharField(max_length=14, choices=Scope)
    key = models.CharField(max_length=120)
    method = models.CharField(max_length=40)
    level = models.FloatField()
    points = models.JSONField(default=list)
    n_plots = models.PositiveIntegerField(default=0)
    n_trees = models.BigIntegerField(default=0)
    status = models.CharField(max_length=14, default="ok")  # ok | not_estimable
    reason = models.CharField(max_length=60, blank=True)
    facts = models.JSONField(default=dict)

    class Meta:
        ordering = ["scope", "key", "method"]
        constraints = [
            models.UniqueConstraint(
                fields=["organisation", "project", "scope", "key", "method"],
                name="one_curve_per_thing_and_method",
            )
        ]


class SeasonSummary(TenantModel):
    """An edition for funders: rows copied at a revision and never changed afterwards."""

    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, related_name="summaries")
    season = models.ForeignKey("projects.Season", on_delete=models.PROTECT, related_name="+")
    edition = models.PositiveIntegerField()
    revision = models.BigIntegerField()
    made_on = models.DateField()
    made_by = models.ForeignKey("projects.Person", null=True, on_delete=models.PROTECT, related_name="+")
    rows = models.JSONField()
    rows_digest = models.CharField(max_length=64)
    what_changed = models.TextField(blank=True)

    class Meta:
        verbose_name_plural = _("season summaries")
        ordering = ["-season_id", "-edition"]
        constraints = [
            unique_in_organisation("season_summary"),
            models.UniqueConstraint(fields=["project", "season", "edition"], name="an_edition_is_made_once"),
        ]

    def __str__(self) -> str:
        return f"{self.season}, {self.edition}"  # as history tells it: season and edition


class DirtyKey(models.Model):
    """Something whose figures are behind the log. The row is the work list; the broker only carries hints."""

    organisation = models.ForeignKey("projects.Organisation", on_delete=models.CASCADE, related_name="+")
    kind = models.CharField(max_length=12)  # round_block | round | project
    key = models.CharField(max_length=120)
    version = models.BigIntegerField(default=1)
    since = models.DateTimeField()
    attempts = models.PositiveSmallIntegerField(default=0)
    error = models.TextField(blank=True)

    class Meta:
        ordering = ["since", "id"]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "kind", "key"], name="a_key_is_dirty_once")
        ]


class Upload(TenantModel):
    """A file of counts on its way in: kept as it came, mapped, checked, then imported whole or not at all."""

    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, related_name="+")
    round = models.ForeignKey("monitoring.SurveyRound", on_delete=models.PROTECT, related_name="uploads")
    file_name = models.CharField(max_length=200)
    file_sha256 = models.CharField(max_length=64)
    content = models.BinaryField()
    columns = models.JSONField(default=list)
    mapping = models.JSONField(default=dict)
    state = models.CharField(max_length=12, default="read")  # read | checked | imported | refused
    problems = models.JSONField(default=list)
    n_rows = models.PositiveIntegerField(default=0)
    job = models.ForeignKey("projects.Job", null=True, on_delete=models.SET_NULL, related_name="+")
    created_by = models.ForeignKey("projects.Person", null=True, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return self.file_name
