"""Survival plots and what was planted in them."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from projects.models import Unit
from projects.tenancy import TenantModel, unique_in_organisation


class Shape(models.TextChoices):
    CIRCLE = "circle", _("circle")
    RECTANGLE = "rectangle", _("rectangle")
    ROW = "row", _("row of spots")
    WHOLE_BLOCK = "whole_block", _("whole block (census)")
    HOLDING = "holding", _("holding")
    SINGLE_TREE = "single_tree", _("single tree")


class Selection(models.TextChoices):
    RANDOM = "random", _("seeded random")
    SYSTEMATIC = "systematic", _("systematic with a random start")
    BALANCED = "balanced", _("spatially balanced")
    LIST = "list", _("drawn from a list")
    CENSUS = "census", _("everything counted")
    OTHER = "other", _("not drawn at random")


class BorderRule(models.TextChoices):
    CLIP = "clip", _("plots reach over the border and are cut at it")
    BUFFER = "buffer", _("no plot nearer to the border than a buffer")


class PlotDraw(TenantModel):
    """How the plots of a block were drawn: with these, anyone can draw the same points again.

    `frame` is the block's ground as it was, a GeoJSON polygon or multipolygon without its exclusions, or a
    list of holdings, or a row of spots; `points` are the drawn centres in order, spares last: `{order, latitude,
    longitude, share_inside, spare}`, for lists and rows see `monitoring/calc/plot_frames.py`.
    """

    block = models.ForeignKey("projects.Block", on_delete=models.PROTECT, related_name="draws")
    method = models.CharField(_("how points are chosen"), max_length=12, choices=Selection)
    seed = models.BigIntegerField(_("seed"))
    n_plots = models.PositiveIntegerField(_("plots"))
    n_spares = models.PositiveIntegerField(_("spare plots"), default=0)
    shape = models.CharField(_("shape"), max_length=12, choices=Shape, default=Shape.CIRCLE)
    radius_m = models.FloatField(_("radius in metres"), null=True, blank=True)
    slope_percent = models.FloatField(_("slope in per cent"), null=True, blank=True)
    border_rule = models.CharField(
        _("at the border"), max_length=8, choices=BorderRule, default=BorderRule.CLIP
    )
    buffer_m = models.FloatField(_("buffer in metres"), default=0)
    share_not_covered = models.FloatField(default=0)  # part of the net area that the buffer leaves out
    stage = models.PositiveSmallIntegerField(default=1)
    frame = models.JSONField(default=dict)
    frame_sha256 = models.CharField(max_length=64)
    points = models.JSONField(default=list)
    drawn_on = models.DateField()
    drawn_by = models.ForeignKey("projects.Person", null=True, on_delete=models.PROTECT, related_name="+")
    code_version = models.CharField(max_length=20)  # of the drawing, which a later one must not change

    class Meta:
        ordering = ["block_id", "stage", "id"]
        constraints = [
            unique_in_organisation("plot_draw"),
            models.CheckConstraint(condition=Q(n_plots__gt=0), name="a_draw_has_plots"),
        ]

    def __str__(self) -> str:
        return f"{self.block}, {self.seed}"


class SurvivalPlot(TenantModel):
    """The sampling unit: a fixed piece of a block in which every planted tree is counted."""

    block = models.ForeignKey("projects.Block", on_delete=models.PROTECT, related_name="plots")
    name = models.CharField(_("name"), max_length=40)
    shape = models.CharField(_("shape"), max_length=12, choices=Shape, default=Shape.CIRCLE)
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)
    radius_m = models.FloatField(_("radius in metres"), null=True, blank=True)
    length_m = models.FloatField(_("length in metres"), null=True, blank=True)
    width_m = models.FloatField(_("width in metres"), null=True, blank=True)
    spots = models.PositiveIntegerField(_("planting spots"), null=True, blank=True)
    area_m2 = models.FloatField(_("area in square metres"), null=True, blank=True)
    slope_percent = models.FloatField(_("slope in per cent"), null=True, blank=True)
    plot_weight = models.FloatField(_("weight where plots differ in size"), null=True, blank=True)
    holding = models.ForeignKey(
        "projects.Holding", null=True, blank=True, on_delete=models.PROTECT, related_name="plots"
    )
    selection_method = models.CharField(max_length=12, choices=Selection, default=Selection.RANDOM)
    seed = models.BigIntegerField(null=True, blank=True)
    draw_note = models.CharField(max_length=200, blank=True)
    draw = models.ForeignKey(PlotDraw, null=True, blank=True, on_delete=models.PROTECT, related_name="plots")
    draw_order = models.PositiveIntegerField(null=True, blank=True)  # its place in the points of the draw
    stands_for = models.ForeignKey(  # the unreachable plot a spare was taken up for
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="stand_ins"
    )
    stage = models.PositiveSmallIntegerField(default=1)
    is_permanent = models.BooleanField(_("permanent"), default=True)
    directions = models.CharField(_("how to find it"), max_length=300, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["block_id", "name", "id"]
        constraints = [
            unique_in_organisation("survival_plot"),
            models.UniqueConstraint(fields=["block", "name"], name="a_plot_name_is_used_once_in_a_block"),
            models.CheckConstraint(
                condition=Q(plot_weight__isnull=True) | Q(plot_weight__gt=0),
                name="a_plot_weight_is_above_zero",
            ),
            models.UniqueConstraint(fields=["draw", "draw_order"], name="a_drawn_point_is_one_plot"),
        ]

    def __str__(self) -> str:
        return self.name


class BaselineSource(models.TextChoices):
    AT_PLANTING = "at_planting", _("counted at planting")
    LATER = "later", _("counted later")
    VISIBLE_SPOTS = "visible_spots", _("rebuilt from visible spots")
    NONE = "none", _("none")


class PlotBaseline(TenantModel):
    """One revision of how many of one species and cohort were planted in a plot.

    `line` stays the same over revisions and is what visits name; the greatest revision is current.
    """

    line = models.UUIDField()
    revision = models.PositiveIntegerField(default=0)  # the log number that set it; 0 without one
    is_current = models.BooleanField(default=True)
    plot = models.ForeignKey(SurvivalPlot, on_delete=models.PROTECT, related_name="baselines")
    species = models.ForeignKey("species.Species", on_delete=models.PROTECT, related_name="+")
    cohort = models.ForeignKey(
        "projects.Cohort", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    planted = models.PositiveIntegerField(_("planted"), null=True, blank=True)
    unit = models.CharField(max_length=10, choices=Unit, default=Unit.TREE)
    source = models.CharField(max_length=14, choices=BaselineSource, default=BaselineSource.AT_PLANTING)
    counted_on = models.DateField(null=True, blank=True)
    submission_seq = models.BigIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["plot_id", "id"]
        constraints = [
            unique_in_organisation("plot_baseline"),
            models.UniqueConstraint(
                fields=["organisation", "line", "revision"], name="a_baseline_revision_exists_once"
            ),
            models.UniqueConstraint(
                fields=["organisation", "line"],
                condition=Q(is_current=True),
                name="one_current_revision_per_baseline",
            ),
        ]


class RoundStatus(models.TextChoices):
    OPEN = "open", _("open")
    CLOSED = "closed", _("closed")


class SurveyRound(TenantModel):
    """One visit to the plots of a project in one reporting season."""

    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, related_name="rounds")
    season = models.ForeignKey("projects.Season", on_delete=models.PROTECT, related_name="+")
    name = models.CharField(_("name"), max_length=120)
    opens_on = models.DateField(_("opens"))
    closes_on = models.DateField(_("closes"))
    protocol = models.CharField(_("protocol version"), max_length=40, default="1")
    status = models.CharField(max_length=8, choices=RoundStatus, default=RoundStatus.OPEN)
    second_stage_plots = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["-opens_on", "-id"]
        constraints = [
            unique_in_organisation("survey_round"),
            models.CheckConstraint(
                condition=Q(closes_on__gte=F("opens_on")), name="a_round_closes_after_it_opens"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class RoundBlock(TenantModel):
    """A block as a stratum of a round, with the size that weights it."""

    round = models.ForeignKey(SurveyRound, on_delete=models.CASCADE, related_name="round_blocks")
    block = models.ForeignKey("projects.Block", on_delete=models.PROTECT, related_name="+")
    block_plots = models.PositiveIntegerField(_("plots the block could hold"), null=True, blank=True)
    is_census = models.BooleanField(default=False)

    class Meta:
        ordering = ["round_id", "block_id"]
        constraints = [models.UniqueConstraint(fields=["round", "block"], name="a_block_is_in_a_round_once")]


class RoundPlot(TenantModel):
    """A plot that a round wants visited. One that cannot be reached stays here as missing."""

    round = models.ForeignKey(SurveyRound, on_delete=models.CASCADE, related_name="round_plots")
    plot = models.ForeignKey(SurvivalPlot, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["round_id", "plot_id"]
        constraints = [models.UniqueConstraint(fields=["round", "plot"], name="a_plot_is_in_a_round_once")]


class FieldPassRound(TenantModel):
    """A round that one phone may add visits to."""

    field_pass = models.ForeignKey(
        "projects.FieldPass", on_delete=models.CASCADE, related_name="round_grants"
    )
    round = models.ForeignKey(SurveyRound, on_delete=models.CASCADE, related_name="field_pass_grants")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["field_pass", "round"], name="a_round_is_granted_once")
        ]
