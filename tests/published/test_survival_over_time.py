"""Life tables, product limits and interval censoring against printed tables, R and lifelines."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from monitoring.estimators import life_table
from monitoring.estimators.turnbull import innermost, survival_at, turnbull
from tests.published.checks import cases

INF = np.inf

# Breast-cosmesis trial, radiotherapy alone, n = 46, months; Finkelstein & Wolfe (1985), in Klein & Moeschberger (2003),
# Survival Analysis, 2nd ed., Table 1.18. Data from memory: the printed masses below confirm every interval.
RADIOTHERAPY = (
    (45, INF), (25, 37), (37, INF), (6, 10), (46, INF), (0, 5), (0, 7), (26, 40), (18, INF), (46, INF), (46, INF),
    (24, INF), (46, INF), (27, 34), (36, INF), (7, 16), (36, 44), (5, 11), (17, INF), (46, INF), (19, 35), (7, 14),
    (36, 48), (17, 25), (37, 44), (37, INF), (24, INF), (0, 8), (40, INF), (32, INF), (4, 11), (17, 25), (33, INF),
    (15, INF), (46, INF), (19, 26), (11, 15), (11, 18), (37, INF), (22, INF), (38, INF), (34, INF), (46, INF), (5, 12),
    (36, INF), (46, INF),
)  # fmt: skip
MASSES = {
    (4, 5): 0.0463, (6, 7): 0.0334, (7, 8): 0.0887, (11, 12): 0.0708, (24, 25): 0.0926, (33, 34): 0.0818,
    (38, 40): 0.1209, (46, 48): 0.4656,
}  # fmt: skip


def test_turnbull_equals_the_printed_masses():
    """H4: masses as printed by Finkelstein & Wolfe (1985)."""
    left, right = np.array(RADIOTHERAPY, float).T
    found = turnbull(left, right)
    got = {
        (int(low), int(high)): mass
        for low, high, mass in zip(found.left, found.right, found.mass, strict=True)
        if mass > 1e-4
    }
    assert set(got) == set(MASSES)
    for interval, mass in MASSES.items():
        assert got[interval] == pytest.approx(mass, abs=5e-5), interval


def test_turnbull_without_gaps_between_visits_is_the_product_limit():
    """Deaths known to lie between neighbouring rounds and censoring at rounds: Kaplan–Meier of the same counts."""
    case = cases()["8-km-grouped"]
    given, times = case["inputs"], (0, 1, 2, 3, 5)
    left = [*times[:-1], *given["time"]]
    right = [*given["time"], *[INF] * 4]
    found = turnbull(left, right, [*given["deaths"], *given["censored"]])
    assert_allclose(survival_at(found, given["time"]), case["expected"]["S"], atol=1e-6)


def test_intervals_are_open_at_the_left_and_closed_at_the_right():
    """estimation.md, doubtful cases: programs that close both ends give S(1) = 1 where (l, r] gives .787."""
    starts, ends = innermost([0, 1], [1, 2])
    assert (starts.tolist(), ends.tolist()) == ([0, 1], [1, 2])
    assert survival_at(turnbull([0, 0, 1, 1], [1, 2, 2, INF]), [1, 2])[0] < 1


def test_turnbull_equals_lifelines_where_the_ends_do_not_meet():
    """lifelines closes both ends; with left ends moved by a hair no two ends meet and the two agree."""
    lifelines = pytest.importorskip("lifelines")
    left, right = np.array(RADIOTHERAPY, float).T
    found = turnbull(left, right)
    other = lifelines.KaplanMeierFitter().fit_interval_censoring(left + 1e-3, right, tol=1e-9)
    ages = [5, 8, 12, 25, 34, 40]
    table = other.survival_function_["NPMLE_estimate_lower"]  # just after the age
    assert_allclose(survival_at(found, ages), [float(table.loc[age]) for age in ages], atol=1e-6)


def test_the_product_limit_equals_r_and_lifelines():
    case = cases()["8-km-grouped"]
    given, expected = case["inputs"], case["expected"]
    table = life_table.grouped(given["at_risk"], given["deaths"])
    assert_allclose(table.survival, expected["S"], atol=case["tolerance"])
    assert_allclose(table.se, expected["se_greenwood"], atol=case["tolerance"])
    for scale in ("loglog", "log", "plain"):
        assert_allclose(life_table.limits(table, 0.95, scale), expected[scale], atol=case["tolerance"])


def test_the_product_limit_equals_the_printed_remission_table():
    """H1: 6-MP arm of Freireich (1963), in Gehan (1965); survival to 3 digits, Greenwood at 6 and 10."""
    times, deaths, at_risk = (6, 7, 10, 13, 16, 22, 23), (3, 1, 1, 1, 1, 1, 1), (21, 17, 15, 12, 11, 7, 6)
    table = life_table.grouped(at_risk, deaths)
    assert_allclose(table.survival, (0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448), atol=5e-4)
    assert table.se[times.index(6)] == pytest.approx(0.0764, abs=5e-5)
    assert table.se[times.index(10)] == pytest.approx(0.0963, abs=5e-5)


def test_the_actuarial_table_equals_the_textbook_formula():
    case = cases()["8-actuarial"]
    given, expected = case["inputs"], case["expected"]
    table = life_table.actuarial(given["deaths"], given["withdrawn"], given["entering"][0])
    names = {"effective": table.at_risk, "q": table.died, "S": table.survival, "se": table.se}
    for name, got in names.items():
        assert_allclose(got, expected[name], atol=case["tolerance"], err_msg=name)


def test_the_actuarial_table_equals_the_angina_table():
    case = cases()["8-actuarial-angina"]
    given, expected = case["inputs"], case["expected"]
    table = life_table.actuarial(given["deaths"], given["withdrawn"], given["entering0"])
    assert_allclose(table.at_risk, expected["n_effective"], atol=case["tolerance"])
    assert_allclose(table.survival, expected["S"], atol=case["tolerance"])
    median = life_table.median_age(range(1, 17), table.survival)
    assert median == pytest.approx(expected["median_years"], abs=case["tolerance"])


def test_the_actuarial_table_equals_cutler_and_ederer():
    """H3: l 126/60/38/21/10, d 47/5/2/2/0, lost 4/6/0/2/0, withdrawn 15/11/15/7/6 (Cutler & Ederer 1958)."""
    lost, withdrawn = np.array((4, 6, 0, 2, 0)), np.array((15, 11, 15, 7, 6))
    table = life_table.actuarial((47, 5, 2, 2, 0), lost + withdrawn, 126)
    assert_allclose(table.survival, (0.597, 0.539, 0.503, 0.442, 0.442), atol=5e-4)
    entering = table.at_risk + (lost + withdrawn) / 2
    assert entering.tolist() == [126, 60, 38, 21, 10]


def test_bounds_of_trees_not_found_hold_every_treatment_of_them():
    """8-notfound-bounds: counted dead, counted alive, or left out."""
    given, expected = cases()["8-notfound-bounds"]["inputs"], cases()["8-notfound-bounds"]["expected"]
    dead = life_table.grouped([given["planted"]], [given["dead"] + given["not_found"]]).survival[0]
    alive = life_table.grouped([given["planted"]], [given["dead"]]).survival[0]
    unseen = turnbull([0, 1, 0], [1, INF, INF], [given["dead"], given["alive"], given["not_found"]])
    assert dead == pytest.approx(expected["lower_nf_dead"])
    assert alive == pytest.approx(expected["upper_nf_alive"])
    assert survival_at(unseen, [1])[0] == pytest.approx(expected["excluded"], abs=1e-6)
