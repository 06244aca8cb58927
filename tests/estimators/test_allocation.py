"""Plots shared out among blocks: the best whole numbers, their least and most, and what cannot be done."""

import itertools

import numpy as np
import pytest

from monitoring.estimators.allocation import allocate, variance_of

SIZES, SPREADS = [4000, 2500, 3500, 500], [0.3, 0.46, 0.22, 0.4]


def best_of_all(total, sizes, spreads, at_least, most):
    """The smallest variance by trying every allocation."""
    spans = [range(at_least, most + 1)] * len(sizes)
    return min(variance_of(n, sizes, spreads) for n in itertools.product(*spans) if sum(n) == total)


@pytest.mark.parametrize("total", [8, 9, 13, 20, 31])
def test_no_whole_numbers_do_better_than_neyman(total):
    found = allocate(total, sizes=SIZES, spreads=SPREADS, rule="neyman")
    assert sum(found.plots) == total
    assert found.variance == pytest.approx(best_of_all(total, SIZES, SPREADS, 2, 25), rel=1e-12)


@pytest.mark.parametrize("seed", range(30))
def test_no_whole_numbers_within_the_budget_do_better(seed):
    random = np.random.Generator(np.random.PCG64(seed))
    sizes, spreads = random.uniform(200, 5000, 3), random.uniform(0.1, 0.5, 3)
    costs, budget = random.uniform(20, 90, 3), random.uniform(500, 1400)
    found = allocate(budget, sizes=sizes, spreads=spreads, costs=costs, rule="optimal_cost")
    spans = [range(2, int(budget / cost) + 1) for cost in costs]
    affordable = [n for n in itertools.product(*spans) if np.dot(n, costs) <= budget]
    assert np.dot(found.plots, costs) <= budget
    assert found.variance == pytest.approx(min(variance_of(n, sizes, spreads) for n in affordable), rel=1e-9)


def test_proportional_plots_follow_the_trees_planted():
    found = allocate(40, sizes=[1000, 2000, 5000], spreads=[0.4, 0.1, 0.2])
    assert found.plots == (5, 10, 25)
    assert found.real == pytest.approx((5, 10, 25))


def test_equal_plots_differ_by_one_at_most():
    plots = allocate(11, sizes=SIZES, spreads=SPREADS, rule="equal").plots
    assert sorted(plots) == [2, 3, 3, 3]


def test_neyman_gives_more_to_blocks_that_differ_within():
    tame, wild = allocate(20, sizes=[1000, 1000], spreads=[0.1, 0.4], rule="neyman").plots
    assert (tame, wild) == (4, 16)


def test_every_block_has_its_least():
    assert min(allocate(30, sizes=[10, 90_000], spreads=[0.1, 0.4], rule="neyman").plots) == 2
    assert min(allocate(30, sizes=[10, 90_000], spreads=[0.1, 0.4], at_least=5).plots) == 5


def test_no_block_gets_more_than_it_holds_and_then_adds_no_variance():
    found = allocate(30, sizes=[1000, 1000], spreads=[0.4, 0.2], rule="neyman", at_most=[6, None])
    assert found.plots == (6, 24)
    assert found.variance == pytest.approx(0.25 * 0.04 / 24)
    assert allocate(30, sizes=[1000, 1000], spreads=[0.4, 0.2], at_most=[1, 5]).plots == (1, 5)


def test_blocks_in_which_nothing_differs_are_shared_by_size():
    assert allocate(12, sizes=[1000, 3000], spreads=[0, 0], rule="neyman").plots == (3, 9)


def test_a_block_in_which_nothing_differs_keeps_its_least():
    assert allocate(12, sizes=[1000, 3000], spreads=[0.3, 0], rule="neyman").plots == (10, 2)


def test_dearer_plots_are_fewer():
    same = allocate(1000, sizes=[1, 1], spreads=[0.3, 0.3], costs=[20, 20], rule="optimal_cost")
    dear = allocate(1000, sizes=[1, 1], spreads=[0.3, 0.3], costs=[20, 80], rule="optimal_cost")
    assert same.plots == (25, 25)
    assert dear.plots[0] > 1.7 * dear.plots[1]
    assert dear.real == pytest.approx((16.667, 8.333), abs=0.001)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"total_or_budget": 7}, "do not reach"),
        ({"rule": "by_feel"}, "rule"),
        ({"rule": "optimal_cost"}, "cost"),
        ({"spreads": [0.1]}, "one entry for each block"),
        ({"at_most": [1]}, "at_most"),
        ({"sizes": [0, 1, 1, 1]}, "above 0"),
        ({"spreads": [-0.1, 0, 0, 0]}, "not below 0"),
        ({"at_least": 0}, "at_least"),
        ({"sizes": [], "spreads": []}, "one entry"),
    ],
)
def test_what_cannot_be_shared_out_is_refused_in_words(change, words):
    asked = {"total_or_budget": 20, "sizes": SIZES, "spreads": SPREADS} | change
    with pytest.raises(ValueError, match=words):
        allocate(asked.pop("total_or_budget"), **asked)


def test_sharing_out_among_hundreds_of_blocks_is_quick():
    random = np.random.Generator(np.random.PCG64(3))
    sizes, spreads = random.uniform(100, 9000, 300), random.uniform(0.1, 0.5, 300)
    found = allocate(3000, sizes=sizes, spreads=spreads, rule="neyman")
    assert sum(found.plots) == 3000
    assert found.variance < allocate(3000, sizes=sizes, spreads=spreads, rule="equal").variance
