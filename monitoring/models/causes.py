"""Why trees died, as whoever leads the field work says. Truth: crews note signs, and no sign is a cause."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from projects.tenancy import TenantModel, unique_in_organisation


class Cause(models.TextChoices):
    DROUGHT = "drought", _("drought")
    FROST = "frost", _("frost")
    FLOODING = "flooding", _("flooding")
    FIRE = "fire", _("fire")
    BROWSING = "browsing", _("browsing")
    PEST_OR_DISEASE = "pest_or_disease", _("pest or disease")
    COMPETING_VEGETATION = "vegetation", _("competing vegetation")
    STOCK_CONDITION = "stock_condition", _("condition of the stock")
    PLANTING = "planting", _("planting or handling")
    PEOPLE_OR_MACHINES = "people", _("people or machines")
    OTHER = "other", _("another cause")
    NOT_KNOWN = "not_known", _("looked into, not known")


class LossCause(TenantModel):
    """One cause of the losses a round found in a block, of one species or of all; no figure rests on it."""

    round = models.ForeignKey("monitoring.SurveyRound", on_delete=models.PROTECT, related_name="loss_causes")
    block = models.ForeignKey("projects.Block", on_delete=models.PROTECT, related_name="loss_causes")
    species = models.ForeignKey("species.Species", null=True, on_delete=models.PROTECT, related_name="+")
    cause = models.CharField(_("cause"), max_length=20, choices=Cause)
    share = models.DecimalField(
        _("share of the losses"), max_digits=3, decimal_places=2, null=True, blank=True
    )
    note = models.CharField(_("note"), max_length=300, blank=True)
    assigned_by = models.ForeignKey("projects.Person", null=True, on_delete=models.PROTECT, related_name="+")
    assigned_on = models.DateField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name = _("cause of loss")
        verbose_name_plural = _("causes of loss")
        ordering = ["block_id", "round_id", "id"]
        constraints = [
            unique_in_organisation("loss_cause"),
            models.UniqueConstraint(
                fields=["round", "block", "species", "cause"],
                condition=Q(withdrawn_at__isnull=True, species__isnull=False),
                name="a_cause_is_assigned_once_for_a_species",
            ),
            models.UniqueConstraint(
                fields=["round", "block", "cause"],
                condition=Q(withdrawn_at__isnull=True, species__isnull=True),
                name="a_cause_is_assigned_once_for_a_block",
            ),
            models.CheckConstraint(
                condition=Q(share__isnull=True) | Q(share__gt=0, share__lte=1),
                name="a_share_of_losses_is_a_share",
            ),
        ]
        indexes = [models.Index(fields=["block", "round"], name="loss_cause_of_block")]

    def __str__(self) -> str:
        return f"{self.block}, {self.get_cause_display()}"
