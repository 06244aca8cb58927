"""Species themselves. A row is never deleted and its slug never changes: counts point at it for ever."""

from typing import Any, Self
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from species.errors import SlugIsPermanent, SpeciesNeverDeleted
from species.folding import folded


class GrowthForm(models.TextChoices):
    TREE = "tree", _("tree")
    SMALL_TREE = "small_tree", _("small tree")
    SHRUB = "shrub", _("shrub")
    PALM = "palm", _("palm")
    BAMBOO = "bamboo", _("bamboo")
    CLIMBER = "climber", _("climber")


class ShadeClass(models.TextChoices):
    """How much shade a young plant stands; empty means that nobody has told us."""

    LIGHT_DEMANDER = "light_demander", _("light-demanding")
    INTERMEDIATE = "intermediate", _("intermediate")
    SHADE_BEARER = "shade_bearer", _("shade-bearing")


class SpeciesQuerySet(models.QuerySet["Species"]):
    def shared_or_owned_by(self, organisation_uid: UUID | None) -> Self:
        """Keep the shared reference and the organisation's own species."""
        shared = Q(owner_organisation_uid__isnull=True)
        if organisation_uid is None:
            return self.filter(shared)
        return self.filter(shared | Q(owner_organisation_uid=organisation_uid))

    def current(self) -> Self:
        """Leave out superseded species; use for choosing, never for showing old records."""
        return self.filter(superseded_by__isnull=True)

    def delete(self) -> tuple[int, dict[str, int]]:
        raise SpeciesNeverDeleted

    def update(self, **values: Any) -> int:
        if "slug" in values:
            raise SlugIsPermanent
        return super().update(**values)


class Species(models.Model):
    """One species (or subspecies, or aggregate) as planted and counted."""

    slug = models.SlugField(_("slug"), max_length=120, unique=True)
    scientific_name = models.CharField(_("scientific name"), max_length=160)
    folded = models.CharField(max_length=160, editable=False, db_index=True)
    authority = models.CharField(_("authority"), max_length=160, blank=True)
    genus = models.CharField(_("genus"), max_length=80)
    family = models.CharField(_("family"), max_length=80)
    growth_form = models.CharField(_("growth form"), max_length=20, choices=GrowthForm.choices)
    is_nitrogen_fixer = models.BooleanField(_("fixes nitrogen"), null=True, blank=True)
    shade_class = models.CharField(_("shade class"), max_length=20, choices=ShadeClass.choices, blank=True)
    owner_organisation_uid = models.UUIDField(_("owner"), null=True, blank=True, db_index=True)
    superseded_by = models.ForeignKey(
        "self", verbose_name=_("superseded by"), null=True, blank=True,
        on_delete=models.PROTECT, related_name="supersedes",
    )  # fmt: skip
    source = models.CharField(_("source"), max_length=400)

    objects = SpeciesQuerySet.as_manager()

    class Meta:
        ordering = ["scientific_name", "id"]
        base_manager_name = "objects"
        verbose_name = _("species")
        verbose_name_plural = _("species")
        constraints = [
            models.UniqueConstraint(
                fields=["scientific_name"],
                condition=Q(owner_organisation_uid__isnull=True),
                name="one_shared_species_per_scientific_name",
            ),
            models.UniqueConstraint(
                fields=["owner_organisation_uid", "scientific_name"],
                name="one_own_species_per_scientific_name",
            ),
            models.CheckConstraint(
                condition=Q(superseded_by__isnull=True) | ~Q(superseded_by=F("id")),
                name="a_species_is_not_superseded_by_itself",
            ),
            models.CheckConstraint(condition=~Q(slug=""), name="a_species_has_a_slug"),
            models.CheckConstraint(condition=~Q(scientific_name=""), name="a_species_has_a_scientific_name"),
            models.CheckConstraint(
                condition=~Q(genus="") & ~Q(family=""), name="a_species_has_a_genus_and_a_family"
            ),
            models.CheckConstraint(condition=~Q(source=""), name="a_species_has_a_source"),
            models.CheckConstraint(
                condition=Q(growth_form__in=GrowthForm.values), name="a_growth_form_is_a_known_one"
            ),
            models.CheckConstraint(
                condition=Q(shade_class__in=["", *ShadeClass.values]), name="a_shade_class_is_a_known_one"
            ),
        ]

    def __str__(self) -> str:
        return self.scientific_name

    def save(self, *args: Any, **kwargs: Any) -> None:
        if getattr(self, "_stored_slug", None) not in (None, self.slug):
            raise SlugIsPermanent
        self.fold()
        super().save(*args, **kwargs)
        self._stored_slug = self.slug

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise SpeciesNeverDeleted

    @classmethod
    def from_db(cls, db: str | None, field_names: Any, values: Any) -> Self:
        row = super().from_db(db, field_names, values)
        row._stored_slug = row.__dict__.get("slug")
        return row

    def clean(self) -> None:
        if self.scientific_name.removeprefix("× ").split(" ")[0] != self.genus:
            raise ValidationError({"genus": _("The scientific name must begin with the genus.")})

    def fold(self) -> None:
        """Refresh what searching compares; `save` does it, bulk writers must."""
        self.folded = folded(self.scientific_name)

    @property
    def is_shared(self) -> bool:
        """Whether everybody sees this species, rather than one organisation."""
        return self.owner_organisation_uid is None
