"""Who may open what of: price lists, stock types compared, quantities, seed calculations."""

from typing import Any

from projects import models as p
from tests import factories
from tests.access.letters import M

POLICY: dict[tuple[str, str], str] = {
    ("projects:offer_new", "GET"): M,
    ("projects:offer_new", "POST"): M,
    ("projects:offer_edit", "GET"): M,
    ("projects:offer_edit", "POST"): M,
    ("projects:offer_archive", "POST"): M,
    ("projects:price_list_read", "GET"): M,
    ("projects:price_list_read", "POST"): M,
}


def more(world: Any, text: str) -> None:
    """Add this part's rows to a world of one organisation."""
    oak = factories.species("quercus-robur")
    world.offer = p.StockOffer.objects.create(
        organisation=world.org, nursery=world.lot.nursery, species=oak, stock_type="bare_root",
        unit_price_minor=62, note=f"{text} offer",
    )  # fmt: skip


def rows(world: Any) -> dict[str, Any]:
    """Return {full url name: row its uid names} where the noun of the name does not tell."""
    nursery = world.lot.nursery
    return {"projects:offer_new": nursery, "projects:price_list_read": nursery}


def nouns(world: Any) -> dict[str, Any]:
    """Return {noun of a url name: row}."""
    return {"offer": world.offer}
