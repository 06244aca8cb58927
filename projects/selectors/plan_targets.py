"""Whether a plan plants enough: for each block the chance of reaching its target, and the smallest sure number."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from projects.calc.assured_quantity import Assured, assured_quantity
from projects.calc.mix_living import Survival, kinds_together
from projects.models import MixLine
from projects.selectors.foreseen_survival import ForeseenSurvival, foreseen_survival
from projects.selectors.plans import Ground, PlanFrame

NO_TARGET, NO_AREA, NO_SURVIVAL, OUT_OF_REACH = "no_target", "no_area", "no_survival", "out_of_reach"


@dataclass(frozen=True)
class Expected:
    """Survival a line goes by: what the plan says, else what is foreseen now."""

    mean: float
    low: float
    high: float
    source: str
    is_missing: bool = False


@dataclass(frozen=True)
class BlockTarget:
    """One block of a plan against its target stocking.

    `missing` says what keeps the figure away; `spots` are planting spots, None where spacing is not known.
    """

    ground: Ground
    planted: int
    target: int | None
    spots: int | None
    found: Assured | None = None
    missing: str = ""
    kinds: Sequence[tuple[MixLine, int]] = ()

    @property
    def is_enough(self) -> bool:
        """Whether the mix as it is reaches the target as surely as the plan asks."""
        return self.found is not None and self.planted >= self.found.n_assured

    @property
    def does_not_fit(self) -> bool:
        """Whether the ground has fewer spots than the sure number needs."""
        return self.found is not None and self.spots is not None and self.found.n_assured > self.spots


def expected_of(frame: PlanFrame) -> dict[int, Expected]:
    """Survival of every line by its key, in a fixed number of queries."""
    silent = [line for line in frame.lines if not says_survival(line)]
    kinds = [(line.species_id, line.stock_type) for line in silent]
    foreseen = foreseen_survival(frame.plan.project, kinds) if kinds else {}
    return {line.pk: _expected(line, foreseen) for line in frame.lines}


def says_survival(line: MixLine) -> bool:
    """Whether the plan says what it believes of a line, with limits around it."""
    mean, low, high = line.survival_mean, line.survival_low, line.survival_high
    return mean is not None and low is not None and high is not None and low <= mean <= high


def _expected(line: MixLine, foreseen: Mapping[tuple[int | None, str], ForeseenSurvival]) -> Expected:
    if says_survival(line):
        return Expected(line.survival_mean, line.survival_low, line.survival_high, line.survival_source)
    found = foreseen[line.species_id, line.stock_type]
    return Expected(
        found.mean, min(found.low, found.mean), max(found.high, found.mean), found.source, found.is_missing
    )


def targets_of(frame: PlanFrame, expected: Mapping[int, Expected]) -> list[BlockTarget]:
    """Every block the plan plants in; pure arithmetic on what was read."""
    return [target_of(each, expected, frame.plan.assurance) for each in frame.used]


def target_of(each: Ground, expected: Mapping[int, Expected], assurance: float) -> BlockTarget:
    """One block. Lines of one species and stock share one survival, whatever their wave."""
    block = each.block
    per_ha = block.target_stocking_per_ha or block.project.target_stocking_per_ha
    wanted = math.ceil(per_ha * each.net_area_ha - 1e-9) if per_ha and each.net_area_ha else None
    merged = merged_lines(each.lines)
    row = BlockTarget(each, each.planted, wanted, each.spots, kinds=merged)
    missing = _missing(per_ha, each, expected)
    if missing or wanted is None:
        return _without(row, missing)
    kinds = kinds_together(planted_kinds(each.lines, expected))
    try:
        found = assured_quantity(wanted, kinds, assurance)
    except OverflowError:
        return _without(row, OUT_OF_REACH)
    return BlockTarget(each, each.planted, wanted, each.spots, found, kinds=merged)


def _missing(per_ha: int | None, each: Ground, expected: Mapping[int, Expected]) -> str:
    if not per_ha:
        return NO_TARGET
    if not each.net_area_ha:
        return NO_AREA
    return NO_SURVIVAL if any(expected[line.pk].is_missing for line in each.lines) else ""


def _without(row: BlockTarget, missing: str) -> BlockTarget:
    return BlockTarget(row.ground, row.planted, row.target, row.spots, None, missing, row.kinds)


def planted_kinds(
    lines: Iterable[MixLine], expected: Mapping[int, Expected]
) -> Iterator[tuple[tuple[int, str], int, Survival]]:
    """Each line as its kind, its plants and what is expected of them."""
    for line in lines:
        each = expected[line.pk]
        yield (line.species_id, line.stock_type), line.quantity, (each.mean, each.low, each.high)


def merged_lines(lines: Sequence[MixLine]) -> list[tuple[MixLine, int]]:
    """The first line of each species and stock type with the plants of all of them."""
    first: dict[tuple[int, str], MixLine] = {}
    sums: dict[tuple[int, str], int] = {}
    for line in lines:
        key = (line.species_id, line.stock_type)
        first.setdefault(key, line)
        sums[key] = sums.get(key, 0) + line.quantity
    return [(first[key], total) for key, total in sums.items()]
