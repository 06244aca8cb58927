"""The mix of a plan as its page shows it: lines, sums, how varied it is, and which rules it breaks."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from projects import clocks
from projects.calc.mix import broken_rules
from projects.calc.mix_living import Living, Variety, kinds_together, living_of, variety_of
from projects.calc.mix_rules import Rule
from projects.models import Job, MixLine, Plan
from projects.selectors.mix_choices import is_nurse, spots_of
from projects.selectors.mix_question import limits_of, spare_factor, written_mix
from projects.selectors.mix_rules import PlanRules, rules_of
from projects.selectors.offers import current_offers
from projects.selectors.plan_targets import Expected, expected_of, planted_kinds
from projects.selectors.plans import Ground, PlanFrame
from species.selectors.facts import traits_of

SEARCH = "mix_search"  # kind of the job


@dataclass(frozen=True)
class Sums:
    """Some lines together.

    Attributes
    ----------
    planted : plants of both waves.
    cost_minor : of the plants in the project's currency, spare ones included; `unpriced` lines are not in it.
    living : expected living trees with limits; None where the survival of a line is not known.
    nitrogen_share, nurse_share : of all plants, and of the first wave.
    """

    planted: int
    cost_minor: int
    unpriced: int
    living: Living | None
    variety: Variety | None
    nitrogen_share: float | None
    nurse_share: float | None


@dataclass(frozen=True)
class LineRow:
    """One line with what it comes to."""

    line: MixLine
    share: float
    cost_minor: int | None
    living: Living | None
    survival: Expected

    @property
    def field_name(self) -> str:
        """Of its number in the block's form."""
        return f"q_{self.line.pk}"


@dataclass(frozen=True)
class BlockMix:
    """One block's part of the mix. `over` plants stand on no spot."""

    ground: Ground
    spots: int | None
    rows: Sequence[LineRow]
    sums: Sums
    broken: Sequence[Rule] = ()

    @property
    def left(self) -> int | None:
        return None if self.spots is None else self.spots - self.sums.planted


@dataclass(frozen=True)
class MixPage:
    """Everything the page shows of a mix."""

    blocks: Sequence[BlockMix]
    total: Sums
    broken: Sequence[Rule] = ()  # of the plan as a whole
    rules: PlanRules = field(default_factory=PlanRules)


class MixFacts:
    """What a plan's lines rest on, read once in a fixed number of queries."""

    def __init__(self, plan: Plan, frame: PlanFrame) -> None:
        self.plan, self.frame, self.rules = plan, frame, rules_of(plan)
        self.survival = expected_of(frame)
        ids = {line.species_id for line in frame.lines}
        self.roles = traits_of(ids, ["roles"], organisation_uid=plan.organisation.uid)
        self.spots = spots_of(plan, frame.grounds, self.rules)
        today = clocks.today_of(plan.organisation)
        offers = current_offers(plan.organisation, today)
        self.limits = limits_of(offer for offer in offers if offer.currency == plan.project.currency)

    def page(self) -> MixPage:
        """The whole mix as it is written."""
        blocks = [self.block(each, each.lines) for each in self.frame.grounds]
        whole = [rule for rule in self.broken(self.frame.lines) if rule.about not in self._names()]
        return MixPage(blocks, self.sums(self.frame.lines), whole, self.rules)

    def _names(self) -> set[tuple[str, ...]]:
        return {(str(each.block.pk),) for each in self.frame.grounds}

    def block(self, each: Ground, lines: Sequence[MixLine]) -> BlockMix:
        """One block with the lines given, which need not be stored."""
        planted = sum(line.quantity for line in lines)
        rows = [
            LineRow(
                line, line.quantity / planted if planted else 0.0, self._cost(line), self._living([line]),
                self.survival[line.pk],
            )
            for line in lines
        ]  # fmt: skip
        name = (str(each.block.pk),)
        broken = [rule for rule in self.broken(lines) if rule.about == name]
        return BlockMix(each, self.spots[each.block.pk], rows, self.sums(lines), broken)

    def broken(self, lines: Sequence[MixLine]) -> tuple[Rule, ...]:
        """Rules that some lines break."""
        means = {pk: each.mean for pk, each in self.survival.items()}
        planted = [line for line in lines if line.quantity]
        asked, quantities = written_mix(
            self.plan, planted, self.spots, means, self.rules, self.roles, self.limits
        )
        return broken_rules(quantities, asked.options, asked.grounds, asked.rules) if asked.options else ()

    def sums(self, lines: Sequence[MixLine]) -> Sums:
        planted = sum(line.quantity for line in lines)
        first = [line for line in lines if line.wave == 1]
        by_species: dict[int, int] = {}
        for line in lines:
            by_species[line.species_id] = by_species.get(line.species_id, 0) + line.quantity
        costs = [self._cost(line) for line in lines]
        return Sums(
            planted, sum(cost for cost in costs if cost is not None), costs.count(None), self._living(lines),
            variety_of(by_species.values()),
            _share(lines, [line for line in lines if line.species.is_nitrogen_fixer]),
            _share(first, [line for line in first if self._is_nurse(line)]),
        )  # fmt: skip

    def _is_nurse(self, line: MixLine) -> bool:
        return is_nurse(line.species, self.roles.get(line.species_id, {}))

    def _cost(self, line: MixLine) -> int | None:
        if line.unit_price_minor is None or line.currency != self.plan.project.currency:
            return None
        return round(line.quantity * line.unit_price_minor * spare_factor(self.plan))

    def _living(self, lines: Sequence[MixLine]) -> Living | None:
        if any(self.survival[line.pk].is_missing for line in lines):
            return None
        return living_of(kinds_together(planted_kinds(lines, self.survival)))


def _share(whole: Sequence[MixLine], part: Sequence[MixLine]) -> float | None:
    planted = sum(line.quantity for line in whole)
    return sum(line.quantity for line in part) / planted if planted else None


def with_quantities(lines: Sequence[MixLine], quantities: Mapping[int, int]) -> list[MixLine]:
    """Copies of lines with other numbers, for looking only; lines left at nothing are not there."""
    found = []
    for line in lines:
        copy = MixLine(
            **{each.attname: getattr(line, each.attname) for each in MixLine._meta.concrete_fields}
        )
        copy.species, copy.block = line.species, line.block
        copy.quantity = quantities.get(line.pk, line.quantity)
        if copy.quantity:
            found.append(copy)
    return found


def latest_search(plan: Plan) -> Job | None:
    """The last search for a mix of this plan, under way or over."""
    rows = Job.objects.filter(organisation_id=plan.organisation_id, kind=SEARCH)
    return rows.filter(parameters__plan=str(plan.uid)).order_by("-id").first()


def without_lines(each: Ground) -> Ground:
    return replace(each, lines=())
