"""From a stored count to figures: which trees enter, how blocks are weighted, which outcome is told."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from monitoring.estimators import rows
from monitoring.estimators.round_estimates import round_estimates
from monitoring.estimators.table import BlockFacts, CountTable
from monitoring.models import Case, DirtyKey, Estimate, PerformanceRow
from monitoring.selectors.round_counts import round_counts
from monitoring.services import cases, dirty
from tests import factories
from tests.field_log.visits import line
from tests.jobs.conftest import ALIVE
from tests.jobs.figures import headline

pytestmark = pytest.mark.django_db


def test_a_stored_count_marks_its_block_its_round_and_its_project(
    count, plots, baselines, survey_round, project, block
):
    count(plots[0], baselines[0], 14)
    assert set(DirtyKey.objects.values_list("kind", "key")) == {
        ("round_block", f"{survey_round.pk}:{block.pk}"),
        ("round", str(survey_round.pk)),
        ("project", str(project.pk)),
    }


def test_counts_become_figures_with_their_interval_and_the_list_is_empty(
    count, work, plots, baselines, block
):
    for plot, baseline, alive in zip(plots, baselines, (18, 15, 12), strict=True):
        count(plot, baseline, alive)
    work()
    assert not DirtyKey.objects.exists()
    row = headline("block")
    assert (row.key, row.n_plots, row.n_trees, row.value) == (str(block.uid), 3, 60, 0.75)
    assert row.method == rows.POSTERIOR
    assert row.lower < row.lower_one_sided < 0.75 < row.upper_one_sided < row.upper
    assert (row.facts["not_found"], row.facts["plots_planned"], row.facts["ledger_planted"]) == (15, 3, 500)
    assert headline("block", rows.SURVIVAL_IF_FOUND).value == 1.0
    assert headline("project").value == 0.75


def test_either_database_gives_the_estimators_what_a_plain_table_would(slopes, work):
    """Run on SQLite and on PostgreSQL, this also holds the two to each other: far closer than 1e-9."""
    slopes.send(ALIVE)
    work()
    blocks = sorted((slopes.north, slopes.east), key=lambda block: block.uid)
    species = ["pinus-pinaster", "quercus-robur"]
    oak = [species.index(baseline.species.slug) for baseline in slopes.baselines]
    table = CountTable.build(
        block=[blocks.index(plot.block) for plot in slopes.plots], plot=range(12), species=oak,
        planted=[20] * 6 + [25] * 6, alive=ALIVE, dead_stem=[1] * 12,
        not_found=[20 - n - 1 for n in ALIVE[:6]] + [25 - n - 1 for n in ALIVE[6:]],
        blocks=BlockFacts.build(2, planted=[500 if block == slopes.north else 900 for block in blocks]),
        labels={
            "project": (str(slopes.survey_round.project.uid),),
            "block": tuple(str(block.uid) for block in blocks),
            "species": tuple(species),
        },
    )  # fmt: skip
    expected = round_estimates(table, scopes=("project", "block", "species", "block_species"))
    assert len(expected) == 34
    for row in expected:
        stored = Estimate.objects.get(scope=row.scope, key=row.key, measure=row.measure, method=row.method)
        assert (stored.n_plots, stored.n_trees, stored.is_headline) == (
            row.n_plots,
            row.n_trees,
            row.is_headline,
        )
        for name in ("value", "se", "lower", "upper", "lower_claim", "upper_claim", "deff"):
            assert getattr(stored, name) == pytest.approx(getattr(row, name), abs=1e-11), (row, name)
    assert headline("project").method == rows.STRATIFIED_LOGIT_T
    assert headline("project").facts["share_surveyed"] == 1.0


def test_every_scope_of_a_round_gets_its_row(slopes, work):
    slopes.send(ALIVE)
    work()
    found = set(Estimate.objects.filter(is_headline=True, measure="survival").values_list("scope", flat=True))
    assert found == set(rows.SCOPES)
    assert headline("species", key="quercus-robur").n_trees == 120
    assert headline("stock_type", key="container").n_trees == 150
    assert PerformanceRow.objects.filter(scope="species").count() == 2
    statuses = {(row.scope, row.status) for row in PerformanceRow.objects.all()}
    assert statuses == {  # each species has one lot, one stock type and one nursery: they have no peer
        ("species", "cannot_separate"), ("lot", "alone"), ("stock_type", "alone"), ("nursery", "alone"),
    }  # fmt: skip


def test_a_destroyed_plot_counts_as_dead_and_a_missing_one_not_at_all(
    count, send, work, plots, baselines, survey_round
):
    count(plots[0], baselines[0], 20)
    send(survey_round, plots[1], [], status="destroyed", reason="slid")
    send(survey_round, plots[2], [], status="missing", reason="unsafe")
    work()
    row = headline("block")
    assert (row.value, row.n_plots, row.n_trees) == (0.5, 2, 40)
    assert (row.facts["plots_destroyed"], row.facts["plots_missing"], row.facts["not_found"]) == (1, 1, 0)


def test_a_visited_plot_that_holds_nothing_stays_in_the_sample(
    count, send, work, block, plots, baselines, survey_round
):
    empty = factories.plot(block, "N9")
    factories.m.RoundPlot.objects.create(organisation=block.organisation, round=survey_round, plot=empty)
    for plot, baseline in zip(plots, baselines, strict=True):
        count(plot, baseline, 15)
    send(survey_round, empty, [])
    work()
    assert (headline("block").n_plots, headline("block").n_trees) == (4, 60)


def test_a_baseline_that_no_line_names_counts_as_not_found(send, work, plots, baselines, survey_round):
    birch = factories.baseline(plots[0], factories.species("betula-pubescens"), 5)
    for plot, baseline in zip(plots, baselines, strict=True):
        send(survey_round, plot, [line(baseline, 20)])
    work()
    row = headline("block")
    assert (row.n_trees, row.facts["not_found"], row.value) == (65, birch.planted, pytest.approx(60 / 65))


def test_trees_planted_after_the_visit_are_no_part_of_it(count, work, plots, baselines):
    factories.baseline(plots[0], factories.species("betula-pubescens"), 5, counted_on=date(2026, 1, 10))
    for plot, baseline in zip(plots, baselines, strict=True):
        count(plot, baseline, 20)
    work()
    assert headline("block").n_trees == 60


def test_a_line_above_its_baseline_is_capped_and_shown_as_flagged(count, work, plots, baselines):
    count(plots[0], baselines[0], 26)
    count(plots[1], baselines[1], 10)
    work()
    row = headline("block")
    assert (row.value, row.n_flagged, row.facts["alive"], row.facts["counted_alive"]) == (0.75, 1, 36, 30)


def test_removed_trees_leave_the_denominator(send, work, plots, baselines, survey_round):
    for plot, baseline in zip(plots, baselines, strict=True):
        thinned = [
            {
                "baseline": str(baseline.line),
                "removed_on": "2025-09-14",
                "alive_removed": 5,
                "reason": "thinning",
            }
        ]
        send(survey_round, plot, [line(baseline, 12)], removals=thinned)
    work()
    assert (headline("block").n_trees, headline("block").value) == (45, 0.8)
    assert headline("block", rows.SURVIVAL_REMOVED_ALIVE).value == pytest.approx(51 / 60)


def test_a_line_naming_two_baselines_keeps_its_trees_and_loses_its_cohort(
    send, work, block, hill, oak, cohort, survey_round, plots, baselines
):
    second = factories.cohort(block, factories.lot(hill, oak, code="25-9"), cohort.season, planted=100)
    mixed = factories.baseline(plots[0], oak, 10, cohort=second)
    both = {
        "baselines": [str(baselines[0].line), str(mixed.line)],
        "species": oak.slug,
        "alive": 24,
        "dead_stem": 6,
    }
    send(survey_round, plots[0], [both])
    send(survey_round, plots[1], [line(baselines[1], 18)])
    work()
    assert (headline("block").n_trees, headline("block").value) == (50, 0.84)
    assert Estimate.objects.get(scope="lot", measure="survival", is_headline=True).n_trees == 20


def test_a_plot_nobody_drew_counts_only_once_a_lead_accepts_it(
    actor, count, send, work, block, oak, plots, baselines, survey_round
):
    extra = factories.plot(block, "X1")
    added = factories.baseline(extra, oak, 20)
    count(plots[0], baselines[0], 10)
    count(plots[1], baselines[1], 10)
    send(survey_round, extra, [line(added, 20)])
    work()
    assert (headline("block").value, headline("block").facts["plots_outside"]) == (0.5, 1)
    case = Case.objects.get(kind="not_on_this_round")
    cases.settle_case(
        actor=actor, case=case, choice="accept", reason="It stands in for the plot under the slide."
    )
    work()
    assert (headline("block").value, headline("block").facts["plots_outside"]) == (pytest.approx(40 / 60), 0)


def test_an_unvisited_block_says_that_no_plot_was_counted(
    count, work, survey_round, hill, project, site, plots, baselines
):
    silent = factories.block(hill, project, site, name="Not yet")
    factories.m.RoundBlock.objects.create(organisation=hill, round=survey_round, block=silent)
    count(plots[0], baselines[0], 10)
    work()
    dirty.mark_round(survey_round)
    work()
    row = headline("block", block=silent)
    assert (row.status, row.reason, row.value) == ("not_estimable", "no_plots", None)


@pytest.mark.parametrize(
    ("months", "alive", "expected"),
    [(12, (20, 20, 20), "meets_target"), (12, (2, 3, 1), "not_settled"), (36, (20, 20, 20), "so_far")],
)
def test_the_outcome_waits_for_the_check_age(count, work, project, plots, baselines, months, alive, expected):
    project.check_age_months, project.target_survival = months, "0.5000"
    project.save()
    for plot, baseline, living in zip(plots, baselines, alive, strict=True):
        count(plot, baseline, living)
    work()
    assert headline("block").outcome == expected


def test_dead_trees_fall_short_where_missing_ones_ask_to_look_again(count, work, project, plots, baselines):
    for plot, baseline in zip(plots, baselines, strict=True):
        count(plot, baseline, 4, dead_stem=16)
    work()
    assert headline("block").outcome == "falls_short"
    for_claim = headline("block").outcome_claim
    assert for_claim == "falls_short"


def test_not_found_trees_that_straddle_the_target_ask_to_look_again(count, work, plots, baselines):
    for plot, baseline in zip(plots, baselines, strict=True):
        count(plot, baseline, 12)
    work()
    assert (headline("block").outcome, headline("block").next_step) == ("not_settled", "look_again")


def test_a_pool_of_two_planting_seasons_has_no_outcome(slopes, work, hill, cohort):
    cohort.season = factories.season(hill, "planting", year=2023)
    cohort.save()
    slopes.send(ALIVE)
    work()
    assert headline("project").outcome == ""
    assert headline("project").facts["mixed_age"] is True
    assert headline("block", block=slopes.north).outcome != ""


def test_a_replacement_enters_the_weight_of_a_block_only_with_baselines_of_its_own(
    slopes, work, hill, oak, cohort
):
    season = factories.season(hill, "planting", year=2025)
    lot = factories.lot(hill, oak, code="25-77")
    later = factories.cohort(
        slopes.north, lot, season, planted=70, planted_on=date(2025, 2, 1), replaces=cohort
    )
    slopes.send(ALIVE)
    work()
    assert headline("block", block=slopes.north).facts["ledger_planted"] == 500
    factories.baseline(slopes.plots[0], oak, 3, cohort=later, counted_on=date(2025, 2, 1))
    dirty.mark_round(slopes.survey_round)
    work()
    assert headline("block", block=slopes.north).facts["ledger_planted"] == 570


def test_stocking_counts_living_trees_by_area_and_natural_ones_apart(
    send, work, block, project, plots, baselines, survey_round
):
    block.target_stocking_per_ha = 1500
    block.save()
    natural = [{"species": "quercus-robur", "height_class": "upper", "count": 3}]
    small = [{"species": "quercus-robur", "height_class": "lower", "count": 50}]
    for plot, baseline, alive in zip(plots, baselines, (10, 14, 18), strict=True):
        send(survey_round, plot, [line(baseline, alive)], regeneration=natural + small)
    work()
    per_ha = 10_000 / plots[0].area_m2
    assert headline("block", rows.STOCKING_PLANTED).value == pytest.approx(14 * per_ha)
    assert headline("block", rows.STOCKING_NATURAL).value == pytest.approx(3 * per_ha)
    both = headline("block", rows.STOCKING)
    assert both.value == pytest.approx(17 * per_ha)
    assert both.outcome in ("meets_target", "not_settled", "falls_short")


def test_reading_a_round_takes_the_same_queries_whatever_its_size(slopes, project, send):
    slopes.send(ALIVE)
    small = factories.survey_round(project, slopes.plots[:2], name="Two plots")
    for plot, baseline in zip(slopes.plots[:2], slopes.baselines[:2], strict=True):
        send(small, plot, [line(baseline, 10)])
    with CaptureQueriesContext(connection) as few:
        round_counts(small)
    with CaptureQueriesContext(connection) as many:
        round_counts(slopes.survey_round)
    assert len(few) == len(many)
    assert len(many) < 20
