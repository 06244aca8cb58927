"""Where a species is native, introduced or invasive."""

from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q
from django.db.models.functions import Length, Upper
from django.db.models.lookups import Exact
from django.utils.translation import gettext_lazy as _

from species.models.species import Species

is_country_code = RegexValidator(
    r"^[A-Z]{2}$", _("Write the country as two capitals (ISO 3166-1), such as PT.")
)


class RangeStatus(models.Model):
    """Status in a country, or in one region of it; the row of a region outranks its country's."""

    class Status(models.TextChoices):
        NATIVE = "native", _("native")
        INTRODUCED = "introduced", _("introduced")
        INVASIVE = "invasive", _("invasive")
        UNKNOWN = "unknown", _("unknown")

    species = models.ForeignKey(Species, on_delete=models.PROTECT, related_name="range_statuses")
    country_code = models.CharField(_("country"), max_length=2, validators=[is_country_code])
    region = models.CharField(_("region"), max_length=80, blank=True)
    status = models.CharField(_("status"), max_length=20, choices=Status.choices)
    source = models.CharField(_("source"), max_length=400)
    owner_organisation_uid = models.UUIDField(_("owner"), null=True, blank=True, db_index=True)

    class Meta:
        ordering = ["country_code", "region", "id"]
        indexes = [models.Index(fields=["country_code", "status"], name="range_by_country_and_status")]
        constraints = [
            models.UniqueConstraint(
                fields=["species", "country_code", "region"],
                condition=Q(owner_organisation_uid__isnull=True),
                name="one_shared_range_status_per_species_and_region",
            ),
            models.UniqueConstraint(
                fields=["species", "country_code", "region", "owner_organisation_uid"],
                name="one_own_range_status_per_species_and_region",
            ),
            models.CheckConstraint(
                condition=Q(Exact(Length("country_code"), 2))
                & Q(Exact(Upper("country_code"), models.F("country_code"))),
                name="a_country_is_two_capitals",
            ),
            models.CheckConstraint(
                condition=Q(status__in=["native", "introduced", "invasive", "unknown"]),
                name="a_range_status_is_a_known_one",
            ),
            models.CheckConstraint(condition=~Q(source=""), name="a_range_status_has_a_source"),
        ]

    def __str__(self) -> str:
        place = f"{self.country_code} {self.region}".strip()
        return f"{place}: {self.get_status_display()}"
