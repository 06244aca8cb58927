"""Survival over time: how rounds are joined, what removals and missed plots do, spots one by one, and limits."""

import numpy as np
import pytest

from monitoring.estimators.curves import CurveInputs, curves
from monitoring.estimators.history import Removals, history
from monitoring.estimators.resampling import Resampling
from monitoring.estimators.rows import EstimateSettings
from monitoring.estimators.spots import ALIVE, DEAD, SpotMarks, spot_intervals
from monitoring.estimators.table import BlockFacts, CountTable
from monitoring.estimators.two_rounds import Occasion

PLOTS = tuple(f"p{number}" for number in range(6))
ROUNDS = ((18, 20, 16, 12, 19, 17), (15, 19, 15, 8, 19, 17), (15, 18, 13, 6, 18, 17))
LABELS = {"project": ("P",), "block": ("A", "B"), "cohort": ("c0", "c1"), "site": ("S",)}


def occasion(number, alive, *, plots=PLOTS, block=None, cohort=None, planted=20, **columns):
    """Round `number`, one year after the one before; one line of 20 planted trees a plot."""
    n = len(alive)
    table = CountTable.build(
        block=block or [0] * n, plot=range(n), cohort=cohort or [0] * n, planted=[planted] * n, alive=alive,
        labels=LABELS, blocks=BlockFacts.build(2, site=[0, 0]), **columns,
    )  # fmt: skip
    day = 1000 + 365 * number
    return Occasion(
        table, tuple(plots), np.full(n, day), np.full(n, 365.0 * (number + 1)), np.array([900, 300])
    )


def project(
    rounds, removals=None, marks=None, *, season=("s", "s"), fraction=(0, 0), planted=(900, 300), **settings
):
    """Curves of a project by scope and key."""
    counts = history(rounds, removals)
    found = curves(
        CurveInputs(
            counts=counts, spots=spot_intervals(counts, marks or SpotMarks()),
            season=tuple(season[LABELS["cohort"].index(name)] for name in counts.cohorts),
            planted=np.array(planted), settings=EstimateSettings(**settings), project="P",
            resampling=Resampling(counts.plot, counts.block, np.array(fraction, float), seed=7),
        )
    )  # fmt: skip
    return {(curve.scope, curve.key): curve for curve in found}


def shares(curve):
    return [point.survival for point in curve.points]


def test_plots_counted_every_round_give_the_ratio_of_each_round():
    curve = project([occasion(n, alive) for n, alive in enumerate(ROUNDS)])["cohort", "c0"]
    assert curve.method == "linked_rounds"
    assert shares(curve) == pytest.approx([1, *(sum(alive) / 120 for alive in ROUNDS)])
    assert [point.age_days for point in curve.points] == [0, 365, 730, 1095]
    assert [point.n_plots for point in curve.points[1:]] == [6, 6, 6]
    for point in curve.points[1:]:
        assert 0 < point.lower < point.survival < point.upper < 1
    assert curve.reason == ""


def test_block_and_project_of_one_cohort_repeat_its_curve():
    found = project([occasion(n, alive) for n, alive in enumerate(ROUNDS)])
    assert shares(found["block", "A:s"]) == shares(found["cohort", "c0"])
    assert shares(found["project", "P:s"]) == shares(found["cohort", "c0"])


def test_a_plot_missed_once_neither_adds_nor_takes_trees():
    """Link by link: the second on five plots, the third on the same five, since the sixth was missed before it."""
    missed = occasion(1, ROUNDS[1][:5], plots=PLOTS[:5])
    curve = project([occasion(0, ROUNDS[0]), missed, occasion(2, ROUNDS[2])])["cohort", "c0"]
    first = sum(ROUNDS[0]) / 120
    second = first * sum(ROUNDS[1][:5]) / sum(ROUNDS[0][:5])
    third = second * sum(ROUNDS[2][:5]) / sum(ROUNDS[1][:5])
    assert shares(curve) == pytest.approx([1, first, second, third])


def test_temporary_plots_give_points_that_are_never_joined():
    rounds = [occasion(n, alive, plots=[f"{n}-{p}" for p in range(6)]) for n, alive in enumerate(ROUNDS)]
    curve = project(rounds)["cohort", "c0"]
    assert curve.method == "separate_points"
    assert shares(curve) == pytest.approx([1, *(sum(alive) / 120 for alive in ROUNDS)])


def test_a_rise_is_told_and_not_clipped():
    curve = project([occasion(0, ROUNDS[1]), occasion(1, ROUNDS[0])])["cohort", "c0"]
    assert shares(curve)[2] == pytest.approx(sum(ROUNDS[0]) / 120)
    assert [point.rose for point in curve.points] == [False, False, True]
    assert curve.reason == "rise"


def test_removed_trees_are_withdrawn_on_their_day():
    """Six living trees leave a quarter of the way from the first round to the second, and two die in that year."""
    then, now = (20, 20, 20, 20, 20, 20), (12, 20, 20, 20, 20, 20)
    rounds = [occasion(0, then), occasion(1, now, removed=[6, 0, 0, 0, 0, 0])]
    removal = Removals(["p0"], ["c0"], [1000 + 365 / 4], [6])
    curve = project(rounds, removal)["cohort", "c0"]
    assert curve.n_removed == 6
    assert shares(curve)[2] == pytest.approx(1 - 2 / (120 - 6 + 6 / 4))
    undated = project(rounds)["cohort", "c0"]
    assert shares(undated)[2] == pytest.approx(1 - 2 / (120 - 6 / 2))


def test_what_was_removed_before_the_first_round_is_withdrawn_from_the_planted():
    rounds = [occasion(0, (14, 20, 20, 20, 20, 20), removed=[4, 0, 0, 0, 0, 0])]
    curve = project(rounds, Removals(["p0"], ["c0"], [1000], [4]))["cohort", "c0"]
    assert shares(curve)[1] == pytest.approx(1 - 2 / 120)


def test_trees_nobody_looked_at_fare_like_the_others_of_their_plot():
    rounds = [occasion(0, ROUNDS[0]), occasion(1, (10, *ROUNDS[1][1:]), not_assessed=[4, 0, 0, 0, 0, 0])]
    expected = (10 * 20 / 16 + sum(ROUNDS[1][1:])) / 120
    assert shares(project(rounds)["cohort", "c0"])[2] == pytest.approx(expected)


def test_seasons_have_curves_of_their_own():
    both = {"cohort": [0, 0, 0, 1, 1, 1]}
    rounds = [occasion(n, alive, **both) for n, alive in enumerate(ROUNDS)]
    found = project(rounds, season=("s1", "s2"), minimum_plots=2)
    assert {key for scope, key in found if scope == "project"} == {"P:s1", "P:s2"}
    assert shares(found["block", "A:s1"])[1] == pytest.approx(sum(ROUNDS[0][:3]) / 60)
    together = project(rounds, season=("s", "s"), minimum_plots=2)
    assert shares(together["block", "A:s"])[1] == pytest.approx(sum(ROUNDS[0]) / 120)


def test_blocks_weigh_by_the_trees_planted_in_them():
    told = {"block": [0, 0, 0, 1, 1, 1], "cohort": [0, 0, 0, 1, 1, 1]}
    rounds = [occasion(n, alive, **told) for n, alive in enumerate(ROUNDS)]
    curve = project(rounds)["project", "P:s"]
    first = (900 * sum(ROUNDS[0][:3]) + 300 * sum(ROUNDS[0][3:])) / (1200 * 60)
    last = (900 * sum(ROUNDS[2][:3]) + 300 * sum(ROUNDS[2][3:])) / (1200 * 60)
    assert (shares(curve)[1], shares(curve)[3]) == pytest.approx((first, last))
    assert project(rounds, planted=(900, -1))["project", "P:s"].reason == "block_weight_missing"


def test_few_plots_have_no_curve():
    few = [occasion(n, alive[:3], plots=PLOTS[:3]) for n, alive in enumerate(ROUNDS)]
    assert project(few)["cohort", "c0"].reason == "too_few_plots"
    assert project(few)["block", "A:s"].status == "ok"
    alone = [occasion(n, alive[:1], plots=PLOTS[:1]) for n, alive in enumerate(ROUNDS)]
    assert project(alone)["block", "A:s"].reason == "one_plot"
    assert project([]) == {}


def test_counts_that_mix_cohorts_are_left_out_and_said():
    mixed = [occasion(n, alive, cohort=[0, 0, 0, 0, 0, -1]) for n, alive in enumerate(ROUNDS)]
    curve = project(mixed)["cohort", "c0"]
    assert shares(curve)[1] == pytest.approx(sum(ROUNDS[0][:5]) / 100)
    assert curve.reason == "lines_left_out"


def test_the_error_over_resampled_plots_is_that_of_the_ratio():
    """Linearised ratio over plots (Cochran 1977, ch. 6) against the resamples, first round, 40 plots."""
    rng = np.random.default_rng(3)
    alive = rng.binomial(20, rng.beta(8, 2, 40))
    names = [f"p{number:02}" for number in range(40)]
    point = project([occasion(0, alive, plots=names)])["cohort", "c0"].points[1]
    residual = alive - alive.sum() / 800 * 20
    se = np.sqrt(40 / 39 * (residual**2).sum()) / 800
    half = (np.log(point.upper / (1 - point.upper)) - np.log(point.lower / (1 - point.lower))) / 2
    got = half * point.survival * (1 - point.survival) / 2.0227  # t with 39 degrees of freedom
    assert got == pytest.approx(se, rel=0.12)  # three times the 4 % that 400 resamples leave


def test_the_same_seed_gives_the_same_limits_and_a_large_sample_narrower_ones():
    rounds = [occasion(n, alive) for n, alive in enumerate(ROUNDS)]
    assert project(rounds) == project(rounds)
    narrow, wide = (project(rounds, fraction=(f, 0))["cohort", "c0"].points[2] for f in (0.75, 0))
    assert narrow.upper - narrow.lower < 0.65 * (wide.upper - wide.lower)


def test_limits_hold_their_level():
    """300 simulated curves of 15 plots, read at the third round (seed 11); three standard errors about 95 %."""
    rng, held = np.random.default_rng(11), []
    names = [f"p{number:02}" for number in range(15)]
    for _ in range(300):
        p = rng.beta(8, 2, 15)
        first = rng.binomial(20, p)
        second = rng.binomial(first, 0.9)
        third = rng.binomial(second, 0.95)
        rounds = [occasion(n, alive, plots=names) for n, alive in enumerate((first, second, third))]
        point = project(rounds)["cohort", "c0"].points[3]
        held.append(point.lower <= 0.8 * 0.9 * 0.95 <= point.upper)
    assert 0.91 <= np.mean(held) <= 0.99


# --- planting spots -------------------------------------------------------------------------
def marked(history_of_spots):
    """Rounds and marks of 2-spot plots p0 … p5; each spot a string over rounds of a(live), d(ead), ? and blank."""
    n_rounds = len(next(iter(history_of_spots.values()))[0])
    marks = [
        (plot, "c0", f"s{spot}", number, {"a": ALIVE, "d": DEAD}.get(mark, -1))
        for plot, spots in history_of_spots.items()
        for spot, told in enumerate(spots)
        for number, mark in enumerate(told)
        if mark != " "
    ]
    alive = [
        [sum(told[number] == "a" for told in spots) for spots in history_of_spots.values()]
        for number in range(n_rounds)
    ]
    rounds = [occasion(n, one, plots=tuple(history_of_spots), planted=2) for n, one in enumerate(alive)]
    return rounds, SpotMarks(*(list(column) for column in zip(*marks, strict=True)))


SPOTS = {f"p{n}": ("aaa", "aad") for n in range(4)} | {"p4": ("add", "aaa"), "p5": ("ddd", "a?a")}


def test_spots_followed_one_by_one_give_turnbull():
    rounds, marks = marked(SPOTS)
    curve = project(rounds, marks=marks)["cohort", "c0"]
    assert curve.method == "turnbull_spots"
    assert shares(curve) == pytest.approx([1, 11 / 12, 10 / 12, 6 / 12], abs=1e-6)
    assert curve.came_back == 0
    assert curve.points[3].lower < 0.5 < curve.points[3].upper


def test_a_spot_not_found_is_not_a_death():
    """One of 12 trees is found dead in the third round and was not found in the second: it died in (1, 3]."""
    spots = SPOTS | {"p5": ("ddd", "a?d")}
    rounds, marks = marked(spots)
    found = spot_intervals(history(rounds), marks)
    open_interval = np.flatnonzero((found.left == 1) & (found.right == 3))
    assert found.trees[:, open_interval].sum() == 1
    curve = project(rounds, marks=marks)["cohort", "c0"]
    assert shares(curve)[2] > 9 / 12
    assert shares(curve)[3] == pytest.approx(5 / 12, abs=1e-6)


def test_a_dead_spot_seen_alive_again_counts_as_alive_and_is_told():
    rounds, marks = marked(SPOTS | {"p4": ("ada", "aaa")})
    curve = project(rounds, marks=marks)["cohort", "c0"]
    assert curve.came_back == 1
    assert curve.reason == "rise"
    assert shares(curve)[3] == pytest.approx(7 / 12, abs=1e-6)


def test_spots_that_do_not_cover_the_planted_trees_are_not_followed():
    rounds, marks = marked(SPOTS)
    keep = [number for number, spot in enumerate(marks.spots) if (marks.plots[number], spot) != ("p5", "s0")]
    fewer = SpotMarks(
        *(
            [getattr(marks, name)[number] for number in keep]
            for name in ("plots", "cohorts", "spots", "rounds", "statuses")
        )
    )
    assert project(rounds, marks=fewer)["cohort", "c0"].method == "linked_rounds"


def test_marks_that_contradict_the_count_are_not_followed():
    rounds, marks = marked(SPOTS)
    rounds[1].table.alive[0] = 1
    assert project(rounds, marks=marks)["cohort", "c0"].method == "linked_rounds"


def test_a_destroyed_plot_kills_every_spot():
    rounds, marks = marked({f"p{n}": ("aa", "aa") for n in range(5)} | {"p5": ("a ", "a ")})
    curve = project(rounds, marks=marks)["cohort", "c0"]
    assert curve.method == "turnbull_spots"
    assert shares(curve)[2] == pytest.approx(10 / 12, abs=1e-6)


def test_removed_spots_are_withdrawn():
    rounds, marks = marked(
        {f"p{n}": ("aa", "aa") for n in range(4)} | {"p4": ("ad", "aa"), "p5": ("ad", "aa")}
    )
    rounds[1].table.removed[4] = 1
    curve = project(rounds, Removals(["p4"], ["c0"], [1100], [1]), marks)["cohort", "c0"]
    assert curve.method == "turnbull_spots"
    assert shares(curve)[2] == pytest.approx(10 / 11, abs=1e-6)


def test_a_block_counted_whole_has_no_sampling_error_over_time():
    found = project([occasion(n, alive) for n, alive in enumerate(ROUNDS)], fraction=(1, 0))
    for key in (("block", "A:s"), ("cohort", "c0"), ("project", "P:s")):
        assert [point.lower for point in found[key].points] == shares(found[key])
        assert [point.upper for point in found[key].points] == shares(found[key])
    almost = project([occasion(n, alive) for n, alive in enumerate(ROUNDS)], fraction=(0.99, 0))
    assert all(point.lower < point.survival < point.upper for point in almost["block", "A:s"].points[1:])


def test_a_whole_count_kept_as_one_plot_is_a_line_of_its_own():
    rounds = [occasion(n, [alive], plots=["p0"], planted=100) for n, alive in enumerate((90, 85, 80))]
    curve = project(rounds, fraction=(1, 0))["block", "A:s"]
    assert (curve.status, curve.method, curve.n_plots) == ("ok", "linked_rounds", 1)
    assert [(p.survival, p.lower, p.upper) for p in curve.points[1:]] == [(x, x, x) for x in (0.9, 0.85, 0.8)]
    assert project(rounds)["block", "A:s"].reason == "one_plot"
