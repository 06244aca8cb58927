"""Who may open what of: plans of a project: versions, approval, documents."""

from typing import Any

from tests.access.letters import ML, M

POLICY: dict[tuple[str, str], str] = {
    ("projects:plan_list", "GET"): ML,
    ("projects:plan_new", "GET"): M,
    ("projects:plan_new", "POST"): M,
    ("projects:plan_detail", "GET"): ML,
    ("projects:plan_edit", "GET"): M,
    ("projects:plan_edit", "POST"): M,
    ("projects:plan_approve", "GET"): M,
    ("projects:plan_approve", "POST"): M,
    ("projects:plan_compare", "GET"): ML,
    ("projects:plan_document", "GET"): ML,
    ("projects:plan_workbook", "GET"): ML,
    ("projects:planning_worksheet", "GET"): ML,
}


def more(world: Any, text: str) -> None:
    """Give the world's plan a title that a stranger must never read."""
    world.plan.title = world.plan.note = text
    world.plan.save()


def rows(world: Any) -> dict[str, Any]:
    """Return {full url name: row its uid names} where the noun of the name does not tell."""
    return {"projects:plan_list": world.project, "projects:plan_new": world.project}


def nouns(world: Any) -> dict[str, Any]:
    """Return {noun of a url name: row}."""
    return {"plan": world.plan}
