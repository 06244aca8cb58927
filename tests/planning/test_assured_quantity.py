"""How many to plant to be sure enough: against worked values, brute force, and what must hold always."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from projects.calc.assured_quantity import (
    KNOWN,
    Kind,
    assured_quantity,
    chance_of_living,
    kind_of,
    living_chances,
    shared_out,
    to_order,
)
from projects.calc.stock_cost import cost_per_living

kinds = st.builds(
    Kind, st.integers(0, 40), st.floats(0.3, 60), st.one_of(st.floats(0.3, 60), st.just(1.0))
)  # fmt: skip


def test_the_order_for_eleven_hundred_living_trees():
    """L1, arithmetic: target 1100 at 80 %, 3 % culled, 2 % lost in handling."""
    assert to_order(math.ceil(1100 / 0.8), 0.03, 0.02) == 1447


def test_the_assured_planting_when_survival_is_known_and_when_it_varies():
    """L4 and L5: 95 % sure of 1100; worked out in our list of checks with another program."""
    known = assured_quantity(1100, [Kind(100, 0.8, KNOWN)], 0.95)
    varies = assured_quantity(1100, [Kind(100, 24, 6)], 0.95)
    assert (known.n_assured, varies.n_assured) == (1406, 1642)
    assert stats.binom.sf(1099, 1406, 0.8) >= 0.95 > stats.binom.sf(1099, 1405, 0.8)
    assert stats.betabinom.sf(1099, 1642, 24, 6) >= 0.95 > stats.betabinom.sf(1099, 1641, 24, 6)
    assert (varies.n_expected, varies.for_chance, varies.for_uncertain_survival) == (1375, 31, 236)


def test_cost_of_a_living_tree():
    """X4, arithmetic: 5.00 at 60 % is dearer than 7.00 at 90 %."""
    cheap, dear = cost_per_living(5.00, 0.60, 0.5, 0.7), cost_per_living(7.00, 0.90, 0.85, 0.95)
    assert (round(cheap.expected, 2), round(dear.expected, 2)) == (8.33, 7.78)
    assert (round(cheap.least, 2), round(cheap.most, 2)) == (7.14, 10.0)
    with pytest.raises(ValueError, match="in order"):
        cost_per_living(5, 0.6, 0.7, 0.9)


def test_a_mix_by_adding_up_every_case():
    """Three kinds, every combination of their living counted by hand."""
    mix = [Kind(5, 2.0, 1.5), Kind(4, 0.3, KNOWN), Kind(3, 8.0, 2.0)]
    single = [
        stats.betabinom.pmf(range(6), 5, 2.0, 1.5), stats.binom.pmf(range(5), 4, 0.3),
        stats.betabinom.pmf(range(4), 3, 8.0, 2.0),
    ]  # fmt: skip
    sums = np.zeros(13)
    for counts in itertools.product(*(range(each.planted + 1) for each in mix)):
        sums[sum(counts)] += math.prod(chances[k] for chances, k in zip(single, counts, strict=True))
    assert living_chances(mix) == pytest.approx(sums, abs=1e-12)
    for target in range(15):
        assert chance_of_living(target, mix) == pytest.approx(sums[target:].sum(), abs=1e-12)


def test_large_mixes_agree_with_chance_simulation():
    """A sum by Fourier transform against 200 000 draws."""
    mix = [Kind(900, 30, 12), Kind(1500, 7, 3), Kind(400, 0.9, KNOWN)]
    random = np.random.default_rng(20261128)
    living = (
        random.binomial(900, random.beta(30, 12, 200_000))
        + random.binomial(1500, random.beta(7, 3, 200_000))
        + random.binomial(400, 0.9, 200_000)
    )  # fmt: skip
    for target in (1600, 1900, 2200):
        assert chance_of_living(target, mix) == pytest.approx((living >= target).mean(), abs=0.005)


def test_the_smallest_planting_of_a_mix_by_trying_every_number():
    mix = [Kind(6, 5.0, 2.0), Kind(3, 2.0, 2.0), Kind(1, 0.5, KNOWN)]
    found = assured_quantity(12, mix, 0.85)

    def chance(total):
        parts = zip(mix, shared_out(total, [6, 3, 1]), strict=True)
        return chance_of_living(12, [Kind(n, each.alive, each.dead) for each, n in parts])

    first = next(n for n in range(200) if chance(n) >= 0.85)
    assert (found.n_assured, sum(found.quantities)) == (first, first)
    assert found.quantities == shared_out(first, [6, 3, 1])
    assert found.chance_assured == pytest.approx(chance(first))


@settings(max_examples=25, deadline=None)
@given(
    st.lists(kinds, min_size=1, max_size=4).filter(lambda mix: sum(k.planted for k in mix) > 0),
    st.integers(1, 30),
)
def test_chances_add_up_and_fall_with_the_target(mix, target):
    chances = living_chances(mix)
    assert chances.sum() == pytest.approx(1, abs=1e-9)
    mean = sum(kind.planted * kind.mean for kind in mix)
    assert float((chances * np.arange(chances.size)).sum()) == pytest.approx(mean, abs=1e-6)
    assert chance_of_living(target, mix) >= chance_of_living(target + 1, mix) - 1e-12


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 500), st.lists(st.floats(0.01, 100), min_size=1, max_size=6))
def test_one_tree_more_takes_none_from_any_kind(total, weights):
    one, more = shared_out(total, weights), shared_out(total + 1, weights)
    assert (sum(one), sum(more)) == (total, total + 1)
    assert all(a <= b for a, b in zip(one, more, strict=True))


@settings(max_examples=25, deadline=None)
@given(st.floats(0.5, 500), st.floats(0.5, 500))
def test_a_beta_is_found_again_from_its_mean_and_limits(alive, dead):
    low, high = stats.beta.ppf([0.025, 0.975], alive, dead)
    mean = alive / (alive + dead)
    if not low <= mean <= high:
        return
    found = kind_of(10, mean, low, high)
    assert found.mean == pytest.approx(mean)
    ends = stats.beta.ppf([0.025, 0.975], found.alive, found.dead)
    assert ends[1] - ends[0] == pytest.approx(high - low, abs=1e-6)


def test_limits_that_meet_are_survival_known_exactly():
    assert kind_of(10, 0.8, 0.8, 0.8) == Kind(10, 0.8, KNOWN)
    assert kind_of(10, 1.0, 0.9, 1.0) == Kind(10, 1.0, KNOWN)


def test_known_better_never_needs_more_and_surer_never_needs_fewer():
    for alive, dead in ((3, 2), (30, 20), (300, 200)):
        found = assured_quantity(200, [Kind(100, alive, dead)], 0.9)
        assert found.n_expected <= found.n_if_known <= found.n_assured
        assert assured_quantity(200, [Kind(100, alive, dead)], 0.95).n_assured > found.n_assured
    wide, narrow = (assured_quantity(200, [Kind(100, n, n)], 0.9).n_assured for n in (3, 300))
    assert wide > narrow


@pytest.mark.parametrize(
    "call",
    [
        lambda: assured_quantity(10, [], 0.9),
        lambda: assured_quantity(10, [Kind(0, 1, 1)], 0.9),
        lambda: assured_quantity(10, [Kind(5, 1, 1)], 1.0),
        lambda: shared_out(-1, [1]),
        lambda: shared_out(5, [0, 0]),
        lambda: to_order(5, 1.0, 0),
        lambda: kind_of(5, 0.9, 0.1, 0.5),
    ],
)
def test_what_cannot_be_is_refused(call):
    with pytest.raises(ValueError, match=r"must|not all"):
        call()


def test_what_nobody_can_reach_is_said():
    with pytest.raises(OverflowError):
        assured_quantity(1000, [Kind(10, 0.3, 0.3)], 0.999)
    with pytest.raises(OverflowError):
        assured_quantity(10, [Kind(10, 0.0, KNOWN)], 0.9)


def test_nothing_wanted_needs_nothing():
    found = assured_quantity(0, [Kind(10, 7, 3)], 0.9)
    assert (found.n_assured, found.chance) == (0, 1.0)
