"""Change between two rounds: what is paired, what is left out, what is refused, and what is only said."""

import numpy as np
import pytest
from scipy import special, stats

from monitoring.estimators.change_rows import change_estimates
from monitoring.estimators.rows import EstimateSettings
from monitoring.estimators.table import BlockFacts, CountTable
from monitoring.estimators.two_rounds import Occasion

THEN, NOW = (18, 20, 16, 12, 19, 17), (15, 19, 15, 8, 19, 17)
LABELS = {
    "project": ("P",), "block": ("A", "B"), "species": ("ash", "oak"), "cohort": ("c0", "c1", "c2"),
    "lot": (), "stock_type": (), "nursery": (), "site": ("S",),
}  # fmt: skip


def round_of(
    alive, *, plots=None, day=1000, age=500.0, block=None, cohort=None, ledger=(900, 300, 500), **columns
):
    """A round of one line a plot, 20 trees each; every plot is in block A unless `block` says otherwise."""
    n = len(alive)
    facts = {name: columns.pop(name) for name in ("is_census", "plots_held") if name in columns}
    table = CountTable.build(
        block=block or [0] * n, plot=range(n), species=columns.pop("species", [0] * n), cohort=cohort or [0] * n,
        planted=columns.pop("planted", [20] * n), alive=alive, labels=LABELS,
        blocks=BlockFacts.build(
            2, planted=[1200, 500], site=[0, 0], is_census=facts.get("is_census"), plots=facts.get("plots_held")
        ),
        **columns,
    )  # fmt: skip
    names = tuple(plots or [f"p{number}" for number in range(n)])
    return Occasion(table, names, np.full(n, day), np.full(n, age), np.array(ledger))


def later(alive, **told):
    return round_of(alive, day=1365, age=865.0, **told)


def found(earlier, now, scope="block", key="A", settings=None):
    rows = change_estimates(earlier, now, settings, scopes=(scope,))
    return {row.row.measure: row for row in rows if row.row.key == key}


def test_the_same_plots_are_taken_as_pairs():
    rows = found(round_of(THEN), later(NOW))
    change, interval = rows["survival_change"], rows["interval_survival"]
    assert change.row.method == "paired_residuals"
    assert change.row.value == pytest.approx((sum(NOW) - sum(THEN)) / 120)
    assert interval.row.value == pytest.approx(sum(NOW) / sum(THEN))
    assert (change.n_earlier, change.n_later, change.n_common) == (6, 6, 6)
    assert change.row.lower < change.row.value < change.row.upper
    assert 0 < interval.row.lower < interval.row.value < interval.row.upper < 1
    apart = found(round_of(THEN), later(NOW, plots="uvwxyz"))["survival_change"].row
    assert apart.se > 1.5 * change.row.se


def test_the_order_of_plots_does_not_matter():
    turned = later(NOW[::-1], plots=[f"p{number}" for number in range(6)][::-1])
    assert found(round_of(THEN), turned) == found(round_of(THEN), later(NOW))


def test_rounds_without_a_common_plot_give_a_change_but_nothing_that_follows_trees():
    rows = found(round_of(THEN), later(NOW, plots="uvwxyz"))
    assert rows["survival_change"].row.method == "independent_rounds"
    assert rows["interval_survival"].row.reason == "no_common_plots"
    assert rows["annual_survival"].row.status == "not_estimable"


def test_partly_common_plots_say_so():
    rows = found(round_of(THEN), later(NOW, plots=["p0", "p1", "p2", "x", "y", "z"]))
    assert rows["survival_change"].row.method == "partial_overlap"
    assert rows["survival_change"].n_common == 3
    assert rows["interval_survival"].row.value == pytest.approx(sum(NOW[:3]) / sum(THEN[:3]))


def test_a_rise_is_told_and_not_clipped():
    rows = found(round_of(NOW), later(THEN))
    assert rows["survival_change"].row.value > 0
    assert rows["survival_change"].row.reason == "rise"
    interval = rows["interval_survival"].row
    assert interval.value == pytest.approx(sum(THEN) / sum(NOW))
    assert interval.lower < interval.value < interval.upper
    assert interval.reason == "rise"


def test_a_yearly_rate_never_reaches_into_the_first_year():
    young = found(round_of(THEN, age=300.0), later(NOW))["annual_survival"].row
    assert (young.status, young.reason, young.value) == ("not_estimable", "first_year", None)
    unknown = found(round_of(THEN, age=np.nan), later(NOW))["annual_survival"].row
    assert unknown.reason == "age_unknown"


def test_a_yearly_rate_is_the_interval_survival_of_one_year():
    rows = found(round_of(THEN), round_of(NOW, day=1000 + 731, age=1231.0))
    interval, annual, share = rows["interval_survival"].row, rows["annual_survival"].row, 365.25 / 731
    assert annual.value == pytest.approx(interval.value**share)
    assert (annual.lower, annual.upper) == pytest.approx((interval.lower**share, interval.upper**share))
    assert annual.se == pytest.approx(interval.se * share * interval.value ** (share - 1))
    assert rows["annual_survival"].years == pytest.approx(731 / 365.25)


def test_trees_planted_since_are_no_part_of_the_change():
    """A cohort that one round alone holds would raise or lower survival without a tree changing."""
    both = later(
        [*NOW, 20, 20], plots=[*(f"p{n}" for n in range(6)), "p0", "p1"], cohort=[0] * 6 + [1] * 2,
    )  # fmt: skip
    table = CountTable.build(
        block=[0] * 8, plot=[*range(6), 0, 1], species=[0] * 8, cohort=[0] * 6 + [1] * 2, planted=[20] * 8,
        alive=[*NOW, 20, 20], labels=LABELS, blocks=BlockFacts.build(2, planted=[1200, 500], site=[0, 0]),
    )  # fmt: skip
    both = Occasion(
        table, tuple(f"p{n}" for n in range(6)), np.full(6, 1365), np.full(8, 865.0), both.cohort_planted
    )
    rows, plain = found(round_of(THEN), both), found(round_of(THEN), later(NOW))
    assert rows["survival_change"].row.value == plain["survival_change"].row.value
    assert rows["survival_change"].row.se == plain["survival_change"].row.se
    assert rows["survival_change"].row.reason == "shared_only"


def test_a_plot_that_holds_nothing_shared_stays_in_the_sample():
    """Five of six plots hold the cohort of both rounds: six plots were visited, so five degrees of freedom."""
    other = [0, 0, 0, 0, 0, 1]
    rows = found(round_of(THEN, cohort=other), later(NOW, cohort=[0, 0, 0, 0, 0, 2]))
    change = rows["survival_change"]
    assert change.row.value == pytest.approx((sum(NOW[:5]) - sum(THEN[:5])) / 100)
    u = [(np.array([*a[:5], 0]) - sum(a[:5]) / 100 * np.array([20] * 5 + [0])) / 100 for a in (THEN, NOW)]
    d = u[1] - u[0]
    assert change.row.se == pytest.approx(np.sqrt(6 / 5 * ((d - d.mean()) ** 2).sum()))


def test_blocks_weigh_by_the_trees_planted_of_the_plantings_both_rounds_counted():
    block, cohort = [0] * 3 + [1] * 3, [0] * 3 + [2] * 3
    told = {"block": block, "cohort": cohort}
    row = found(round_of(THEN, **told), later(NOW, **told), "project", "P")["survival_change"].row
    shares = [(sum(NOW[:3]) - sum(THEN[:3])) / 60, (sum(NOW[3:]) - sum(THEN[3:])) / 60]
    assert row.value == pytest.approx((900 * shares[0] + 500 * shares[1]) / 1400)


def test_a_block_one_round_left_out_is_left_out_and_said():
    now = later(
        NOW, block=[0] * 3 + [1] * 3, cohort=[0] * 3 + [2] * 3, plots=["p0", "p1", "p2", "q0", "q1", "q2"]
    )
    rows = change_estimates(round_of(THEN), now, scopes=("project", "block"))
    assert {row.row.key for row in rows} == {"P", "A"}
    project = next(row for row in rows if row.row.key == "P" and row.row.measure == "survival_change")
    assert project.row.reason == "shared_only"


def test_rounds_that_share_no_block_give_nothing():
    assert change_estimates(round_of(THEN), later(NOW, block=[1] * 6)) == ()


def test_removed_trees_are_no_deaths_among_those_followed():
    thinned = later([13, 19, 15, 8, 19, 17], removed=[5, 0, 0, 0, 0, 0])
    rows = found(round_of(THEN), thinned)
    living_left = sum(THEN) - 5
    assert rows["interval_survival"].row.value == pytest.approx((13 + 19 + 15 + 8 + 19 + 17) / living_left)
    assert rows["survival_change"].row.reason == "removed_between"


def test_trees_nobody_looked_at_are_taken_to_fare_like_the_others_of_their_plot():
    unseen = later([10, 19, 15, 8, 19, 17], not_assessed=[4, 0, 0, 0, 0, 0])
    value = found(round_of(THEN), unseen)["interval_survival"].row.value
    assert value == pytest.approx((10 * 20 / 16 + 19 + 15 + 8 + 19 + 17) / sum(THEN))
    nobody = later([0, 19, 15, 8, 19, 17], not_assessed=[20, 0, 0, 0, 0, 0])
    value = found(round_of(THEN), nobody)["interval_survival"].row.value
    assert value == pytest.approx((19 + 15 + 8 + 19 + 17) / (sum(THEN) - 18))


def test_no_loss_in_any_plot_is_no_certainty():
    rows = found(round_of([20] * 6), later([20] * 6))
    change = rows["survival_change"].row
    assert (change.value, change.upper) == (0, 0)
    assert -0.15 < change.lower < -0.03
    flat = found(round_of([16] * 6), later([14] * 6, plots="uvwxyz"))["survival_change"].row
    assert flat.lower < -0.2
    assert flat.upper > 0


def test_few_plots_are_refused_with_their_reason():
    assert found(round_of(THEN[:1]), later(NOW[:1]))["survival_change"].row.reason == "one_plot"
    cohort = found(round_of(THEN[:3]), later(NOW[:3]), "cohort", "c0")["survival_change"].row
    assert cohort.reason == "too_few_plots"
    looser = EstimateSettings(minimum_plots=3)
    assert (
        found(round_of(THEN[:3]), later(NOW[:3]), "cohort", "c0", looser)["survival_change"].row.status
        == "ok"
    )


def test_nothing_alive_then_has_nothing_to_follow():
    rows = found(round_of([0] * 6), later([0] * 6))
    assert rows["interval_survival"].row.reason == "nothing_alive"
    assert rows["survival_change"].row.value == 0


def test_a_census_of_both_rounds_has_no_sampling_error():
    told = {"is_census": [True, False]}
    change = found(round_of(THEN, **told), later(NOW, **told))["survival_change"].row
    assert change.method == "census"
    assert change.lower == change.value == change.upper


def test_knowing_how_many_plots_a_block_holds_narrows_the_change():
    told = {"plots_held": [12, -1]}
    narrow = found(round_of(THEN, **told), later(NOW, **told))["survival_change"].row
    wide = found(round_of(THEN), later(NOW))["survival_change"].row
    assert narrow.se == pytest.approx(wide.se * np.sqrt(1 - 6 / 12))
    parts = ["p0", "p1", "p2", "p3", "x", "y"]
    other = (18, 17, 15, 14, 12, 19)
    overlap = found(round_of(THEN, **told), later(other, plots=parts, **told))["survival_change"].row
    free = found(round_of(THEN), later(other, plots=parts))["survival_change"].row
    apart = found(round_of(THEN), later(other, plots="uvwxyz"))["survival_change"].row
    covariance = (apart.se**2 - free.se**2) / 2  # over four common plots, of which 4 − 6 × 6 / 12 = 1 is left
    assert overlap.se**2 == pytest.approx(apart.se**2 * (1 - 6 / 12) - 2 * covariance / 4)


def test_the_paired_interval_holds_its_level():
    """400 pairs of rounds of 12 plots whose survival varies (seed 5); three standard errors about 95 %."""
    rng = np.random.default_rng(5)
    held = []
    for _ in range(400):
        p = rng.beta(0.8 * 9, 0.2 * 9, 12)
        then = rng.binomial(20, p)
        now = rng.binomial(then, 0.85)
        row = found(round_of(then), later(now))["survival_change"].row
        held.append(row.lower <= -0.15 * 0.8 <= row.upper)
    assert 0.92 <= np.mean(held) <= 0.98


def test_few_deaths_do_not_look_surer_than_they_are():
    """400 pairs of rounds of 12 plots that lose 3 % (seed 6); limits even about the change hold 82 in 100."""
    rng = np.random.default_rng(6)
    held = []
    for _ in range(400):
        then = rng.binomial(20, rng.beta(0.95 * 9, 0.05 * 9, 12))
        now = rng.binomial(then, rng.beta(0.97 * 9, 0.03 * 9, 12))
        row = found(round_of(then), later(now))["survival_change"].row
        held.append(row.lower <= -0.03 * 0.95 <= row.upper)
    assert np.mean(held) > 0.94


def test_limits_of_a_pure_loss_are_those_of_a_share_on_the_logit_scale():
    then, now = np.array([18, 20, 16, 12, 19, 17]), np.array([17, 20, 14, 12, 19, 15])
    row = found(round_of(then), later(now))["survival_change"].row
    lost = (then - now) / 20
    share, se = lost.mean(), lost.std(ddof=1) / np.sqrt(6)
    reach = stats.t.ppf(0.975, 5) * se / (share * (1 - share))
    ends = special.expit(special.logit(share) + np.array([reach, -reach]))
    assert [row.lower, row.upper] == pytest.approx(-ends)
    gained = found(round_of(then), later([17, 20, 17, 12, 19, 12]))["survival_change"].row
    assert gained.lower + gained.upper == pytest.approx(2 * gained.value)
