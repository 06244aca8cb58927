"""What a species tolerates and does, one fact per row, each with the place it comes from."""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from species.models.species import Species
from species.traits import CATALOGUE, FROM_MEMORY, Trait


class Basis(models.TextChoices):
    MEASURED = "measured", _("measured")
    LITERATURE = "literature", _("from the literature")
    FROM_MEMORY = "from_memory", _("from memory")


def is_known_trait(key: str) -> None:
    """Refuse a trait key that the catalogue does not hold."""
    if key not in CATALOGUE:
        raise ValidationError(_("“%(key)s” is not a trait we know."), params={"key": key})


class SpeciesTrait(models.Model):
    """One fact: a number in the catalogue's unit, or one or more of its words separated by spaces."""

    species = models.ForeignKey(Species, on_delete=models.PROTECT, related_name="traits")
    trait = models.CharField(_("trait"), max_length=60, validators=[is_known_trait])
    value_number = models.DecimalField(_("number"), max_digits=14, decimal_places=3, null=True, blank=True)
    value_text = models.CharField(_("words"), max_length=120, blank=True)
    unit = models.CharField(_("unit"), max_length=20, blank=True)
    source = models.CharField(_("source"), max_length=400)
    basis = models.CharField(_("basis"), max_length=20, choices=Basis.choices)
    owner_organisation_uid = models.UUIDField(_("owner"), null=True, blank=True, db_index=True)

    class Meta:
        ordering = ["species_id", "trait", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["species", "trait"],
                condition=Q(owner_organisation_uid__isnull=True),
                name="a_shared_trait_is_given_once_per_species",
            ),
            models.UniqueConstraint(
                fields=["species", "trait", "owner_organisation_uid"],
                name="an_own_trait_is_given_once_per_species",
            ),
            models.CheckConstraint(
                condition=Q(value_number__isnull=False, value_text="")
                | (Q(value_number__isnull=True) & ~Q(value_text="")),
                name="a_trait_is_either_a_number_or_words",
            ),
            models.CheckConstraint(
                condition=Q(value_number__isnull=True) | ~Q(unit=""), name="a_number_has_a_unit"
            ),
            models.CheckConstraint(condition=~Q(source=""), name="a_trait_has_a_source"),
            models.CheckConstraint(
                condition=Q(basis=Basis.FROM_MEMORY, source=FROM_MEMORY)
                | (Q(basis__in=[Basis.MEASURED, Basis.LITERATURE]) & ~Q(source=FROM_MEMORY)),
                name="what_is_from_memory_says_so_and_the_rest_cites",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.trait}: {self.value_text or self.value_number}"

    @property
    def kind(self) -> Trait:
        """The catalogue's entry: label, unit and allowed values."""
        return CATALOGUE[self.trait]

    @property
    def words(self) -> tuple[str, ...]:
        """The words of a trait told in words; empty for a number."""
        return tuple(self.value_text.split())

    def clean(self) -> None:
        kind = CATALOGUE.get(self.trait)
        if kind is None:
            return  # the field's own validator says so
        if kind.words is None:
            self._clean_number(kind)
        else:
            self._clean_words(kind)
        if (self.basis == Basis.FROM_MEMORY) != (self.source == FROM_MEMORY):
            raise ValidationError(
                {
                    "source": _("Cite a source, or write “%(words)s” with the basis from_memory.")
                    % {"words": FROM_MEMORY}
                }
            )

    def _clean_number(self, kind: Trait) -> None:
        if self.value_text:
            raise ValidationError({"value_text": _("This trait is a number; leave the words empty.")})
        if self.value_number is None:
            raise ValidationError({"value_number": _("Give a number.")})
        if self.unit != kind.unit:
            raise ValidationError({"unit": _("The unit must be %(unit)s.") % {"unit": kind.unit}})
        if not Decimal(str(kind.lowest)) <= self.value_number <= Decimal(str(kind.highest)):
            limits = {"lowest": f"{kind.lowest:,g}", "highest": f"{kind.highest:,g}", "unit": kind.unit}
            raise ValidationError(
                {"value_number": _("Must lie between %(lowest)s and %(highest)s %(unit)s.") % limits}
            )

    def _clean_words(self, kind: Trait) -> None:
        if self.value_number is not None:
            raise ValidationError({"value_number": _("This trait is told in words; leave the number empty.")})
        if self.unit:
            raise ValidationError({"unit": _("Words have no unit; leave it empty.")})
        allowed = kind.words or {}
        if not self.words or not set(self.words) <= set(allowed):
            raise ValidationError(
                {"value_text": _("Use one or more of: %(words)s.") % {"words": ", ".join(allowed)}}
            )
