"""The rules a plan's mix keeps to, as they are stored with the plan and as the solver reads them."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from projects.calc.mix import MOST_WORTH
from projects.models import Plan

SECONDS = 60
PRESET = {"most_of_species": 0.1, "most_of_genus": 0.2, "most_of_family": 0.3}


@dataclass(frozen=True)
class PlanRules:
    """Numbers of the sentences; None leaves a sentence out. Shares are of what is planted in a block.

    The first values are common practice, each for the manager to change.
    """

    aim: str = MOST_WORTH
    least_planted: float = 0.9
    most_of_species: float | None = 0.4
    most_of_genus: float | None = None
    most_of_family: float | None = None
    least_species: int | None = 3
    least_when_used: float | None = 0.05
    least_of_nitrogen_fixers: float | None = None
    budget_minor: int | None = None
    living_wanted: int | None = None
    two_waves: bool = False
    years_later: int = 3
    least_of_nurses: float = 0.3
    most_in_second_wave: float = 0.4
    seconds: int = SECONDS
    blocks: tuple[str, ...] = ()  # uids; none stands for every block of the project
    reasons: Mapping[str, str] = field(default_factory=dict)  # species key -> why one from elsewhere
    spots: Mapping[str, int] = field(default_factory=dict)  # block uid -> planting spots stated by hand

    def as_json(self) -> dict[str, Any]:
        """As the plan keeps them."""
        return {each.name: _plain(getattr(self, each.name)) for each in fields(self)}


def _plain(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else dict(value) if isinstance(value, Mapping) else value


def rules_of(plan: Plan) -> PlanRules:
    """Rules of a plan; the first values where nobody set any."""
    known = {each.name for each in fields(PlanRules)}
    stored = {name: value for name, value in (plan.mix_rules or {}).items() if name in known}
    if "blocks" in stored:
        stored["blocks"] = tuple(stored["blocks"])
    return PlanRules(**stored)
