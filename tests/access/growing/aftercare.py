"""Who may open what of: aftercare as a schedule: tasks of a project or a person, done, put off, dropped."""

from typing import Any

from tests.access.letters import ML, MLV

POLICY: dict[tuple[str, str], str] = {
    ("projects:care_list", "GET"): MLV,
    ("projects:care_mine", "GET"): MLV,
    ("projects:care_new", "GET"): ML,
    ("projects:care_new", "POST"): ML,
    ("projects:care_schedule", "GET"): ML,
    ("projects:care_schedule", "POST"): ML,
    ("projects:care_detail", "GET"): MLV,
    ("projects:care_done", "GET"): MLV,  # a volunteer's own task; test_care_tasks has those of others
    ("projects:care_done", "POST"): MLV,
    ("projects:care_done_today", "POST"): MLV,
    ("projects:care_reopen", "POST"): MLV,
    ("projects:care_edit", "GET"): ML,
    ("projects:care_edit", "POST"): ML,
    ("projects:care_assign", "GET"): ML,
    ("projects:care_assign", "POST"): ML,
    ("projects:care_put_off", "GET"): MLV,
    ("projects:care_put_off", "POST"): MLV,
    ("projects:care_drop", "GET"): ML,
    ("projects:care_drop", "POST"): ML,
}


def more(world: Any, text: str) -> None:
    """Give the world's care task to its volunteer."""
    world.care.assigned_to = world.members["volunteer"].person
    world.care.why = f"{text} weeds"
    world.care.save(update_fields=["assigned_to", "why"])


def rows(world: Any) -> dict[str, Any]:
    """Return {full url name: row its uid names} where the noun of the name does not tell."""
    of_the_task = {f"projects:{name}": world.care for name in ("care_done_today", "care_put_off")}
    return of_the_task | {"projects:care_new": world.block, "projects:care_schedule": world.block}


def nouns(world: Any) -> dict[str, Any]:
    """Return {noun of a url name: row}."""
    return {}
