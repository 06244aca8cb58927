"""Days in the field: planting days as they are prepared, quality checks, walk-throughs and what led to them."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from projects.tenancy import TenantModel, unique_in_organisation


class CrewDayState(models.TextChoices):
    PLANNED = "planned", _("planned")
    GO = "go", _("go")
    NO_GO = "no_go", _("no-go today")
    CLOSED = "closed", _("closed")
    CALLED_OFF = "called_off", _("called off")


class TreeMark(models.TextChoices):
    """How replacements are told from the trees that stand already."""

    NONE = "none", _("not marked")
    TAG = "tag", _("tag")
    CANE = "cane", _("cane of a colour")
    SPOT = "spot", _("planting spot written down")


class CrewDay(TenantModel):
    """A planting day in one block as it is prepared, decided on in the morning and closed in the evening."""

    block = models.ForeignKey("projects.Block", on_delete=models.PROTECT, related_name="crew_days")
    day = models.DateField(_("day"))
    crew = models.CharField(_("crew"), max_length=120, blank=True)
    lead = models.ForeignKey(
        "projects.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    people_expected = models.PositiveSmallIntegerField(_("how many people"), null=True, blank=True)
    meet_at = models.TimeField(_("meet at"), null=True, blank=True)
    meeting_point = models.CharField(_("meeting point"), max_length=200, blank=True)
    back_by = models.TimeField(_("back by"), null=True, blank=True)
    buddies = models.CharField(_("who looks after whom, and who is told"), max_length=300, blank=True)
    depth_note = models.CharField(_("how deep"), max_length=300, blank=True)
    note = models.TextField(_("note"), blank=True)
    state = models.CharField(max_length=10, choices=CrewDayState, default=CrewDayState.PLANNED)
    decided_by = models.ForeignKey(
        "projects.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_because = models.CharField(_("because"), max_length=300, blank=True)
    readings = models.JSONField(default=dict, blank=True)  # what was read that morning, by rule
    clean_tools = models.BooleanField(_("boots and tools were cleaned"), null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)

    kept_out_of_history = ("lead", "buddies")

    class Meta:
        ordering = ["-day", "-id"]
        constraints = [unique_in_organisation("crew_day")]

    def __str__(self) -> str:
        return f"{self.block.name}, {self.day:%Y-%m-%d}"


class CrewDayPerson(TenantModel):
    """Somebody on a crew and who looks after them. Names stay in `Person`, where they can be erased."""

    crew_day = models.ForeignKey(CrewDay, on_delete=models.CASCADE, related_name="people")
    person = models.ForeignKey("projects.Person", on_delete=models.PROTECT, related_name="+")
    buddy = models.ForeignKey(
        "projects.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    back_at = models.TimeField(_("back at"), null=True, blank=True)

    class Meta:
        ordering = ["crew_day_id", "id"]
        constraints = [
            models.UniqueConstraint(fields=["crew_day", "person"], name="somebody_is_on_a_crew_once_a_day")
        ]


class CrewDayLot(TenantModel):
    """A lot a crew takes along: what was meant, and in the evening what became of it."""

    crew_day = models.ForeignKey(CrewDay, on_delete=models.CASCADE, related_name="lots")
    lot = models.ForeignKey("projects.StockLot", on_delete=models.PROTECT, related_name="crew_days")
    planned = models.PositiveIntegerField(_("meant to be planted"))
    taken = models.PositiveIntegerField(_("taken out"), null=True, blank=True)
    replaces = models.ForeignKey(
        "projects.Cohort", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    mark = models.CharField(_("mark"), max_length=6, choices=TreeMark, default=TreeMark.NONE)
    mark_note = models.CharField(_("colour or number of the mark"), max_length=60, blank=True)

    class Meta:
        ordering = ["crew_day_id", "id"]
        constraints = [
            models.UniqueConstraint(fields=["crew_day", "lot", "replaces"], name="a_lot_is_taken_once_a_day")
        ]


class QualityCheck(TenantModel):
    """Trees of one spot of ground looked at just after planting: how many are planted as they should be."""

    block = models.ForeignKey("projects.Block", on_delete=models.PROTECT, related_name="quality_checks")
    crew_day = models.ForeignKey(
        CrewDay, null=True, blank=True, on_delete=models.PROTECT, related_name="quality_checks"
    )
    lot = models.ForeignKey(
        "projects.StockLot", null=True, blank=True, on_delete=models.PROTECT, related_name="quality_checks"
    )
    checked_on = models.DateField(_("checked on"))
    label = models.CharField(_("which spot of ground"), max_length=60, blank=True)
    inspected = models.PositiveIntegerField(_("trees looked at"))
    acceptable = models.PositiveIntegerField(_("planted as they should be"))
    faults = models.JSONField(default=dict, blank=True)  # {fault: how many}
    checked_by = models.ForeignKey(
        "projects.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    note = models.CharField(_("note"), max_length=300, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["block_id", "-checked_on", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(inspected__gt=0) & Q(acceptable__lte=F("inspected")),
                name="no_more_trees_are_acceptable_than_inspected",
            )
        ]

    def __str__(self) -> str:
        return f"{self.block.name}, {self.checked_on:%Y-%m-%d}"


class EventKind(models.TextChoices):
    """What befell a site, so that somebody should go and look."""

    STORM = "storm", _("storm")
    FROST = "frost", _("frost")
    FIRE = "fire", _("fire")
    FLOOD = "flood", _("flood")
    HEAT = "heat", _("heat or drought")
    OTHER = "other", _("something else")


class SiteEvent(TenantModel):
    """Something that befell a site on a day."""

    site = models.ForeignKey("projects.Site", on_delete=models.PROTECT, related_name="events")
    kind = models.CharField(_("what happened"), max_length=6, choices=EventKind)
    happened_on = models.DateField(_("when"))
    note = models.CharField(_("note"), max_length=300, blank=True)
    voided_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["site_id", "-happened_on", "-id"]
        constraints = [unique_in_organisation("site_event")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.happened_on:%Y-%m-%d}"


class Walk(TenantModel):
    """A walk through a block between rounds: signs, never counts; it enters no estimate."""

    block = models.ForeignKey("projects.Block", on_delete=models.PROTECT, related_name="walks")
    walked_on = models.DateField(_("walked on"))
    walked_by = models.ForeignKey(
        "projects.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    note = models.TextField(_("note"), blank=True)
    submission = models.OneToOneField(
        "projects.Submission", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    voided_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["block_id", "-walked_on", "-id"]
        constraints = [unique_in_organisation("walk")]

    def __str__(self) -> str:
        return f"{self.block.name}, {self.walked_on:%Y-%m-%d}"


class Sign(models.TextChoices):
    STOCK_IN = "stock_in", _("stock or game inside")
    FENCE = "fence", _("fence down")
    GUARDS = "guards", _("guards blown or missing")
    WEEDS = "weeds", _("weeds over the tops")
    INVADERS = "invaders", _("invasive growth")
    DRY = "dry", _("trees wilting")
    LOOSE = "loose", _("trees loose, lifted or leaning")
    DISEASE = "disease", _("pest or disease")
    DAMAGE = "damage", _("broken, burnt or washed out")
    OTHER = "other", _("something else")


class Urgency(models.TextChoices):
    NOW = "now", _("now")
    WEEK = "week", _("within a week")
    MONTH = "month", _("within a month")
    NOTE = "note", _("only noted")


class Sighting(TenantModel):
    """One sign seen on a walk, where, and how soon something should be done."""

    walk = models.ForeignKey(Walk, on_delete=models.CASCADE, related_name="sightings")
    sign = models.CharField(_("what was seen"), max_length=10, choices=Sign)
    urgency = models.CharField(_("how soon"), max_length=6, choices=Urgency, default=Urgency.MONTH)
    where = models.CharField(_("where"), max_length=200, blank=True)
    latitude = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-90), MaxValueValidator(90)]
    )
    longitude = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-180), MaxValueValidator(180)]
    )
    note = models.CharField(_("note"), max_length=300, blank=True)
    task = models.ForeignKey(
        "projects.CareTask", null=True, blank=True, on_delete=models.PROTECT, related_name="sightings"
    )

    class Meta:
        ordering = ["walk_id", "id"]
        constraints = [unique_in_organisation("sighting")]

    def __str__(self) -> str:
        return str(self.get_sign_display())
