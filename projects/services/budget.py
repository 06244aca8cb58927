"""Money planned and spent in a project, line by line: per season, in minor units of one currency."""

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects.access import Actor
from projects.errors import Refusal
from projects.models import BudgetLine, Project
from projects.services import editing
from projects.services.organisations import known_currency

FIELDS = ("kind", "what", "season", "block", "planned_minor", "spent_minor", "currency")
RATE = ("exchange_rate", "exchange_rate_on")


@transaction.atomic
def add_line(*, actor: Actor, project: Project, **values: Any) -> BudgetLine:
    """Add a line to a project's budget."""
    actor.require("project.edit")
    editing.ours(actor, project)
    line = BudgetLine(project=project, **_checked(actor, project, values))
    return editing.make(actor, line, "budget.added")


@transaction.atomic
def edit_line(*, actor: Actor, line: BudgetLine, version: str = "", **values: Any) -> BudgetLine:
    """Change a line of a budget."""
    actor.require("project.edit")
    editing.ours(actor, line)
    values = _checked(actor, line.project, values)
    return editing.change(actor, line, values, "budget.edited", version=version)


@transaction.atomic
def set_aside(*, actor: Actor, project: Project, contingency_share: Any, version: str = "") -> Project:
    """Say which share of everything planned is set aside for the unforeseen."""
    actor.require("project.edit")
    editing.ours(actor, project)
    share = float(contingency_share)
    if not 0 <= share <= 1:
        raise Refusal(_("A percentage lies between 0 and 100."), field="contingency_share")
    values = {"contingency_share": share}
    return editing.change(actor, project, values, "project.edited", version=version)


def _checked(actor: Actor, project: Project, values: dict[str, Any]) -> dict[str, Any]:
    """Keep known fields; a line in another currency needs a rate with its day, one in the project's has none."""
    values = {name: value for name, value in values.items() if name in (*FIELDS, *RATE)}
    editing.ours(actor, values.get("season"), values.get("block"))
    known_currency(values.get("currency"))
    for name in ("planned_minor", "spent_minor"):
        if values.get(name, 0) < 0:
            raise Refusal(_("An amount cannot be negative."), field=name.removesuffix("_minor"))
    block = values.get("block")
    if block is not None and block.project_id != project.pk:
        raise Refusal(_("This block belongs to another project."), field="block")
    if values.get("currency") == project.currency:
        return values | dict.fromkeys(RATE)
    rate, rate_on = values.get("exchange_rate"), values.get("exchange_rate_on")
    if rate is not None and rate <= 0:
        raise Refusal(_("A rate is above zero."), field="exchange_rate")
    if (rate is None) != (rate_on is None):
        missing = "exchange_rate" if rate is None else "exchange_rate_on"
        raise Refusal(_("Give the rate together with the day it held."), field=missing)
    return values
