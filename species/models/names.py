"""What people call a species: vernacular names by language, and scientific names no longer in use."""

from typing import Any

from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from species.folding import folded
from species.models.species import Species

is_language_tag = RegexValidator(
    r"^[a-z]{2,3}(-[A-Za-z0-9]{2,8})*$",
    _("Write the language as a BCP 47 tag, such as en, pt, sw or pt-BR."),
)


class SpeciesName(models.Model):
    """A vernacular name in one language (BCP 47)."""

    species = models.ForeignKey(Species, on_delete=models.PROTECT, related_name="names")
    language = models.CharField(_("language"), max_length=35, validators=[is_language_tag])
    name = models.CharField(_("name"), max_length=160)
    folded = models.CharField(max_length=160, editable=False, db_index=True)
    is_main = models.BooleanField(_("main name in this language"), default=False)
    source = models.CharField(_("source"), max_length=400)

    class Meta:
        ordering = ["language", "-is_main", "name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["species", "language", "name"], name="a_name_is_given_once_per_species_and_language"
            ),
            models.UniqueConstraint(
                fields=["species", "language"],
                condition=Q(is_main=True),
                name="one_main_name_per_species_and_language",
            ),
            models.CheckConstraint(
                condition=~Q(name="") & ~Q(language=""), name="a_name_has_a_text_and_a_language"
            ),
            models.CheckConstraint(condition=~Q(source=""), name="a_name_has_a_source"),
        ]

    def __str__(self) -> str:
        return self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.fold()
        super().save(*args, **kwargs)

    def fold(self) -> None:
        """Refresh what searching compares; `save` does it, bulk writers must."""
        self.folded = folded(self.name)


class SpeciesSynonym(models.Model):
    """A scientific name, other than the one in use, that leads to this species."""

    species = models.ForeignKey(Species, on_delete=models.PROTECT, related_name="synonyms")
    scientific_name = models.CharField(_("scientific name"), max_length=160)
    folded = models.CharField(max_length=160, editable=False, db_index=True)
    source = models.CharField(_("source"), max_length=400)

    class Meta:
        ordering = ["scientific_name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["species", "scientific_name"], name="a_synonym_is_given_once_per_species"
            ),
            models.CheckConstraint(condition=~Q(scientific_name=""), name="a_synonym_has_a_scientific_name"),
            models.CheckConstraint(condition=~Q(source=""), name="a_synonym_has_a_source"),
        ]

    def __str__(self) -> str:
        return self.scientific_name

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.fold()
        super().save(*args, **kwargs)

    def fold(self) -> None:
        """Refresh what searching compares; `save` does it, bulk writers must."""
        self.folded = folded(self.scientific_name)
