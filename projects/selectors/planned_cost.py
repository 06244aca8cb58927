"""What a living tree is planned to cost, before anybody has counted one."""

from dataclasses import dataclass

from projects.calc.money_by_season import CostPerTree, cost_per_living
from projects.models import Project
from projects.selectors.expected_living import ExpectedLiving, expected_living


@dataclass(frozen=True)
class PlannedCost:
    """Money planned for each tree expected to live, with what it rests on."""

    living: ExpectedLiving
    cost: CostPerTree


def planned_cost_of_a_tree(project: Project, planned_minor: int) -> PlannedCost | None:
    """Planned money, the money set aside included, over the living trees of the plan (else of what was planted)."""
    living = expected_living(project)
    if not living.trees or not planned_minor:
        return None
    limits = living.limits
    return PlannedCost(living, cost_per_living(planned_minor, living.mean, limits.low, limits.high))
