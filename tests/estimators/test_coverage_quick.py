"""The coverage study in small: its worlds are what they say, its limits are the product's, its counting is right."""

import json
from dataclasses import replace

import numpy as np
import pytest

from deploy.benchmarks import _coverage_counts as counts
from deploy.benchmarks import coverage
from deploy.benchmarks._coverage_limits import TREES_POOLED, block_limits, project_limits
from deploy.benchmarks._coverage_worlds import Cell, ProjectCell, draw, draw_projects, truth
from monitoring.estimators import outcome, rows
from monitoring.estimators.limits import LIMIT_FIELDS
from monitoring.estimators.round_estimates import round_estimates
from monitoring.estimators.rows import EstimateSettings
from monitoring.estimators.table import BlockFacts, CountTable

SETTINGS = EstimateSettings()


# --- worlds ---------------------------------------------------------------------------------
FORMS = ("main", "wide", "sparse", "logit_normal", "informative", "wiped_out")


@pytest.mark.parametrize("form", FORMS)
def test_a_made_up_forest_has_the_share_alive_it_says(form):
    """Over 40,000 plots the ratio of totals lies within five standard errors of the truth."""
    cell = Cell(form, 20, 0.1, 0.85)
    alive, trees = draw(cell, 2_000, np.random.default_rng(1))
    share = alive.sum() / trees.sum()
    se = np.sqrt(((alive - share * trees) ** 2).sum()) / trees.sum()
    assert abs(share - truth(cell)) < 5 * se
    assert se < 0.002


@pytest.mark.parametrize("form", ["main", "logit_normal"])
def test_plots_differ_as_much_as_the_correlation_says(form):
    """Beta-binomial variance of the living among m trees: p q m (1 + (m − 1) icc)."""
    alive, trees = draw(Cell(form, 10, 0.2, 0.7), 4_000, np.random.default_rng(2))
    expected = 0.7 * 0.3 * trees * (1 + (trees - 1) * 0.2)
    assert ((alive - 0.7 * trees) ** 2).sum() / expected.sum() == pytest.approx(1, abs=0.03)


def test_a_share_of_plots_is_wiped_out_and_the_others_live_the_better():
    alive, _ = draw(Cell("wiped_out", 20, 0.05, 0.95), 2_000, np.random.default_rng(3))
    assert (alive == 0).mean() == pytest.approx(0.04, abs=0.005)


def test_blocks_of_a_project_differ_in_size_survival_and_if_asked_in_correlation():
    cell = ProjectCell("uneven", 8, 3, 0.1, 0.9)
    assert cell.iccs.max() == pytest.approx(4 * cell.iccs.min())
    assert cell.iccs.mean() == pytest.approx(0.1)
    assert cell.planted[::2].sum() == cell.planted[1::2].sum()  # no larger where plots are more alike
    heavy = replace(cell, form="heavy")
    assert heavy.planted[1::2].sum() == 4 * heavy.planted[::2].sum()
    alive, trees = draw_projects(cell, 3_000, np.random.default_rng(4))
    by_block = alive.sum(axis=(0, 2)) / trees.sum(axis=(0, 2))
    assert by_block == pytest.approx(cell.survivals, abs=0.01)


# --- limits ---------------------------------------------------------------------------------
def limits_of(row):
    return [getattr(row, name) for name in LIMIT_FIELDS]


def test_the_studys_limits_are_those_that_rows_of_a_round_carry():
    alive, trees = draw(Cell("main", 8, 0.1, 0.95), 40, np.random.default_rng(5))
    table = CountTable.build(
        block=np.repeat(np.arange(40), 8), plot=np.arange(320), species=np.zeros(320), planted=trees.ravel(),
        alive=alive.ravel(),
    )  # fmt: skip
    found = block_limits(alive, trees, SETTINGS)
    told = {
        (row.key, row.method): row
        for row in round_estimates(table, scopes=("block",))
        if row.measure == rows.SURVIVAL
    }
    for survey in range(40):
        for method in (rows.POSTERIOR, rows.RATIO_LOGIT_T):
            row = told[str(survey), method]
            assert found[method][survey] == pytest.approx(limits_of(row), rel=1e-9)
            assert found["value"][survey] == pytest.approx(row.value, rel=1e-9)


def test_the_limits_of_made_up_projects_are_those_of_sites_of_a_round():
    cell, projects = ProjectCell("uneven", 4, 5, 0.1, 0.9), 6
    alive, trees = draw_projects(cell, projects, np.random.default_rng(6))
    block = np.repeat(np.arange(projects * 4), 5)
    facts = BlockFacts.build(
        projects * 4, planted=np.tile(cell.planted, projects), site=np.repeat(np.arange(projects), 4)
    )
    table = CountTable.build(
        block=block, plot=np.arange(block.size), species=block * 0, planted=trees.ravel(), alive=alive.ravel(),
        blocks=facts,
    )  # fmt: skip
    found = project_limits(alive, trees, cell.planted, SETTINGS)
    told = {
        row.key: row
        for row in round_estimates(table, scopes=("site",))
        if row.measure == rows.SURVIVAL and row.method == rows.STRATIFIED_LOGIT_T
    }
    for project in range(projects):
        row = told[str(project)]
        assert found[rows.STRATIFIED_LOGIT_T][project] == pytest.approx(limits_of(row), rel=1e-9)
        assert found["value"][project] == pytest.approx(row.value, rel=1e-9)


def test_trees_pooled_are_wilson_limits_of_all_trees():
    """81 of 263 living: 0.2553 to 0.3662 (Newcombe 1998, Statistics in Medicine 17:857, table I, method 3)."""
    found = block_limits(np.array([[40, 41]]), np.array([[130, 133]]), SETTINGS)[TREES_POOLED][0]
    assert found[:2].round(4).tolist() == [0.2553, 0.3662]


# --- counting -------------------------------------------------------------------------------
def test_truth_below_the_interval_is_overstated_and_above_it_understated():
    ends = [(0.2, 0.4), (0.6, 0.8), (0.55, 0.75), (0.4, 0.6), (0.5, 0.7)]
    limits = np.array([[low, high] * 3 for low, high in ends])
    found = counts.counted(
        limits, np.array([0.3, 0.7, 0.65, 0.5, 0.6]), 0.5, "m", "main", Cell("main", 8, 0.1, 0.5), 0.5
    )
    assert (found.covered, found.overstated, found.understated) == (0.4, 0.4, 0.2)
    assert found.width == pytest.approx(0.2)
    assert (found.meets_claim, found.short_claim) == (0.6, 0.2)  # a lower limit on the target meets it


def test_a_first_look_that_settles_it_is_not_looked_at_again():
    first = np.array([[0.5, 0.9], [0.1, 0.4], [0.1, 0.9], [0.1, 0.9]])
    second = np.array([[0.1, 0.2], [0.5, 0.9], [0.6, 0.9], [0.1, 0.3]])
    meets, short = counts.settled([first, second], 0.5, 0, 1)
    assert meets.tolist() == [True, False, True, False]
    assert short.tolist() == [False, True, False, True]
    assert counts.settled([first], 0.5, 0, 1)[0].sum() == 1


def test_a_look_judges_as_the_outcome_of_a_row_does():
    """Also at half the error, whose limits stand in the same six columns."""
    cell = Cell("main", 12, 0.1, 0.8)
    alive, trees = draw(cell, 60, np.random.default_rng(7))
    limits = block_limits(alive, trees, SETTINGS)[rows.POSTERIOR]
    table = CountTable.build(
        block=np.repeat(np.arange(60), 12), plot=np.arange(720), species=np.zeros(720), planted=trees.ravel(),
        alive=alive.ravel(),
    )  # fmt: skip
    for half, settings in (
        ("", SETTINGS),
        ("half_", EstimateSettings(decision_level=0.95, claim_level=0.975)),
    ):
        told = [
            row for row in round_estimates(table, settings, scopes=("block",))
            if row.method == rows.POSTERIOR and row.measure == rows.SURVIVAL
        ]  # fmt: skip
        for level in ("decision", "claim"):
            meets, short = counts.settled([limits], 0.8, *counts.ENDS[half + level])
            judged = [outcome.judge(row, None, 0.8, for_claim=level == "claim").code for row in told]
            assert [code == outcome.MEETS_TARGET for code in judged] == meets.tolist()
            assert [code == outcome.FALLS_SHORT for code in judged] == short.tolist()


# --- the study ------------------------------------------------------------------------------
TINY = coverage.Effort(main=120, stress=40, projects=120, looks=60)
TASKS = [task for task in coverage.tasks(TINY) if task.number % (6 if task.grid != "stress" else 24) == 1]


@pytest.fixture(scope="module")
def found():
    return coverage.worked(TASKS)


def test_a_small_study_finds_the_headline_near_its_level_and_pooled_trees_far_below(found):
    """12 cells of 120: the mean has a Monte-Carlo error of 0.6 points, of which four are allowed."""
    study = coverage.gathered(found, TINY)
    main = {part["method"]: part for part in study["grids"][0]["methods"]}
    assert study["grids"][0]["cells"] == 12
    error = 4 * (0.95 * 0.05 / (12 * 120)) ** 0.5
    assert 0.95 - error < main[rows.POSTERIOR]["mean"] < 0.965 + error
    assert main[TREES_POOLED]["mean"] < 0.85
    assert study["grids"][1]["grid"] == "projects"
    assert study["grids"][1]["methods"][0]["mean"] > 0.945 - 4 * (0.95 * 0.05 / (24 * 120)) ** 0.5


def test_the_same_seed_gives_the_same_figures_and_each_cell_has_chance_of_its_own(found):
    again = coverage.work(TASKS[0])
    assert again == found[: len(again)]
    other = coverage.work(replace(TASKS[0], number=TASKS[0].number + 1))
    assert [row.covered for row in other] != [row.covered for row in again]


def test_a_second_look_errs_more_often_and_splitting_the_level_takes_it_back(found):
    rates = {
        rule["rule"]: rule["outcomes"]["short_decision"]["mean"]
        for rule in coverage.gathered(found, TINY)["looks"]["rules"]
    }
    assert rates["two"] > rates["one"]
    assert rates["two_split"] < rates["two"]


def test_a_promise_that_is_not_kept_is_named(found):
    study = coverage.gathered(found, TINY)
    headline = next(part for part in study["grids"][0]["methods"] if part["method"] == rows.POSTERIOR)
    headline["mean"], headline["worst"] = 0.93, 0.90
    assert [
        line.split(":")[1].split()[0] for line in coverage.promises_broken(study) if line.startswith("main")
    ] == [
        "mean",
        "worst",
    ]


def test_the_study_is_kept_as_a_summary_tables_and_a_picture(found, tmp_path):
    study = coverage.gathered(found, TINY) | coverage.about(1.0)
    coverage.write(study, found, tmp_path)
    kept = json.loads((tmp_path / "coverage.json").read_text())
    assert kept["seed"] == coverage.SEED
    cells = (tmp_path / "coverage.csv").read_text().splitlines()
    assert len(cells) == 1 + sum(isinstance(row, counts.Counted) for row in found)
    assert len((tmp_path / "coverage-looks.csv").read_text().splitlines()) == 1 + 3 * sum(
        t.grid == "looks" for t in TASKS
    )
    assert (tmp_path / "coverage.svg").read_bytes().startswith(b"<svg")
    headline = next(part for part in study["grids"][0]["methods"] if part["method"] == rows.POSTERIOR)
    printed = next(line for line in coverage.lines(study) if line.startswith(rows.POSTERIOR))
    assert float(printed.split()[1]) == pytest.approx(100 * headline["mean"], abs=0.005)


def test_the_kept_study_kept_its_promises_and_took_every_cell():
    kept = json.loads((coverage.RESULTS / "coverage.json").read_text())
    assert coverage.promises_broken(kept) == []
    assert [part["cells"] for part in kept["grids"][:2]] == [72, 144]
    assert kept["effort"] == {"main": 5_000, "stress": 1_000, "projects": 4_000, "looks": 2_000}
