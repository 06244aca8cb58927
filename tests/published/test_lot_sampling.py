"""Acceptance sampling against a textbook's curve, a library, and enumeration of small lots."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binomtest, hypergeom

from projects.calc.lot_sampling import (
    Points,
    chance_to_accept,
    limits_of_bad,
    sample_verdict,
    smallest_plan,
)

# Operating characteristic of the single plan n = 89, c = 2 for a large lot, to four places: Montgomery, Introduction to
# Statistical Quality Control, ch. 15 (from memory; the binomial law gives the same figures).
CURVE = {
    0.5: 0.9897,
    1: 0.9397,
    2: 0.7366,
    3: 0.4985,
    4: 0.3042,
    5: 0.1721,
    6: 0.0919,
    7: 0.0468,
    8: 0.0230,
    9: 0.0109,
}


@pytest.mark.parametrize(("percent", "chance"), CURVE.items())
def test_the_curve_of_a_textbook_plan_is_met_in_a_large_lot(percent, chance):
    lot = 10_000_000
    assert chance_to_accept(lot, round(lot * percent / 100), 89, 2) == pytest.approx(chance, abs=6e-5)


lots = st.integers(1, 400).flatmap(
    lambda lot: st.tuples(st.just(lot), st.integers(0, lot), st.integers(0, lot), st.integers(-1, lot))
)


@given(lots)
def test_chances_are_those_of_the_library(told):
    """scipy.stats.hypergeom."""
    lot, bad, drawn, most = told
    assert chance_to_accept(lot, bad, drawn, most) == pytest.approx(
        hypergeom.cdf(most, lot, bad, drawn), abs=1e-9
    )


def test_every_draw_from_a_small_lot_is_counted():
    """All 252 draws of 5 from 10, of which 4 are bad."""
    draws = list(itertools.combinations([1] * 4 + [0] * 6, 5))
    for most in range(5):
        share = sum(sum(draw) <= most for draw in draws) / len(draws)
        assert chance_to_accept(10, 4, 5, most) == pytest.approx(share)


@settings(max_examples=25)
@given(st.integers(1, 60).flatmap(lambda lot: st.tuples(st.just(lot), st.integers(1, lot))), st.floats(0, 1))
def test_limits_are_the_numbers_a_sample_is_not_too_rare_for(sizes, share):
    """Clopper and Pearson's tails, looked for one number after the other with the library's law."""
    lot, drawn = sizes
    found = int(share * drawn)
    likely = [
        bad
        for bad in range(found, lot - (drawn - found) + 1)
        if hypergeom.cdf(found, lot, bad, drawn) > 0.025 + 1e-12
        and hypergeom.sf(found - 1, lot, bad, drawn) > 0.025 + 1e-12
    ]
    limits = limits_of_bad(lot, drawn, found)
    assert (limits.fewest, limits.most) == (likely[0], likely[-1])


@pytest.mark.parametrize(("drawn", "found"), [(89, 2), (75, 0), (60, 60), (40, 17)])
def test_in_a_large_lot_limits_are_those_of_the_binomial_law(drawn, found):
    """scipy.stats.binomtest, method exact (Clopper and Pearson 1934)."""
    limits = limits_of_bad(2_000_000, drawn, found)
    known = binomtest(found, drawn).proportion_ci(0.95, method="exact")
    assert (limits.lower, limits.upper) == pytest.approx((known.low, known.high), abs=2e-5)


def test_limits_cover_at_least_as_often_as_they_say():
    """Enumerated: every number of bad plants in a lot of 60, every sample of 12."""
    for bad in range(61):
        covered = sum(
            hypergeom.pmf(found, 60, bad, 12)
            for found in range(max(0, 12 - (60 - bad)), min(12, bad) + 1)
            if limits_of_bad(60, 12, found).fewest <= bad <= limits_of_bad(60, 12, found).most
        )
        assert covered >= 0.95 - 1e-9


def test_when_all_were_looked_at_limits_are_what_was_found():
    limits = limits_of_bad(50, 50, 7)
    assert (limits.fewest, limits.most) == (7, 7)


@settings(max_examples=12)
@given(st.integers(20, 90), st.floats(0.0, 0.2), st.floats(0.05, 0.5), st.sampled_from([0.05, 0.1, 0.2]))
def test_no_smaller_plan_keeps_both_risks(lot, acceptable, apart, risk):
    """Every smaller sample with every acceptance number, by the library's law."""
    points = Points(acceptable, min(1.0, acceptable + apart), risk, risk)
    good, bad = points.bad_in(lot)
    if good >= bad:
        with pytest.raises(ValueError, match="too small"):
            smallest_plan(lot, points)
        return
    plan = smallest_plan(lot, points)

    def keeps(drawn, most):
        return (
            hypergeom.cdf(most, lot, good, drawn) >= 1 - risk - 1e-12
            and hypergeom.cdf(most, lot, bad, drawn) <= risk + 1e-12
        )

    assert keeps(plan.sample_size, plan.accept_up_to)
    assert not any(
        keeps(drawn, most) for drawn in range(1, plan.sample_size) for most in range(min(drawn, good + 1) + 1)
    )
    assert plan.accept_acceptable == pytest.approx(
        hypergeom.cdf(plan.accept_up_to, lot, good, plan.sample_size)
    )


def test_a_plan_for_a_very_large_lot_is_found_at_once():
    assert smallest_plan(2_000_000, Points()).sample_size < 90


@pytest.mark.parametrize("lot", [200, 900, 46_000])
def test_the_plan_on_the_page_decides_as_its_sample_does(lot):
    """A sample as large as the plan is never on hold: up to its number accepted, above it rejected or looked at."""
    plan = smallest_plan(lot, Points())
    told = [sample_verdict(lot, plan.sample_size, found, Points()) for found in range(plan.accept_up_to + 3)]
    assert set(told[: plan.accept_up_to + 1]) == {"accept"}
    assert "accept" not in told[plan.accept_up_to + 1 :]
    assert told[-1] == "reject"


def test_shares_of_a_lot_are_whole_plants_whatever_binary_fractions_say():
    assert 0.29 * 100 < 29 and 0.55 * 100 > 55
    assert Points(0.29, 0.55).bad_in(100) == (29, 55)


def test_an_agreed_number_is_kept_to():
    verdicts = [sample_verdict(900, 30, found, Points(), accept_up_to=0) for found in (0, 1, 5)]
    assert verdicts == ["accept", "hold", "reject"]


@pytest.mark.parametrize("wrong", [(10, 0, 0), (10, 11, 1), (10, 5, 6), (10, 5, -1)])
def test_a_sample_that_cannot_be_is_refused(wrong):
    with pytest.raises(ValueError, match="sample"):
        limits_of_bad(*wrong)
    with pytest.raises(ValueError, match="sample"):
        sample_verdict(*wrong, Points())


@pytest.mark.parametrize("wrong", [(0.2, 0.1), (-0.1, 0.1), (0.1, 1.2), (0.1, 0.2, 0), (0.1, 0.2, 0.1, 1)])
def test_points_that_tell_nothing_apart_are_refused(wrong):
    with pytest.raises(ValueError, match="must lie"):
        Points(*wrong)
