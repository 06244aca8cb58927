"""What is never brought in, whoever sends it: species that are invasive where the organisation works."""

from django.utils.translation import gettext as _

from projects.access import Actor
from projects.errors import Refusal
from projects.models import Site
from species.access import standing_ranges
from species.models import RangeStatus, Species


def refuse_invasive(actor: Actor, *species: Species, field: str = "species") -> None:
    """Refuse stock of a species that is invasive in a country where the organisation has sites."""
    countries = Site.objects.filter(organisation=actor.organisation).values("country_code")
    where = (
        standing_ranges(actor.organisation.uid)
        .filter(species__in=species, country_code__in=countries, status=RangeStatus.Status.INVASIVE)
        .select_related("species")
        .first()
    )
    if where is not None:
        raise Refusal(
            _(
                "%(species)s is invasive in %(country)s, where you have sites (%(source)s). Choose another species."
            )
            % {
                "species": where.species.scientific_name,
                "country": where.country_code,
                "source": where.source,
            },
            field=field,
            code="invasive",
        )
