"""Two people's counts and searches: what is said when there is too little, and that limits hold what they promise."""

import numpy as np
import pytest

from monitoring.estimators import observers


@pytest.mark.parametrize("n", [0, 1, 2])
def test_fewer_than_three_pairs_give_no_limits_and_say_why(n):
    found = observers.agreement([5] * n, [4] * n)
    assert (found.n_plots, found.mean, found.lower, found.reason) == (n, None, None, "too_few_pairs")


def test_one_more_pair_falls_inside_the_limits_as_often_as_they_say():
    draws = np.random.default_rng(20261125)
    inside = 0
    for _ in range(4000):
        *seen, coming = draws.normal(0.4, 2.0, 7)
        limits = observers.agreement(seen, np.zeros(6))
        inside += limits.lower <= coming <= limits.upper
    assert abs(inside / 4000 - 0.95) < 3 * (0.95 * 0.05 / 4000) ** 0.5


def test_counts_of_different_plots_are_refused():
    with pytest.raises(ValueError, match="same plots"):
        observers.agreement([1, 2, 3], [1, 2])


def test_people_who_always_agree_have_kappa_one_unless_there_was_nothing_to_tell_apart():
    assert observers.kappa([[12, 0], [0, 5]]).value == 1
    assert observers.kappa([[12, 0], [0, 0]]).reason == "one_status_only"
    assert observers.kappa([[0, 0], [0, 0]]).reason == "no_tagged_spots"


def test_kappa_does_not_care_who_stands_in_the_rows():
    table = np.array([[30, 4, 1], [2, 12, 5], [0, 6, 9]])
    one, other = observers.kappa(table), observers.kappa(table.T)
    assert (one.value, one.se) == pytest.approx((other.value, other.se))


def test_a_table_that_is_not_square_is_refused():
    with pytest.raises(ValueError, match="same statuses"):
        observers.kappa([[1, 2, 3], [1, 2, 3]])


def test_nothing_found_by_anybody_gives_no_rate():
    found = observers.detection(0, 0, 0)
    assert (found.living, found.first.value, found.reason) == (None, None, "nothing_to_find")
    assert observers.detection(3, 0, 0).first.reason == "nothing_to_find"
    assert observers.detection(3, 0, 0).second.value == 0


def test_more_found_by_both_than_by_one_is_refused():
    with pytest.raises(ValueError, match="both"):
        observers.detection(3, 2, 3)


def test_detection_recovers_the_rate_trees_were_found_at():
    draws = np.random.default_rng(7)
    first, second = draws.random(20_000) < 0.9, draws.random(20_000) < 0.7
    found = observers.detection(int(first.sum()), int(second.sum()), int((first & second).sum()))
    assert found.first.value == pytest.approx(0.9, abs=0.01)
    assert found.second.value == pytest.approx(0.7, abs=0.01)
    assert found.living_lower < 20_000 < found.living_upper
    assert found.first_of_either.value > 0.91  # trees that both missed are not in it


def test_statuses_no_better_than_chance_cannot_be_corrected():
    assert observers.rogan_gladen(0.5, 0.5, 0.5).reason == "not_better_than_chance"
    assert observers.rogan_gladen(0.01, 0.9, 0.9).value == 0
    assert observers.rogan_gladen(0.99, 0.9, 0.9).value == 1


def test_a_rise_counts_as_found_again_up_to_the_trees_not_found():
    found = observers.found_later([5, 2, 0, 4], [10, 8, 6, 3], [13, 7, 9, 20])
    assert (found.found, found.n) == (3 + 0 + 0 + 4, 11)
    assert found.lower < found.value < found.upper
    assert observers.found_later([0], [4], [9]).reason == "nothing_to_find"
