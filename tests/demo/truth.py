"""Estimates of the scenario's own counts beside the truth they were drawn from, without a database."""

from dataclasses import dataclass

from monitoring.demo.shapes import BlockPlan, OrganisationPlan
from monitoring.demo.sheets import Sheets
from monitoring.estimators.round_estimates import round_estimates
from monitoring.estimators.table import BlockFacts, CountTable


@dataclass(frozen=True)
class Compared:
    """One block in one round: the true share alive, its estimate and interval."""

    block: str
    round: str
    truth: float
    value: float
    lower: float
    upper: float

    @property
    def is_covered(self) -> bool:
        return self.lower <= self.truth <= self.upper


def is_plain(block: BlockPlan) -> bool:
    """Say whether survival of a block means one simple thing: every tree planted, counted and findable."""
    plain = all(
        p.unit == "tree" and p.baseline == "at_planting" and not (p.thinned or p.replaces or p.overlooked)
        for p in block.plantings
    )
    return plain and block.shape != "whole_block"


def true_share(block: BlockPlan, key: str) -> float:
    """Return the share alive of all trees planted in a block."""
    return sum(p.quantity * p.survival[key] for p in block.plantings) / sum(
        p.quantity for p in block.plantings
    )


def compared(plan: OrganisationPlan, seed: int) -> list[Compared]:
    """Estimate every plain block in every round."""
    sheets = Sheets(plan, seed)
    return [
        compared_block(sheets, block, key) for block in plan.blocks if is_plain(block) for key in block.rounds
    ]


def compared_block(sheets: Sheets, block: BlockPlan, key: str) -> Compared:
    seen = [sheets.fates[block.name, plot.name, key].lines for plot in sheets.drawn[block.name]]
    table = CountTable.build(
        block=[0] * len(seen), plot=range(len(seen)), planted=[sum(line.planted for line in lines) for lines in seen],
        alive=[sum(line.alive for line in lines) for lines in seen],
        blocks=BlockFacts.build(1, planted=[sum(p.quantity for p in block.plantings)]),
        labels={"project": ("P",), "block": (block.name,)},
    )  # fmt: skip
    rows = round_estimates(table, scopes=("block",))
    row = next(row for row in rows if row.is_headline and row.measure == "survival")
    return Compared(block.name, key, true_share(block, key), row.value, row.lower, row.upper)
