"""Two waves, least cost and best-so-far: as good as trying everything, and the right rule named."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from projects.calc.mix import (
    INFEASIBLE,
    LEAST_COST,
    MOST_WORTH,
    OPTIMAL,
    best_mix,
    broken_rules,
    mixes_so_far,
)
from projects.calc.mix_rules import (
    BUDGET,
    LEAST_OF_SPECIES,
    LEAST_PLANTED,
    LIVING_WANTED,
    LOT_SIZE,
    MOST_OF_SPECIES,
    NITROGEN,
    NURSES,
    ON_OFFER,
    SECOND_WAVE,
    SPECIES_NUMBER,
    SPOTS,
    Ground,
    MixRules,
    Option,
    Rule,
)


def option(species="oak", block="A", survival=0.8, price=1.0, **more):
    return Option(block, species, "bare_root", species, species, survival=survival, price=price, **more)


def every_mix(options, grounds):
    """Every way to fill each option from nothing to its block's spots, one row each."""
    spots = {ground.name: ground.spots for ground in grounds}
    ranges = [range(spots[o.block] + 1) for o in options]
    return np.array(list(itertools.product(*ranges)))


def broken_by(mixes, options, grounds, rules):
    """Rule → which mixes break it, told without the program: counts and shares, straight from the sentences."""
    said = {}
    living, price = np.array([o.survival for o in options]), np.array([o.price for o in options])
    if rules.budget is not None:
        said[Rule(BUDGET)] = mixes @ price > rules.budget + 1e-6
    if rules.living_wanted is not None:
        said[Rule(LIVING_WANTED)] = mixes @ living < rules.living_wanted - 1e-6
    for species, most in rules.on_offer.items():
        mine = np.array([(o.species, o.stock_type) == species for o in options])
        said[Rule(ON_OFFER, species)] = mixes[:, mine].sum(1) > most
    for species, least in rules.lot_size.items():
        bought = mixes[:, np.array([(o.species, o.stock_type) == species for o in options])].sum(1)
        said[Rule(LOT_SIZE, species)] = (bought > 0) & (bought < least)
    for ground in grounds:
        said |= broken_in(ground, mixes, options, rules)
    return said


def broken_in(ground, mixes, options, rules):
    about, spots = (ground.name,), ground.spots

    def number(chosen):
        return mixes[:, np.array([o.block == ground.name and bool(chosen(o)) for o in options])].sum(1)

    planted = number(lambda o: True)
    by_species = [number(lambda o, s=s: o.species == s) for s in sorted({o.species for o in options})]
    first, second = number(lambda o: o.wave == 1), number(lambda o: o.wave == 2)
    nurses = number(lambda o: o.wave == 1 and o.is_nurse)
    used = sum((each > 0).astype(int) for each in by_species)
    said = {
        Rule(SPOTS, about): planted > spots,
        Rule(LEAST_PLANTED, about): planted < ground.least_share * spots - 1e-6,
    }
    if ground.least_species > 1:
        said[Rule(SPECIES_NUMBER, about)] = used < ground.least_species
    if rules.most_of_species is not None:
        over = [each > rules.most_of_species * planted + 1e-6 for each in by_species]
        said[Rule(MOST_OF_SPECIES, about)] = np.any(over, axis=0)
    if rules.least_of_nitrogen_fixers is not None:
        fixers = number(lambda o: o.fixes_nitrogen)
        said[Rule(NITROGEN, about)] = fixers < rules.least_of_nitrogen_fixers * planted - 1e-6
    if rules.least_when_used is not None:
        least = rules.least_when_used * spots
        few = [(each > 0) & (each < least - 1e-6) for each in by_species]
        said[Rule(LEAST_OF_SPECIES, about)] = np.any(few, axis=0)
    if rules.most_in_second_wave is not None:
        said[Rule(SECOND_WAVE, about)] = second > rules.most_in_second_wave * spots + 1e-6
    if rules.least_of_nurses is not None:
        lacking = (nurses < 1) | (nurses < rules.least_of_nurses * first - 1e-6)
        said[Rule(NURSES, about)] = (second > 0) & lacking
    return said


shares = st.sampled_from([None, 0.25, 0.5, 0.75])
small_options = st.lists(
    st.builds(
        option,
        species=st.sampled_from(["alder", "beech", "cherry", "oak"]),
        block=st.sampled_from("AB"),
        survival=st.sampled_from([0.4, 0.55, 0.7, 0.95]),
        price=st.sampled_from([1.0, 1.5, 4.0]),
        worth=st.sampled_from([0.25, 1.0]),
        fixes_nitrogen=st.booleans(),
        wave=st.sampled_from([1, 1, 2]),
        is_nurse=st.booleans(),
    ),
    min_size=1,
    max_size=5,
    unique_by=lambda o: (o.block, o.species, o.wave),
)
small_rules = st.builds(
    MixRules,
    most_of_species=st.sampled_from([None, 0.5, 0.75]),
    least_of_nitrogen_fixers=shares,
    least_when_used=st.sampled_from([None, 0.3]),
    least_of_nurses=shares,
    most_in_second_wave=shares,
    budget=st.sampled_from([None, 4.0, 9.0]),
    living_wanted=st.sampled_from([None, 2.0]),
    lot_size=st.sampled_from([{}, {("oak", "bare_root"): 2}]),
    on_offer=st.sampled_from([{}, {("beech", "bare_root"): 2}]),
)


def grounds_of(options, least_share, least_species):
    grounds = [Ground("A", 4, least_share, None, least_species), Ground("B", 3, least_share)]
    return [ground for ground in grounds if any(o.block == ground.name for o in options)]


@settings(max_examples=30, deadline=None)
@given(small_options, st.sampled_from([0.0, 0.6, 1.0]), st.integers(1, 2), small_rules, st.booleans())
def test_no_mix_there_is_does_better(options, least_share, least_species, rules, by_cost):
    grounds = grounds_of(options, least_share, least_species)
    mixes = every_mix(options, grounds)
    broken = np.any(list(broken_by(mixes, options, grounds, rules).values()), axis=0)
    each = np.array([o.price if by_cost else -o.survival * o.worth for o in options])
    found = best_mix(options, grounds, rules, aim=LEAST_COST if by_cost else MOST_WORTH, gap=0)
    if broken.all():
        assert found.status == INFEASIBLE
        assert found.give_up
        return
    assert found.status == OPTIMAL
    assert not broken[(mixes == found.quantities).all(1)].any()
    assert found.quantities @ each == pytest.approx((mixes @ each)[~broken].min(), abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(small_options, st.integers(1, 3), small_rules)
def test_what_is_to_be_given_up_suffices_and_nothing_less_does(options, least_species, rules):
    grounds = grounds_of(options, 0.8, least_species)
    found = best_mix(options, grounds, rules)
    if found.status != INFEASIBLE:
        return
    mixes = every_mix(options, grounds)
    said = broken_by(mixes, options, grounds, rules)
    possible = ~np.any([on for rule, on in said.items() if rule.kind in (SPOTS, ON_OFFER)], axis=0)
    loose = {rule: on[possible] for rule, on in said.items() if rule.kind not in (SPOTS, ON_OFFER)}
    assert len(found.give_up) == np.sum(list(loose.values()), axis=0).min()
    assert (~np.any([on for rule, on in loose.items() if rule not in found.give_up], axis=0)).any()
    alone = {kind for kind in {rule.kind for rule in loose}
             if (~np.any([on for rule, on in loose.items() if rule.kind != kind], axis=0)).any()}  # fmt: skip
    assert set(found.ways_out) <= alone
    if len({rule.kind for rule in found.give_up}) == 1:
        assert set(found.ways_out) == alone


@settings(max_examples=25, deadline=None)
@given(small_options, st.integers(1, 3), small_rules, st.data())
def test_a_mix_by_hand_breaks_the_same_rules(options, least_species, rules, data):
    grounds = grounds_of(options, 0.8, least_species)
    mix = [data.draw(st.integers(0, 5)) for _option in options]
    said = broken_by(np.array([mix]), options, grounds, rules)
    assert set(broken_rules(mix, options, grounds, rules)) == {rule for rule, on in said.items() if on[0]}


def test_an_overfull_block_without_a_second_wave_asks_for_no_nurses():
    options = [option("alder", "B"), option("beech", "B", wave=2)]
    broken = broken_rules([40, 0], options, [Ground("B", 3)], MixRules(None, least_of_nurses=0.25))
    assert {rule.kind for rule in broken} == {SPOTS}


def test_shade_bearers_wait_for_nurses_and_their_spots_stay_free():
    options = [
        option("pine", survival=0.95),
        option("birch", survival=0.6, is_nurse=True),
        option("beech", survival=0.9, worth=3, wave=2),
    ]
    rules = MixRules(least_of_nurses=0.5, most_in_second_wave=0.4)
    found = best_mix(options, [Ground("A", 100)], rules)
    assert found.quantities == (30, 30, 40)
    without_nurses = [options[0], options[2]]
    assert best_mix(without_nurses, [Ground("A", 100)], rules).quantities == (100, 0)
    assert broken_rules((40, 20, 40), options, [Ground("A", 100)], rules) == (Rule(NURSES, ("A",)),)
    assert broken_rules((25, 25, 50), options, [Ground("A", 100)], rules) == (Rule(SECOND_WAVE, ("A",)),)
    assert broken_rules((0, 0, 40), options, [Ground("A", 100, 0)], rules) == (Rule(NURSES, ("A",)),)


def test_a_block_is_not_nursed_by_its_neighbour():
    options = [
        option("birch", "B", is_nurse=True),
        option("pine", "A"),
        option("beech", "A", worth=3, wave=2),
    ]
    found = best_mix(options, [Ground("A", 10), Ground("B", 10)], MixRules(least_of_nurses=0.3))
    assert found.quantities == (10, 10, 0)


def test_the_least_money_for_the_living_trees_wanted():
    options = [option("cheap", survival=0.4, price=1.0), option("dear", survival=0.8, price=1.9)]
    rules = MixRules(living_wanted=40)
    found = best_mix(options, [Ground("A", 100, 0)], rules, aim=LEAST_COST)
    assert (found.quantities, found.cost) == ((0, 50), pytest.approx(95))
    assert found.gap == pytest.approx(0, abs=1e-6)
    told = best_mix(options, [Ground("A", 40, 0)], rules, aim=LEAST_COST)
    assert told.give_up == (Rule(LIVING_WANTED),)


def test_each_rule_that_would_do_alone_is_offered():
    found = best_mix([option()], [Ground("A", 100)], MixRules(budget=20))
    assert set(found.ways_out) == {BUDGET, LEAST_PLANTED}


def test_what_is_told_gets_better_and_its_bound_tighter():
    options = [
        option(f"s{s}", f"B{b}", 0.4 + 0.013 * ((7 * s + 3 * b) % 40), 1 + (s * b) % 7, worth=0.3 + s % 5 / 5)
        for s in range(12) for b in range(4)
    ]  # fmt: skip
    grounds = [Ground(f"B{b}", 500 + 37 * b, 0.9, None, 5) for b in range(4)]
    rules = MixRules(0.3, least_when_used=0.05, budget=6000.0, lot_size={("s3", "bare_root"): 400})
    told = list(mixes_so_far(options, grounds, rules, gap=0.001, time_limit_s=20))
    assert told[-1].status == OPTIMAL
    assert [mix.worth for mix in told] == sorted(mix.worth for mix in told)
    assert all(mix.bound >= told[-1].worth - 1e-6 for mix in told)
    assert all(broken_rules(mix.quantities, options, grounds, rules) == () for mix in told)
    whole = best_mix(options, grounds, rules, gap=0)
    assert told[-1].worth >= whole.worth * 0.999


def test_a_wave_there_is_not_is_refused():
    with pytest.raises(ValueError, match="wave"):
        best_mix([option(wave=3)], [Ground("A", 10)])
