"""Who may open what of: what decides whether a crew plants today."""

from typing import Any

from projects.models import DayRule
from tests.access.letters import ML, MLV, M

POLICY: dict[tuple[str, str], str] = {
    ("projects:day_rules", "GET"): MLV,
    ("projects:day_rules_today", "GET"): MLV,
    ("projects:day_rules_start", "POST"): M,
    ("projects:day_rule_new", "GET"): M,
    ("projects:day_rule_new", "POST"): M,
    ("projects:project_day_rules", "GET"): MLV,
    ("projects:project_day_rules_today", "GET"): MLV,
    ("projects:crew_card", "GET"): MLV,
    ("projects:project_day_rules_start", "POST"): ML,
    ("projects:project_day_rules_drop", "POST"): ML,
    ("projects:project_day_rule_new", "GET"): ML,
    ("projects:project_day_rule_new", "POST"): ML,
    ("projects:day_rule_edit", "GET"): ML,
    ("projects:day_rule_edit", "POST"): ML,
    ("projects:day_rule_move", "POST"): ML,
    ("projects:day_rule_remove", "POST"): ML,
}

OF_A_PROJECT = (
    "project_day_rules", "project_day_rules_today", "crew_card", "project_day_rules_start",
    "project_day_rules_drop", "project_day_rule_new",
)  # fmt: skip


def rule(world: Any, text: str, **fields: Any) -> DayRule:
    return DayRule.objects.create(
        organisation=world.org, measure="other", side="yes", effect="stop", words=f"{text} storm",
        source="invented", **fields,
    )  # fmt: skip


def more(world: Any, text: str) -> None:
    """Add a rule of the organisation and one of the project."""
    rule(world, text)
    world.day_rule_text = text


def own(world: Any) -> DayRule:
    """The project's own rule; made again where a row before took it away."""
    found = DayRule.objects.filter(organisation=world.org, project=world.project).first()
    return found or rule(world, world.day_rule_text, project=world.project)


def rows(world: Any) -> dict[str, Any]:
    """Return {full url name: row its uid names} where the noun of the name does not tell."""
    return {f"projects:{name}": world.project for name in OF_A_PROJECT}


def nouns(world: Any) -> dict[str, Any]:
    """Return {noun of a url name: row}."""
    return {"day_rule": own(world)}
