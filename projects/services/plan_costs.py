"""Putting what a plan costs into the project's budget: drawn lines are replaced, never doubled."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from projects import figures, history
from projects.access import Actor
from projects.calc import plan_costs as calc
from projects.calc.assured_quantity import shared_out, to_order
from projects.errors import Refusal
from projects.models import BudgetLine, CostKind, MixLine, Plan, Project
from projects.services import editing
from projects.services.organisations import known_currency

DRAWN_KINDS = (CostKind.STOCK, CostKind.PLANTING)
MOST_MINOR = 2**63 - 1  # as much as a line can hold
Key = tuple[str, Any, Any, str]  # kind, block, season, currency


@dataclass(frozen=True)
class Taken:
    """What came of it. `unpriced` are lines of the mix that have no price, `emptied` budget lines kept for what was
    spent on them."""

    n_lines: int = 0
    unpriced: Sequence[MixLine] = field(default_factory=list)
    emptied: Sequence[BudgetLine] = field(default_factory=list)


@transaction.atomic
def take_costs_in(*, actor: Actor, plan: Plan, day_cost_minor: int | None, currency: str) -> Taken:
    """Write one planned line for plants and one for planting, for each block and season of a plan.

    Lines drawn before from this or another version for the same seasons, or for none, are replaced; what was spent on
    them stays, and so do lines written by hand.
    """
    actor.require("project.edit")
    editing.ours(actor, plan)
    known_currency(currency)
    if day_cost_minor is None:
        raise Refusal(_("Say what a day costs; 0 where nobody is paid."), field="day_cost")
    if day_cost_minor < 0:
        raise Refusal(_("An amount cannot be negative."), field="day_cost")
    project = editing.held(plan.project)
    mix = list(plan.mix_lines.select_related("block", "species"))
    if not mix:
        raise Refusal(_("This plan plants nothing yet. Make its mix first."), code="empty_plan")
    wanted = _wanted(plan, mix, day_cost_minor, currency)
    if any(values["planned_minor"] > MOST_MINOR for values in wanted.values()):
        raise Refusal(_("This comes to an amount too large to be meant."), field="day_cost", code="too_large")
    drawn = _drawn_before(project, plan)
    emptied = [line for line in drawn if _leave(actor, line, wanted)]
    held: dict[Key, BudgetLine] = {}
    for line in drawn:
        held.setdefault(_key(line), line)
    rates = {line.currency: line for line in project.budget_lines.filter(exchange_rate__isnull=False)}
    for key, values in wanted.items():
        if key in held:
            editing.change(actor, held[key], values, "budget.edited")
        else:
            _add(actor, project, key, values, rates)
    return Taken(len(wanted), [line for line in mix if line.unit_price_minor is None], emptied)


def planned_plants(plan: Plan, mix: Sequence[MixLine]) -> list[calc.PlannedPlants]:
    """The lines of a mix with what to order of each and when.

    What is ordered of one species, stock type and wave is reckoned for all blocks together and shared out, as the
    quantities of the plan are; what a nursery sells at least is not in it. A second wave without a season of its own
    belongs to none: it goes in years after the first.
    """
    groups: dict[tuple[int, str, int], list[MixLine]] = defaultdict(list)
    for line in mix:
        groups[line.species_id, line.stock_type, line.wave].append(line)
    found = []
    for lines in groups.values():
        quantities = [line.quantity for line in lines]
        wanted = to_order(sum(quantities), plan.cull_share, plan.handling_loss_share)
        for line, number in zip(lines, shared_out(wanted, quantities), strict=True):
            season = plan.season_id if line.wave == 1 else plan.second_season_id
            found.append(
                calc.PlannedPlants(
                    line.block_id, season, line.quantity, number, line.unit_price_minor, line.currency
                )
            )
    return found


def _wanted(plan: Plan, mix: Sequence[MixLine], day_cost: int, currency: str) -> dict[Key, dict[str, Any]]:
    plants = planned_plants(plan, mix)
    wanted: dict[Key, dict[str, Any]] = {}
    for each in calc.plant_costs(plants):
        words = _("Plants to order: %(number)s") % {"number": figures.quantity(each.plants)}
        wanted[CostKind.STOCK, each.block, each.season, each.currency] = _values(plan, words, each.minor)
    for labour in calc.labour_costs(plants, plan.trees_per_person_day, day_cost) if day_cost else []:
        words = _("Planting %(number)s plants: %(days)s person-days") % {
            "number": figures.quantity(labour.plants),
            "days": figures.quantity(labour.person_days),
        }
        wanted[CostKind.PLANTING, labour.block, labour.season, currency] = _values(plan, words, labour.minor)
    return wanted


def _values(plan: Plan, what: str, minor: int) -> dict[str, Any]:
    return {"plan": plan, "what": what, "planned_minor": minor}


def _drawn_before(project: Project, plan: Plan) -> list[BudgetLine]:
    """Lines drawn from any version for the seasons of this plan or for none, and all those drawn from this plan."""
    same = Q(season_id__in={plan.season_id, plan.second_season_id} - {None}) | Q(season__isnull=True)
    rows = project.budget_lines.filter(Q(plan=plan) | same, plan__isnull=False, kind__in=DRAWN_KINDS)
    return list(rows.select_for_update(no_key=True).order_by("id"))


def _key(line: BudgetLine) -> Key:
    return (line.kind, line.block_id, line.season_id, line.currency)


def _leave(actor: Actor, line: BudgetLine, wanted: dict[Key, dict[str, Any]]) -> bool:
    """Take away a line the plan no longer holds; say so of one that stays, empty, for what was spent on it."""
    if _key(line) in wanted:
        return False
    if line.spent_minor:
        editing.change(actor, line, {"planned_minor": 0}, "budget.edited")
        return True
    history.record(actor, "budget.taken_away", line)
    line.delete()
    return False


def _add(
    actor: Actor, project: Project, key: Key, values: dict[str, Any], rates: dict[str, BudgetLine]
) -> None:
    kind, block_id, season_id, currency = key
    line = BudgetLine(
        project=project, kind=kind, block_id=block_id, season_id=season_id, currency=currency, **values
    )
    if currency != project.currency and currency in rates:
        line.exchange_rate = rates[currency].exchange_rate
        line.exchange_rate_on = rates[currency].exchange_rate_on
    editing.make(actor, line, "budget.added")
