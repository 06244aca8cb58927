"""Who may open what of: purposes, benefits, carbon, the budget by season, seed trees and collections."""

from datetime import date
from typing import Any

from projects import models as p
from tests.access.letters import ALL, ML, M

POLICY: dict[tuple[str, str], str] = {
    ("projects:project_money", "GET"): ALL,
    ("projects:project_contingency", "GET"): M,
    ("projects:project_contingency", "POST"): M,
    ("projects:plan_costs", "GET"): M,
    ("projects:plan_costs", "POST"): M,
    ("projects:project_purposes", "GET"): M,
    ("projects:project_purposes", "POST"): M,
    ("projects:project_value", "GET"): ML,
    ("projects:benefit_new", "GET"): M,
    ("projects:benefit_new", "POST"): M,
    ("projects:benefit_edit", "GET"): M,
    ("projects:benefit_edit", "POST"): M,
    ("projects:benefit_remove", "POST"): M,
    ("projects:site_zone", "GET"): M,
    ("projects:site_zone", "POST"): M,
    ("projects:site_seed", "GET"): ML,
    ("projects:seed_tree_new", "GET"): ML,
    ("projects:seed_tree_new", "POST"): ML,
    ("projects:seed_tree_edit", "GET"): ML,
    ("projects:seed_tree_edit", "POST"): ML,
    ("projects:seed_tree_remove", "POST"): ML,
    ("projects:seed_collection_new", "GET"): ML,
    ("projects:seed_collection_new", "POST"): ML,
    ("projects:seed_collection_detail", "GET"): ML,
    ("projects:seed_collection_edit", "GET"): ML,
    ("projects:seed_collection_edit", "POST"): ML,
    ("projects:seed_share_new", "GET"): ML,
    ("projects:seed_share_new", "POST"): ML,
    ("projects:seed_share_remove", "POST"): ML,
}


def more(world: Any, text: str) -> None:
    """Add this part's rows to a world of one organisation."""
    here = {"organisation": world.org, "project": world.project}
    p.ProjectPurpose.objects.create(**here, use="soil", weight=3)
    agreed = p.Consent.objects.create(
        organisation=world.org, site=world.site, kind="community", with_whom=f"{text} village", what=text,
        caretaker=text, given_on=date(2024, 1, 5),
    )  # fmt: skip
    world.benefit = p.ExpectedBenefit.objects.create(
        **here, consent=agreed, kind="nuts", from_year=5, until_year=9, lowest=1, highest=2, unit=f"kg {text}",
        per="whole", source=text,
    )  # fmt: skip

    seed_of(world, text)


def seed_of(world: Any, text: str) -> None:
    """A seed tree and a collection with a share of it."""
    here = {"organisation": world.org, "site": world.site, "species": world.lot.species}
    world.seed_tree = p.SeedTree.objects.create(**here, label=text, latitude=40.1, longitude=-7.1, note=text)
    world.seed_collection = p.SeedCollection.objects.create(
        **here, seed_lot=text, collected_on=date(2024, 10, 5), mother_trees=3, note=text
    )
    world.seed_share = p.SeedShare.objects.create(
        organisation=world.org, collection=world.seed_collection, label=f"{text} tree", weight_g=5
    )


def rows(world: Any) -> dict[str, Any]:
    """Return {full url name: row its uid names} where the noun of the name does not tell."""
    return {
        "projects:benefit_new": world.project,
        "projects:seed_tree_new": world.site,
        "projects:seed_collection_new": world.site,
        "projects:seed_share_new": world.seed_collection,
    }


def nouns(world: Any) -> dict[str, Any]:
    """Return {noun of a url name: row}."""
    return {
        "plan": world.plan, "benefit": world.benefit, "seed_tree": world.seed_tree,
        "seed_collection": world.seed_collection, "seed_share": world.seed_share,
    }  # fmt: skip
