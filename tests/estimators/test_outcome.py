"""The outcome against a target, and what would settle it."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from monitoring.estimators.limits import honest_limits
from monitoring.estimators.outcome import judge, level_of_looks, plots_to_settle
from monitoring.estimators.posterior import posterior_quantiles
from monitoring.estimators.round_estimates import round_estimates
from monitoring.estimators.rows import EstimateRow, EstimateSettings
from monitoring.estimators.table import BlockFacts, CountTable


def row(value, lower, upper, measure="survival", **more):
    return EstimateRow(
        "block", "A", measure, "beta_binomial_posterior", 0.95, value=value, se=0.03, lower=lower, upper=upper,
        lower_decision=lower, upper_decision=upper, lower_claim=lower - 0.01, upper_claim=upper + 0.01,
        n_plots=12, n_trees=240, icc=0.1, **more,
    )  # fmt: skip


def test_meets_the_target_when_the_lower_limit_reaches_it():
    found = judge(row(0.9, 0.8, 0.95), row(0.92, 0.83, 0.97), 0.8)
    assert (found.code, found.next_step, found.more_plots) == ("meets_target", "", None)


def test_a_claim_needs_more_certainty_than_a_decision():
    assert judge(row(0.9, 0.8, 0.95), None, 0.8, for_claim=True).code == "not_settled"


def test_falls_short_only_when_even_the_missing_trees_would_not_do():
    low = row(0.6, 0.5, 0.7)
    assert judge(low, row(0.65, 0.55, 0.74), 0.8).code == "falls_short"
    assert judge(low, row(0.78, 0.7, 0.85), 0.8).code == "not_settled"


def test_a_gap_of_trees_not_found_is_not_settled_by_more_plots():
    found = judge(row(0.75, 0.7, 0.79), row(0.85, 0.8, 0.9), 0.8)
    assert (found.code, found.next_step, found.more_plots) == ("not_settled", "look_again", None)


def test_looking_is_advised_where_plots_cannot_settle_but_trees_not_found_could():
    found = judge(row(0.805, 0.7, 0.86), row(0.9, 0.82, 0.95), 0.8)
    assert (found.code, found.next_step) == ("not_settled", "look_again")
    found = judge(row(0.7, 0.62, 0.78), row(0.795, 0.7, 0.86), 0.8)
    assert (found.code, found.next_step) == ("not_settled", "look_again")
    found = judge(row(0.805, 0.7, 0.86), row(0.82, 0.72, 0.88), 0.8)
    assert (found.code, found.next_step) == ("not_settled", "plots_cannot_settle")


def test_further_plots_are_counted_when_plots_would_settle_it():
    found = judge(row(0.87, 0.78, 0.93), row(0.87, 0.78, 0.93), 0.8)
    assert (found.code, found.next_step) == ("not_settled", "more_plots")
    assert 1 <= found.more_plots <= 60


def test_a_value_on_the_target_cannot_be_settled_by_plots():
    found = judge(row(0.8, 0.7, 0.88), row(0.8, 0.7, 0.88), 0.8)
    assert (found.next_step, found.more_plots) == ("plots_cannot_settle", None)


def test_no_outcome_before_the_check_age_or_for_mixed_ages():
    good = row(0.95, 0.9, 0.98)
    assert judge(good, good, 0.8, check_age_reached=False).code == "so_far"
    assert judge(good, good, 0.8, check_age_reached=None).code == ""


def test_rebuilt_baselines_have_no_outcome():
    assert judge(row(0.95, 0.9, 0.98, measure="share_of_visible_spots"), None, 0.8).code == ""


def test_a_census_is_judged_directly():
    facts = BlockFacts.build(1, is_census=[True])
    table = CountTable.build(block=[0], plot=[0], planted=[100], alive=[79], not_found=[3], blocks=facts)
    found = {r.measure: r for r in round_estimates(table, scopes=("block",))}
    low, high = found["survival"], found["survival_if_found"]
    assert judge(low, high, 0.79).code == "meets_target"
    assert judge(low, high, 0.83).code == "falls_short"
    assert judge(low, high, 0.80).next_step == "look_again"


def test_a_block_whose_every_plot_was_visited_is_judged_as_a_census():
    table = CountTable.build(
        block=[0] * 4, plot=range(4), planted=[20] * 4, alive=[15, 18, 12, 19], not_found=[1] * 4,
        blocks=BlockFacts.build(1, plots=[4]),
    )  # fmt: skip
    found = {r.measure: r for r in round_estimates(table, scopes=("block",))}
    low, high = found["survival"], found["survival_if_found"]
    assert (low.method, low.lower, low.value, low.upper) == ("census", 0.8, 0.8, 0.8)
    assert judge(low, high, 0.8).code == "meets_target"
    assert judge(low, high, 0.84).next_step == "look_again"
    such = round_estimates(table, EstimateSettings(finite_population=False), scopes=("block",))
    assert such[0].method == "beta_binomial_posterior"


def test_more_plots_are_needed_the_nearer_the_target():
    needed = [plots_to_settle(row(0.87, 0.7, 0.9), target) for target in (0.76, 0.80, 0.83)]
    assert needed == sorted(needed)
    assert needed[0] < needed[-1]


def test_no_more_plots_are_asked_for_than_the_block_holds():
    assert plots_to_settle(row(0.87, 0.7, 0.9), 0.85, block_plots=20) == 8


def test_a_small_block_asks_for_no_fewer_plots_where_the_limit_speaks_of_such_trees():
    """The posterior carries no finite-population correction, so neither does what it takes to settle it."""
    figure = row(0.87, 0.7, 0.9)
    asked = plots_to_settle(figure, 0.8)
    assert plots_to_settle(figure, 0.8, block_plots=12 + asked + 1) == asked
    assert plots_to_settle(figure, 0.8, block_plots=12 + asked - 1) == asked - 1
    corrected = replace(figure, method="ratio_logit_t")
    assert plots_to_settle(corrected, 0.8, block_plots=12 + asked + 1) < asked


def test_stocking_takes_the_finite_population_correction_once():
    """With N = 40 and 10 plots seen, S = se √(10 / ¾): t(N−1) and z of 4 in 5 by hand."""
    figure = EstimateRow(
        "block", "A", "stocking", "plot_mean_t", 0.95, value=1180.0, se=155.884572681, n_plots=10
    )
    spread = 180.0 * np.sqrt(10)
    enough = [
        n for n in range(11, 41)
        if (stats.t.ppf(0.9, n - 1) + stats.norm.ppf(0.8)) * spread * np.sqrt((1 - n / 40) / n) <= 80
    ]  # fmt: skip
    assert plots_to_settle(figure, 1100, block_plots=40) == enough[0] - 10


def test_stocking_is_judged_on_its_own_scale():
    stocking = EstimateRow(
        "block", "A", "stocking", "plot_mean_t", 0.95, value=1020.0, se=75.7, lower=850.0, upper=1190.0,
        lower_decision=915.0, upper_decision=1125.0, lower_claim=881.0, upper_claim=1159.0, n_plots=10,
    )  # fmt: skip
    assert judge(stocking, None, 900).code == "meets_target"
    assert judge(stocking, None, 1200).code == "falls_short"
    assert judge(stocking, None, 950).more_plots > 0


@pytest.mark.parametrize(("value", "target"), [(0.87, 0.8), (0.72, 0.8), (0.93, 0.85)])
def test_the_plots_asked_for_settle_it_about_four_times_in_five(value, target):
    """400 simulated surveys at the size asked for; their Monte-Carlo standard error is two points."""
    more = plots_to_settle(row(value, 0.7, 0.95), target)
    rng, plots, size = np.random.default_rng(8), 12 + more, 1 / 0.1 - 1
    trees = np.full(400 * plots, 20)
    alive = rng.binomial(20, rng.beta(value * size, (1 - value) * size, trees.size))
    domain = np.repeat(np.arange(400), plots)
    limits = honest_limits(posterior_quantiles(domain, alive, trees, 400, [0.1, 0.9]), domain, alive, trees)
    settled = (limits[:, 0] >= target) if value > target else (limits[:, 1] < target)
    assert 0.7 < settled.mean() < 0.92


def test_each_of_two_looks_has_half_the_risk():
    assert level_of_looks(0.90, 1) == 0.90
    assert level_of_looks(0.90, 2) == pytest.approx(0.95)
    assert level_of_looks(0.95, 2) == pytest.approx(0.975)
    with pytest.raises(ValueError, match="looks"):
        level_of_looks(0.90, 0)


def looked_at(alive, target):
    """Outcome of each row of plots of 20 trees at the full level and at the level of two looks."""
    n_surveys, n_plots = alive.shape
    survey, trees = np.repeat(np.arange(n_surveys), n_plots), np.full(alive.size, 20)
    tails = [
        end for looks in (1, 2) for end in (1 - level_of_looks(0.90, looks), level_of_looks(0.90, looks))
    ]
    posterior = posterior_quantiles(survey, alive.ravel(), trees, n_surveys, tails)
    limits = honest_limits(posterior, survey, alive.ravel(), trees)
    names = ("lower_decision", "upper_decision", "lower_claim", "upper_claim")
    surveys = [
        EstimateRow(
            "block", "A", "survival", "beta_binomial_posterior", 0.95, value=share, n_plots=n_plots,
            n_trees=20 * n_plots, icc=0.1, **dict(zip(names, ends, strict=True)),
        )
        for share, ends in zip(alive.mean(axis=1) / 20, limits.tolist(), strict=True)
    ]  # fmt: skip
    return [
        np.array([judge(row, None, target, for_claim=split).code for row in surveys])
        for split in (False, True)
    ]


def test_two_looks_break_the_promise_unless_they_share_the_risk():
    """Truth on the target; ten plots, then ten more where the first look left it open. Promised risk: 10 %."""
    random = np.random.Generator(np.random.PCG64(5))
    alive = random.binomial(20, random.beta(0.8 * 9, 0.2 * 9, (1000, 20)))
    (full_first, split_first), (full_second, split_second) = (
        looked_at(alive[:, :10], 0.8),
        looked_at(alive, 0.8),
    )
    for code, single_most in (("meets_target", 0.10), ("falls_short", 0.13)):
        single = np.mean(full_first == code)
        twice = np.mean(np.where(full_first == "not_settled", full_second, full_first) == code)
        shared = np.mean(np.where(split_first == "not_settled", split_second, split_first) == code)
        assert single < single_most
        assert twice > 0.105 and twice > 1.3 * single
        assert shared < 0.10
