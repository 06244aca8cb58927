"""What each living tree has cost, survey round by survey round: money up to then over the trees found alive."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from monitoring import access
from monitoring.estimators import rows
from monitoring.estimators.season import Total, season_totals
from monitoring.models import Estimate, SurveyRound
from monitoring.selectors.season_rows import as_row, removed_by_ledger
from projects import figures
from projects.access import Actor, visible_budget_lines
from projects.calc.money_by_season import CostPerTree, Money, cost_per_living
from projects.interval_bar import position, width
from projects.models import Project
from projects.selectors.money import money_until

MOST = 2000  # survival rows read of one project; a hill of blocks over its rounds has far fewer


@dataclass(frozen=True)
class RoundCost:
    """One round: living trees, money of the seasons begun by then, and what each living tree comes to."""

    survey_round: SurveyRound
    living: Total
    money: Money
    spent: CostPerTree
    planned: CostPerTree
    share_surveyed: float | None
    bar: dict[str, Any]


def of_project(actor: Actor, project: Project) -> dict[str, Any]:
    """The panel of the money page; a fixed number of queries."""
    found = [(each, total, share) for each, total, share in _living(actor, project) if total.value > 0]
    lines = list(visible_budget_lines(actor).filter(project=project).select_related("season"))
    costs = []
    for each, total, share in found:
        money = money_until(lines, project.currency, each.opens_on)
        trees = (total.value, total.lower, total.upper)
        spent, planned = cost_per_living(money.spent, *trees), cost_per_living(money.planned, *trees)
        costs.append((each, total, money, spent, planned, share))
    scale = max((cost[3].most or cost[3].value or 0 for cost in costs), default=0)
    shown = [RoundCost(*cost, _bar(cost[3], scale, project.currency)) for cost in costs if cost[2].spent]
    return {"project": project, "rounds": shown, "counted_without_money": bool(found) and not shown}


def _living(actor: Actor, project: Project) -> list[tuple[SurveyRound, Total, float | None]]:
    """Living trees of each round by the ledger and the headline survival, oldest season first."""
    chosen = access.visible_estimates(actor).filter(
        project=project,
        is_headline=True,
        measure=rows.SURVIVAL,
        round__isnull=False,
        scope__in=("project", "block"),
    )
    order = ("round__season__starts_on", "round__opens_on", "round_id", "scope", "key")
    by_round: dict[int, list[Estimate]] = defaultdict(list)
    for estimate in chosen.select_related("round__season").order_by(*order)[:MOST]:
        by_round[estimate.round_id].append(estimate)
    found = []
    for held in by_round.values():
        whole = next((each for each in held if each.scope == "project"), None)
        total = None if whole is None else _total(whole, [each for each in held if each.scope == "block"])
        if whole is not None and total is not None:
            found.append((whole.round, total, whole.facts.get("share_surveyed")))
    return found


def _total(whole: Estimate, blocks: Iterable[Estimate]) -> Total | None:
    planted = (whole.facts.get("ledger_planted") or 0) - sum(removed_by_ledger(each.facts) for each in blocks)
    return season_totals(planted, as_row(whole) if planted else None, float("nan"), None).from_ledger


def _bar(cost: CostPerTree, scale: int, currency: str) -> dict[str, Any]:
    """Marks and words of an interval bar of money, from nothing at its left edge."""
    least, value = cost.least or 0, cost.value or 0
    most = scale if cost.most is None else cost.most
    words = {"value_words": figures.money(cost.value, currency), "limits_words": _limits(cost, currency)}
    if not scale:
        return words
    return words | {
        "value_x": position(value, scale),
        "lower_x": position(least, scale),
        "band": width(least, most, scale),
        "alternative": f"{words['value_words']}; {words['limits_words']}",
    }


def _limits(cost: CostPerTree, currency: str) -> str:
    least = figures.money(cost.least, currency)
    if cost.most is None:
        return _("%(least)s or more") % {"least": least}
    return _("%(least)s to %(most)s") % {"least": least, "most": figures.money(cost.most, currency)}
