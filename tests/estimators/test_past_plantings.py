"""Which past plantings speak for the next one, at what age, and with what weight."""

from datetime import date

import pytest

from monitoring.estimators.carrying import LossRate, Recount, rate_after_first_year, share_carried
from monitoring.estimators.past_plantings import (
    PlantingCount,
    as_one,
    at_check,
    foresee,
    in_window,
    loss_rate,
)
from monitoring.estimators.planting_survival import ReplacementSurvival, survival_of_groups

OAK, ALDER, CHECK = 1, 2, 730.5
SPRING, AUTUMN = date(2023, 3, 1), date(2023, 11, 10)
PRIOR = ReplacementSurvival(7, 3)
NO_RATE = LossRate()


def count(cohort, alive, trees=100, *, species=OAK, stock="bare_root", on=SPRING, age=800, plots=5, icc=0.0):
    return PlantingCount(cohort, species, stock, on, age, trees, alive, plots, icc)


def foreseen(counts, *, species=OAK, stock="bare_root", window=None, check=CHECK, rate=NO_RATE):
    return foresee(
        counts, species=species, stock_type=stock, window=window, check_days=check, rate=rate, prior=PRIOR
    )


def same(found, alive, trees, prior=None):
    wanted = survival_of_groups(alive, trees, prior)
    assert found.survival.mean == pytest.approx(wanted.mean, rel=1e-12)
    assert found.survival.quantile(0.1) == pytest.approx(wanted.quantile(0.1), rel=1e-9)


def test_each_planting_is_taken_at_the_check_else_at_its_last_count():
    rows = [
        count("a", 90, age=300),
        count("a", 80, age=720),
        count("a", 60, age=1500),
        count("b", 70, age=200),
    ]
    assert [(row.cohort, row.age_days) for row in at_check(rows, CHECK)] == [("a", 720), ("b", 200)]
    assert at_check([count("c", 0, trees=0), count("d", 0, plots=0)], CHECK) == []


def test_the_rate_after_the_first_year_leaves_the_first_year_out():
    rows = [
        count("a", 900, 1000, age=100),
        count("a", 700, 1000, age=400),
        count("a", 630, 1000, age=400 + 731),
    ]
    rows += [count("b", 990, 1000, age=100), count("b", 500, 1000, age=329)]
    found = loss_rate(rows)
    assert found.n_plantings == 1
    assert found.yearly_survival == pytest.approx(0.9**0.5, abs=0.001)


def test_no_loss_seen_is_not_taken_for_no_loss_ever():
    found = rate_after_first_year([Recount(50, 0.8, 0.8, 1.0), Recount(50, 0.8, 0.9, 1.0)])
    assert 0.99 < found.yearly_survival < 1
    assert rate_after_first_year([Recount(40, 0.5, 0.0, 1.0)]).yearly_survival == pytest.approx(0.5 / 20)
    assert rate_after_first_year([Recount(50, 0.8, 0.4, 1.0)]).yearly_survival == pytest.approx(19.5 / 40)
    assert rate_after_first_year([]).yearly_survival is None


def test_an_age_that_is_not_known_carries_nothing():
    assert share_carried(0.4, None, 900, LossRate(0.5, 2)) == 1.0


def test_the_nearest_plantings_that_are_enough_speak_alone():
    rows = [
        count("a", 90), count("b", 80), count("c", 60, on=AUTUMN), count("d", 50, on=AUTUMN),
        count("e", 20, species=ALDER), count("f", 95, stock="container"),
    ]  # fmt: skip
    autumn = foreseen(rows, window=(date(2026, 11, 1), date(2026, 12, 15)))
    assert (autumn.level, autumn.n_plantings, autumn.joined) == ("window", 2, False)
    same(autumn, [60, 50], [100, 100])
    lone = foreseen(rows[:3], window=(date(2026, 11, 1), date(2026, 12, 15)))
    assert (lone.level, lone.n_plantings) == ("species", 3)
    any_time = foreseen(rows, window=(date(2026, 6, 1), date(2026, 7, 1)))
    assert (any_time.level, any_time.n_plantings, any_time.n_plots) == ("species", 4, 20)
    same(any_time, [90, 80, 60, 50], [100] * 4)
    mix = foreseen(rows, species=None)
    assert (mix.level, mix.n_plantings) == ("stock_type", 5)
    same(mix, [90, 80, 60, 50, 20], [100] * 5)
    unknown = foreseen(rows, stock="cutting")
    assert (unknown.level, unknown.n_plantings) == ("project", 6)


def test_too_little_is_joined_with_the_wider_level():
    rows = [count("a", 90), count("b", 80), count("e", 20, species=ALDER)]
    found = foreseen(rows, species=ALDER)
    assert (found.level, found.n_plantings, found.joined) == ("species", 1, True)
    wider = foreseen(rows, species=None).survival
    same(found, [20], [100], as_one(wider))
    assert 0.2 < found.survival.mean < wider.mean
    alone = foreseen([count("a", 30)])
    assert (alone.level, alone.joined) == ("species", True)
    assert 0.3 < alone.survival.mean < PRIOR.mean
    assert foreseen([count("a", 30, plots=1)]).survival == PRIOR
    assert foreseen([]).level == ""


def test_trees_of_a_plot_count_for_less_when_they_share_their_fate():
    """20 trees in a plot alike by 0.1: 100 trees are worth 100 / 2.9."""
    rows = [count("a", 90, icc=0.1), count("b", 60, icc=0.1)]
    same(foreseen(rows), [90 / 2.9, 60 / 2.9], [100 / 2.9] * 2)
    unknown = [count("a", 90, icc=None), count("b", 60, icc=None)]
    same(foreseen(unknown), [90 / 2.9, 60 / 2.9], [100 / 2.9] * 2)


def test_a_count_before_the_check_is_carried_and_said_so():
    rate = LossRate(0.8, 3)
    rows = [count("a", 90, age=400), count("b", 60, age=760)]
    found = foreseen(rows, check=400 + 365.25, rate=rate)
    assert found.carried
    same(found, [90 * 0.8, 60], [100, 100])
    assert not foreseen([count("a", 90), count("b", 60)]).carried


@pytest.mark.parametrize(
    ("day", "inside"),
    [(date(2020, 12, 20), True), (date(2021, 2, 27), True), (date(2019, 11, 12), True),
     (date(2019, 11, 5), False), (date(2021, 3, 25), False)],
)  # fmt: skip
def test_a_window_over_new_year_holds_both_its_ends(day, inside):
    assert in_window(day, (date(2026, 12, 1), date(2027, 2, 28))) is inside
