"""Why trees are planted and what people gain of them; seed trees and what was collected from them."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from projects.tenancy import TenantModel, unique_in_organisation
from species.traits import USES

month = [MinValueValidator(1), MaxValueValidator(12)]
share = [MinValueValidator(0), MaxValueValidator(1)]


class ProjectPurpose(TenantModel):
    """One thing a project is for, and how much it counts beside the others."""

    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, related_name="purposes")
    use = models.CharField(_("purpose"), max_length=20, choices=list(USES.items()))
    weight = models.PositiveSmallIntegerField(
        _("weight"), validators=[MinValueValidator(1), MaxValueValidator(10)]
    )

    class Meta:
        ordering = ["project_id", "-weight", "use"]
        constraints = [
            models.UniqueConstraint(fields=["project", "use"], name="a_purpose_is_weighed_once_in_a_project")
        ]

    def __str__(self) -> str:
        return str(self.get_use_display())


class BenefitKind(models.TextChoices):
    FRUIT = "fruit", _("fruit")
    NUTS = "nuts", _("nuts")
    FODDER = "fodder", _("fodder")
    TIMBER = "timber", _("timber")
    FIREWOOD = "firewood", _("firewood")
    HONEY = "honey", _("honey")
    WATER = "water", _("water")
    SOIL = "soil", _("soil")
    OTHER = "other", _("other")


class ExpectedBenefit(TenantModel):
    """What somebody may gain of the trees, in which years after planting: a range, never a promise."""

    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, related_name="benefits")
    consent = models.ForeignKey(
        "projects.Consent", null=True, blank=True, on_delete=models.PROTECT, related_name="expected_benefits"
    )
    species = models.ForeignKey(
        "species.Species", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    kind = models.CharField(_("what"), max_length=10, choices=BenefitKind)
    from_year = models.PositiveSmallIntegerField(_("from year after planting"))
    until_year = models.PositiveSmallIntegerField(_("until year after planting"))
    lowest = models.FloatField(_("at least"), validators=[MinValueValidator(0)])
    highest = models.FloatField(_("at most"), validators=[MinValueValidator(0)])
    unit = models.CharField(_("unit"), max_length=30, help_text=_("for example kg a year"))
    per = models.CharField(
        _("for"), max_length=5,
        choices=[("tree", _("each living tree")), ("ha", _("each hectare")), ("whole", _("the whole"))],
    )  # fmt: skip
    source = models.CharField(_("source"), max_length=200)

    class Meta:
        ordering = ["project_id", "from_year", "kind", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(until_year__gte=F("from_year")), name="a_benefit_ends_after_it_begins"
            ),
            models.CheckConstraint(
                condition=Q(highest__gte=F("lowest")), name="a_benefit_is_a_range_from_low_to_high"
            ),
        ]

    def __str__(self) -> str:
        return str(self.get_kind_display())


class SeedTree(TenantModel):
    """A tree whose seed may be gathered."""

    site = models.ForeignKey("projects.Site", on_delete=models.PROTECT, related_name="seed_trees")
    species = models.ForeignKey("species.Species", on_delete=models.PROTECT, related_name="+")
    label = models.CharField(_("label"), max_length=60)
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)
    ripe_from_month = models.PositiveSmallIntegerField(
        _("ripe from month"), null=True, blank=True, validators=month
    )
    ripe_to_month = models.PositiveSmallIntegerField(
        _("ripe to month"), null=True, blank=True, validators=month
    )
    note = models.CharField(_("note"), max_length=300, blank=True)

    class Meta:
        ordering = ["site_id", "species_id", "label"]
        constraints = [
            unique_in_organisation("seed_tree"),
            models.UniqueConstraint(
                fields=["site", "label"], name="a_seed_tree_label_is_used_once_on_a_site"
            ),
        ]

    def __str__(self) -> str:
        return self.label


class SeedCollection(TenantModel):
    """Seed of one species gathered on one site on one day: a seed lot with its mother trees."""

    site = models.ForeignKey("projects.Site", on_delete=models.PROTECT, related_name="seed_collections")
    species = models.ForeignKey("species.Species", on_delete=models.PROTECT, related_name="+")
    seed_lot = models.CharField(_("seed lot"), max_length=60)
    collected_on = models.DateField(_("collected on"))
    mother_trees = models.PositiveIntegerField(_("how many mother trees"), validators=[MinValueValidator(1)])
    apart_m = models.FloatField(_("least distance between them in metres"), null=True, blank=True)
    weight_g = models.FloatField(_("weight in grams"), null=True, blank=True)
    purity_share = models.FloatField(_("purity"), null=True, blank=True, validators=share)
    germination_share = models.FloatField(_("germination"), null=True, blank=True, validators=share)
    collector = models.ForeignKey(
        "projects.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    permit_reference = models.CharField(_("permit"), max_length=100, blank=True)
    note = models.CharField(_("note"), max_length=300, blank=True)

    kept_out_of_history = ("collector",)

    class Meta:
        ordering = ["-collected_on", "-id"]
        constraints = [
            unique_in_organisation("seed_collection"),
            models.UniqueConstraint(
                fields=["organisation", "seed_lot"], name="a_collected_seed_lot_is_named_once"
            ),
        ]

    def __str__(self) -> str:
        return self.seed_lot


class SeedShare(TenantModel):
    """What one mother tree gave to a collection; many unequal shares behave like few parents."""

    collection = models.ForeignKey(SeedCollection, on_delete=models.CASCADE, related_name="shares")
    seed_tree = models.ForeignKey(
        SeedTree, null=True, blank=True, on_delete=models.PROTECT, related_name="shares"
    )
    label = models.CharField(_("label"), max_length=60, blank=True)
    weight_g = models.FloatField(_("weight in grams"), validators=[MinValueValidator(0)])

    class Meta:
        ordering = ["collection_id", "id"]
