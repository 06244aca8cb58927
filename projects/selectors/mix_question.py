"""The choices and rules of a plan as the solver reads them: plain numbers, spare plants counted in."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from projects.calc.mix_rules import Ground, MixRules, Option
from projects.models import MixLine, Plan, StockOffer, Unit
from projects.selectors.mix_choices import Candidate, Choices, is_nurse
from projects.selectors.mix_rules import PlanRules

UNKNOWN_WORTH = 0.5  # of a species whose uses nobody has told us, while the project weighs purposes


@dataclass(frozen=True)
class Question:
    """What the solver is asked; `candidates` stand in the order of `options`."""

    options: Sequence[Option]
    grounds: Sequence[Ground]
    rules: MixRules
    candidates: Sequence[Candidate] = ()


def spare_factor(plan: Plan) -> float:
    """Plants to buy for each one that goes into the ground: some are culled, some lost in handling."""
    return 1 / ((1 - plan.cull_share) * (1 - plan.handling_loss_share))


def question_of(plan: Plan, choices: Choices, rules: PlanRules) -> Question:
    """Ask for the best mix of what may be planted; blocks without spots or without a species are left out."""
    used = [each for each in choices.candidates if choices.spots[each.ground.block.pk]]
    options = [_option(each, plan, choices.has_purposes) for each in used]
    filled = {option.block for option in options}
    grounds = [
        ground_of(str(each.block.pk), choices.spots[each.block.pk] or 0, rules)
        for each in choices.grounds
        if str(each.block.pk) in filled
    ]
    limits = limits_of(each.offer for each in used)
    return Question(options, grounds, mix_rules(plan, rules, limits), used)


def _option(each: Candidate, plan: Plan, has_purposes: bool) -> Option:
    worth = 1.0 if not has_purposes else UNKNOWN_WORTH if each.worth is None else each.worth
    species = each.species
    return Option(
        str(each.ground.block.pk), str(species.pk), each.stock_type, species.genus, species.family,
        each.survival.mean, each.offer.unit_price_minor * spare_factor(plan), worth,
        bool(species.is_nitrogen_fixer), each.wave, each.is_nurse,
    )  # fmt: skip


def ground_of(name: str, spots: int, rules: PlanRules) -> Ground:
    return Ground(name, spots, rules.least_planted, None, rules.least_species or 1)


Limits = dict[tuple[int, str], tuple[int | None, int]]  # plants there are (None: any number), fewest sold


def limits_of(offers: Iterable[StockOffer]) -> Limits:
    """What sellers have together of each species and stock type, and the fewest that one of them sells.

    Seed by weight is not counted in plants, so it is left out.
    """
    found: Limits = {}
    seen = set()
    for offer in offers:
        if offer.pk in seen or offer.unit == Unit.SEED_AREA:
            continue
        seen.add(offer.pk)
        kind, fewest = (offer.species_id, offer.stock_type), offer.least_quantity or 0
        there_are, least = found.get(kind, (0, fewest))
        both = None if there_are is None or offer.on_offer is None else there_are + offer.on_offer
        found[kind] = (both, min(least, fewest))
    return found


def mix_rules(plan: Plan, rules: PlanRules, limits: Limits) -> MixRules:
    """Rules with what nurseries have and sell at least, both as plants that reach the ground."""
    spare = spare_factor(plan)
    return MixRules(
        most_of_species=rules.most_of_species,
        most_of_genus=rules.most_of_genus,
        most_of_family=rules.most_of_family,
        least_of_nitrogen_fixers=rules.least_of_nitrogen_fixers,
        least_when_used=rules.least_when_used,
        least_of_nurses=rules.least_of_nurses if rules.two_waves else None,
        most_in_second_wave=rules.most_in_second_wave if rules.two_waves else None,
        living_wanted=rules.living_wanted,
        budget=rules.budget_minor,
        on_offer={
            (str(species), stock): math.floor(there_are / spare)
            for (species, stock), (there_are, _fewest) in limits.items()
            if there_are is not None
        },
        lot_size={
            (str(species), stock): math.ceil(fewest / spare)
            for (species, stock), (_there_are, fewest) in limits.items()
            if fewest > 1
        },
    )


def written_mix(
    plan: Plan,
    lines: Iterable[MixLine],
    spots: Mapping[int, int | None],
    survival: Mapping[int, float],
    rules: PlanRules,
    roles: Mapping[int, Mapping],
    limits: Limits,
) -> tuple[Question, list[int]]:
    """Ask whether lines as they are written obey: the same options and rules, of the lines alone."""
    known = [line for line in lines if spots.get(line.block_id)]
    options = [
        Option(
            str(line.block_id), str(line.species_id), line.stock_type, line.species.genus, line.species.family,
            survival[line.pk], (line.unit_price_minor or 0) * spare_factor(plan), 1.0,
            bool(line.species.is_nitrogen_fixer), line.wave,
            is_nurse(line.species, roles.get(line.species_id, {})),
        )
        for line in known
    ]  # fmt: skip
    grounds = [
        ground_of(str(pk), spots[pk] or 0, rules) for pk in dict.fromkeys(line.block_id for line in known)
    ]
    asked = Question(options, grounds, mix_rules(plan, rules, limits))
    return asked, [line.quantity for line in known]
