"""The counts behind each figure: sums over the lines that entered it, plots missed, ages."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitoring.estimators.measures import Domains, Measure, share_not_removed
from monitoring.estimators.table import Ints
from monitoring.selectors.round_counts import UNKNOWN_AGE, RoundCounts

SUMMED = ("planted", "alive", "dead_stem", "empty_spot", "not_found", "not_assessed", "removed")
DAYS_PER_MONTH = 365.25 / 12


@dataclass(frozen=True, slots=True)
class Ages:
    """Mean age of each domain in days (None unknown) and whether it pools several planting seasons."""

    mean_days: list[int | None]
    mixed: NDArray[np.bool_]

    def reached(self, domain: int, check_age_months: int) -> bool | None:
        """Say whether the check age is behind it; None where ages are mixed or unknown."""
        days = self.mean_days[domain]
        if days is None or self.mixed[domain]:
            return None
        return days >= check_age_months * DAYS_PER_MONTH


def sums(counts: RoundCounts, domains: Domains, measure: Measure) -> dict[str, Ints]:
    """Integer sums of the count columns over the lines of a measure; each `(n_domains,)`."""
    enters, size = measure.applies & (domains.code >= 0), len(domains.keys)
    code = domains.code[enters]
    found = {name: np.bincount(code, getattr(counts.table, name)[enters], size) for name in SUMMED}
    found["counted_alive"] = np.bincount(code, measure.alive[enters], size)
    return {name: column.astype(np.int64) for name, column in found.items()}


def ages(counts: RoundCounts, domains: Domains, measure: Measure) -> Ages:
    """Tree-weighted mean age of each domain. Several planting seasons in one domain make it mixed."""
    size = len(domains.keys)
    enters = measure.applies & (domains.code >= 0) & (counts.table.planted > 0)
    dated = enters & (counts.age_days != UNKNOWN_AGE)
    trees = np.bincount(domains.code[dated], counts.table.planted[dated], size)
    days = np.bincount(domains.code[dated], (counts.table.planted * counts.age_days)[dated], size)
    width = int(counts.season.max(initial=0)) + 2
    seasons = np.unique(domains.code[enters] * width + counts.season[enters] + 1)
    several = np.bincount(seasons // width, minlength=size) > 1
    means = [int(d // n) if n else None for d, n in zip(days, trees, strict=True)]
    return Ages(means, several)


def not_removed(facts: Mapping[str, Any]) -> float:
    """Share of the trees behind a figure that was not removed on purpose, and so can live; from its facts."""
    return share_not_removed(*(int(facts.get(name, 0)) for name in ("planted", "not_assessed", "removed")))


def plots_by_block(counts: RoundCounts) -> dict[int, dict[str, int]]:
    """Plots planned, visited, destroyed, missing and outside the draw, by block code."""
    code = {block.id: number for number, block in enumerate(counts.blocks)}
    found = {
        number: {"planned": block.planned_plots, "visited": 0, "destroyed": 0, "missing": 0, "outside": 0}
        for number, block in enumerate(counts.blocks)
    }
    for name, visits in (
        ("visited", counts.visits),
        ("missing", counts.missing),
        ("outside", counts.outside),
    ):
        for visit in visits:
            if visit.block_id in code:
                found[code[visit.block_id]][name] += 1
    for visit in counts.visits:
        found[code[visit.block_id]]["destroyed"] += visit.status == "destroyed"
    return found


def plots_of(by_block: dict[int, dict[str, int]], blocks: Iterable[int]) -> dict[str, Any]:
    """Add the plots of some blocks up; plots nobody reported stay the difference to `planned`."""
    names = ("planned", "visited", "destroyed", "missing", "outside")
    chosen = list(blocks)
    return {f"plots_{name}": sum(by_block[block][name] for block in chosen) for name in names}


def blocks_of_domain(counts: RoundCounts, scope: str, key: str) -> list[int] | None:
    """Block codes a whole domain consists of, surveyed or not; None for domains within blocks."""
    if scope == "project":
        return list(range(len(counts.blocks)))
    if scope == "site":
        return [n for n, block in enumerate(counts.blocks) if str(block.site_uid) == key]
    if scope == "block":
        return [n for n, block in enumerate(counts.blocks) if str(block.uid) == key]
    return None
