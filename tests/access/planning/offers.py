"""Who may open what of: price lists, stock types compared, quantities, seed calculations."""

from typing import Any

from projects import models as p
from tests import factories
from tests.access.letters import ML, M

POLICY: dict[tuple[str, str], str] = {
    ("projects:offer_new", "GET"): M,
    ("projects:offer_new", "POST"): M,
    ("projects:offer_edit", "GET"): M,
    ("projects:offer_edit", "POST"): M,
    ("projects:offer_archive", "POST"): M,
    ("projects:price_list_read", "GET"): M,
    ("projects:price_list_read", "POST"): M,
    ("projects:survival_prior_list", "GET"): ML,
    ("projects:survival_prior_new", "GET"): M,
    ("projects:survival_prior_new", "POST"): M,
    ("projects:survival_prior_edit", "GET"): M,
    ("projects:survival_prior_edit", "POST"): M,
    ("projects:survival_prior_remove", "POST"): M,
    ("projects:plan_quantities", "GET"): ML,
    ("projects:plan_enough", "POST"): M,
    ("projects:plan_orders", "POST"): M,
    ("projects:stock_compare", "GET"): ML,
    ("projects:seed_amount", "GET"): ML,
}


def more(world: Any, text: str) -> None:
    """Add this part's rows to a world of one organisation."""
    oak = factories.species("quercus-robur")
    world.offer = p.StockOffer.objects.create(
        organisation=world.org, nursery=world.lot.nursery, species=oak, stock_type="bare_root",
        unit_price_minor=62, note=f"{text} offer",
    )  # fmt: skip
    world.survival_prior = p.SurvivalPrior.objects.create(
        organisation=world.org,
        project=world.project,
        species=oak,
        mean=0.6,
        weight_trees=20,
        source=f"{text} trial",
    )


def rows(world: Any) -> dict[str, Any]:
    """Return {full url name: row its uid names} where the noun of the name does not tell."""
    nursery = world.lot.nursery
    plan = {"projects:plan_enough": world.plan, "projects:plan_orders": world.plan}
    return plan | {
        "projects:stock_compare": world.block,
        "projects:offer_new": nursery,
        "projects:price_list_read": nursery,
    }


def nouns(world: Any) -> dict[str, Any]:
    """Return {noun of a url name: row}."""
    return {"offer": world.offer, "survival_prior": world.survival_prior}
