"""Who may open what of: an organisation's own species and values."""

from typing import Any

from species.models import RangeStatus, SpeciesTrait
from tests import factories
from tests.access.letters import ALL, M

POLICY: dict[tuple[str, str], str] = {
    ("projects:species_new", "GET"): M,
    ("projects:species_new", "POST"): M,
    ("projects:species_table", "GET"): ALL,
    ("projects:species_table_schema", "GET"): ALL,
    ("projects:species_import", "GET"): M,
    ("projects:species_import", "POST"): M,
    ("projects:own_species_edit", "GET"): M,
    ("projects:own_species_edit", "POST"): M,
    ("projects:own_values", "GET"): M,
    ("projects:own_status_new", "GET"): M,
    ("projects:own_status_new", "POST"): M,
    ("projects:own_status_remove", "POST"): M,
    ("projects:own_facts", "GET"): M,
    ("projects:own_facts", "POST"): M,
    ("projects:own_facts_remove", "POST"): M,
}


def more(world: Any, text: str) -> None:
    """Add this part's rows to a world of one organisation: a species, a value and a status of its own."""
    own = {"owner_organisation_uid": world.org.uid, "source": f"{text} flora"}
    factories.species(f"fraxinus-{world.org.slug}", **own | {"scientific_name": f"Fraxinus {text}"})
    oak = factories.species("quercus-robur")
    SpeciesTrait.objects.create(species=oak, trait="uses", value_text="soil", basis="literature", **own)
    RangeStatus.objects.create(species=oak, country_code="PT", status="native", **own)


def rows(world: Any) -> dict[str, Any]:
    """Return {full url name: row its uid names} where the noun of the name does not tell."""
    return {}


def nouns(world: Any) -> dict[str, Any]:
    """Return {noun of a url name: row}."""
    return {}
