"""What to replant: how many, expected and assured, with which survival, and by when to order."""

from datetime import date

import pytest

from monitoring.calc.replanting_dates import Window, replanting_dates
from monitoring.models import ReplacementNeed
from monitoring.services import dirty
from projects import clocks
from projects.models import PlantingWindow, SurvivalPrior
from projects.selectors.foreseen_survival import best_prior
from projects.services import log
from tests import factories
from tests.field_log.visits import item, line, visit_body
from tests.jobs.conftest import ALIVE

pytestmark = pytest.mark.django_db
TODAY = date(2025, 9, 20)


@pytest.fixture(autouse=True)
def today(monkeypatch):
    monkeypatch.setattr(clocks, "today_of", lambda organisation: TODAY)


def need_of(block, species=None) -> ReplacementNeed:
    return ReplacementNeed.objects.get(block=block, species=species)


def test_a_block_below_its_target_needs_more_assured_than_expected(slopes, work):
    slopes.send(ALIVE)
    work()
    need = need_of(slopes.north)
    assert (need.status, need.target, need.assurance) == ("ok", 400, 0.9)  # 80 % of 500 planted
    assert need.living == pytest.approx(500 * sum(ALIVE[:6]) / 120)
    assert need.living_lower < need.living < need.living_upper
    assert 0 < need.n_expected < need.n_assured
    assert need.losses == {"bitten": 6}


def test_trees_removed_on_purpose_are_not_reckoned_among_the_living(
    send, work, plots, baselines, survey_round
):
    for plot, baseline in zip(plots, baselines, strict=True):
        thinned = {"baseline": str(baseline.line), "removed_on": "2025-09-14", "alive_removed": 5}
        send(survey_round, plot, [line(baseline, 12)], removals=[thinned | {"reason": "thinning"}])
    work()
    assert need_of(plots[0].block).living == pytest.approx(500 * 12 / 20)  # not 500 × 12 / 15


@pytest.fixture
def ready(project):
    """A project whose check is behind the counted trees, so that nothing is carried."""
    project.check_age_months = 12
    project.save()


def test_a_single_planting_of_a_stock_is_joined_with_all_plantings(ready, slopes, work):
    slopes.send((8, 6, 5, 7, 9, 7, *ALIVE[6:]))
    work()
    oak = need_of(slopes.north, slopes.baselines[0].species)
    assert oak.replacement_survival_source == "joined_species"
    assert 42 / 120 < oak.replacement_survival < (42 / 120 + sum(ALIVE[6:]) / 150) / 2
    told = oak.facts["survival"]
    assert (told["n_plantings"], told["n_plots"], told["carried"]) == (1, 6, False)
    assert told["lower"] < oak.replacement_survival < told["upper"]


def test_survival_of_replacements_is_what_that_stock_showed(ready, slopes, work, hill, project, site, oak):
    """A second planting of oak elsewhere makes two; the pines are no longer asked."""
    west = factories.block(hill, project, site, name="West slope")
    season = factories.season(hill, "planting", year=2023)
    lot = factories.lot(hill, oak, code="23-7", stock_type="bare_root")
    cohort = factories.cohort(west, lot, season, planted=300, planted_on=date(2024, 2, 10))
    plots = [factories.plot(west, f"W{n}") for n in range(4)]
    baselines = [factories.baseline(plot, oak, 20, cohort=cohort) for plot in plots]
    western = factories.survey_round(
        project, plots, name="West", opens_on=date(2025, 9, 1), closes_on=date(2025, 10, 31)
    )
    log.append_items(
        slopes.actor,
        [
            item(visit_body(plot, western, [line(baseline, 6, dead_stem=14)]))
            for plot, baseline in zip(plots, baselines, strict=True)
        ],
    )
    slopes.send(ALIVE)
    work()
    need = need_of(slopes.north, slopes.baselines[0].species)
    assert need.replacement_survival_source == "observed_species"
    assert 0.3 < need.replacement_survival < sum(ALIVE[:6]) / 120
    assert need_of(slopes.east).replacement_survival_source == "joined_stock_type"  # one in containers


def test_too_few_plots_are_joined_with_what_is_expected(ready, count, work, plots, baselines):
    count(plots[0], baselines[0], 8)
    count(plots[1], baselines[1], 9)
    work()
    need = need_of(plots[0].block)
    assert need.replacement_survival_source == "joined_stock_type"
    assert 17 / 40 < need.replacement_survival < 0.7
    SurvivalPrior.objects.create(organisation=need.organisation, mean=0.3, weight_trees=50)
    dirty.mark_block(plots[0].block)
    work()
    assert need_of(plots[0].block).replacement_survival < 17 / 40


def test_what_was_counted_before_the_check_is_carried_to_it(slopes, work, project):
    """The same counts, held to a check three years on: fewer of the living, and of the replacements."""
    needs = []
    for months in (12, 36):
        project.check_age_months = months
        project.save()
        slopes.send(ALIVE) if not needs else dirty.mark_project(project)
        work()
        needs.append(need_of(slopes.north))
    now, later = needs
    assert now.living == later.living == pytest.approx(now.living_at_check, rel=1e-3)
    assert later.living_at_check < later.living
    assert later.replacement_survival < now.replacement_survival
    assert later.n_assured > now.n_assured
    assert (now.facts["survival"]["carried"], later.facts["survival"]["carried"]) == (False, True)
    assert later.facts["carry"]["yearly_survival"] is None  # counted once: the average rate so far stands


def test_a_planting_counted_twice_keeps_the_first_year_apart(slopes, work, project):
    project.check_age_months = 60
    project.save()
    slopes.send(ALIVE)
    later = factories.survey_round(
        project, slopes.plots, name="Next year", opens_on=date(2026, 9, 1), closes_on=date(2026, 10, 31)
    )
    bodies = [
        visit_body(plot, later, [line(baseline, alive - 1, dead_stem=2)], observed_on="2026-09-10")
        for plot, baseline, alive in zip(slopes.plots, slopes.baselines, ALIVE, strict=True)
    ]
    log.append_items(slopes.actor, [item(body) for body in bodies])
    work()
    need = need_of(slopes.north)
    lost = len(ALIVE) / sum(ALIVE)
    assert need.facts["carry"]["n_plantings"] == 2
    assert need.facts["carry"]["yearly_survival"] == pytest.approx(1 - lost, abs=0.01)
    years = (60 * 365.25 / 12 - need.facts["carry"]["age_days"]) / 365.25
    assert need.living_at_check == pytest.approx(
        need.living * need.facts["carry"]["yearly_survival"] ** years, rel=0.01
    )


def test_the_number_if_the_living_were_known_is_stored_and_smaller(slopes, work):
    slopes.send(ALIVE)
    work()
    need = need_of(slopes.north)
    assert 0 < need.n_assured_if_known < need.n_assured


def test_the_choices_are_the_same_stock_other_stock_and_fewer_trees(slopes, work, hill, oak):
    factories.lot(hill, oak, code="25-9", stock_type="container", unit_cost_minor=190)
    PlantingWindow.objects.create(
        organisation=hill, block=slopes.north, stock_type="bare_root", opens_on=date(2025, 11, 15),
        closes_on=date(2026, 2, 28),
    )  # fmt: skip
    PlantingWindow.objects.create(
        organisation=hill, block=slopes.north, stock_type="container", opens_on=date(2026, 1, 10),
        closes_on=date(2026, 4, 30),
    )  # fmt: skip
    slopes.send(ALIVE)
    work()
    need = need_of(slopes.north, oak)
    same, other = need.facts["choices"]
    assert (same["stock_type"], same["n_assured"]) == ("bare_root", need.n_assured)
    assert same["missed"] == ["2025-11-15", "2026-02-28"]  # ten weeks and slack: too late on 20 September
    assert same["opens_on"] == "2026-11-15"
    assert (other["stock_type"], other["opens_on"], other["missed"]) == ("container", "2026-01-10", None)
    assert other["n_assured"] > 0
    accept = need.facts["accept"]
    assert accept["living"] == need.living_at_check
    assert accept["lower"] < need.living_at_check < accept["upper"]
    assert 0 <= accept["chance"] < 0.9


def test_the_most_particular_prior_is_taken(hill, project, oak):
    def prior(**fields):
        return SurvivalPrior.objects.create(organisation=hill, mean=0.6, weight_trees=50, **fields)

    general, container = prior(), prior(stock_type="container")
    species, ours = prior(species=oak), prior(project=project)
    every = [general, container, species, ours]
    assert best_prior(every, project.pk, oak.pk, "bare_root") == ours
    assert best_prior(every[:3], project.pk, oak.pk, "container") == species
    assert best_prior(every[:2], project.pk, oak.pk, "container") == container
    assert best_prior(every[:2], project.pk, oak.pk, "bare_root") == general
    assert best_prior([container, species], project.pk, None, "bare_root") is None


def test_a_species_in_too_few_plots_has_no_number_of_its_own(
    send, work, block, plots, baselines, survey_round, cohort
):
    birch = factories.species("betula-pubescens")
    extra = factories.baseline(plots[0], birch, 5)
    send(survey_round, plots[0], [line(baselines[0], 12, dead_stem=8), line(extra, 1, dead_stem=4)])
    for plot, baseline in zip(plots[1:], baselines[1:], strict=True):
        send(survey_round, plot, [line(baseline, 12, dead_stem=8)])
    work()
    need = need_of(block, birch)
    assert (need.status, need.n_assured) == ("not_estimable", None)
    assert need_of(block).status == "ok"


def test_the_target_is_stocking_times_ground_where_the_block_has_one(slopes, work):
    slopes.north.target_stocking_per_ha = 300
    slopes.north.save()
    slopes.send(ALIVE)
    work()
    assert need_of(slopes.north).target == 600  # 2 ha


def test_replacements_planted_since_the_count_are_reckoned_with(slopes, work, hill, oak, cohort):
    slopes.send(ALIVE)
    work()
    before = need_of(slopes.north)
    later = factories.cohort(
        slopes.north, factories.lot(hill, oak, code="26-1"), factories.season(hill, "planting", year=2026),
        planted=100, planted_on=date(2026, 1, 15), replaces=cohort,
    )  # fmt: skip
    dirty.mark_block(slopes.north)
    work()
    after = need_of(slopes.north)
    assert after.reason == "replanted_since_count"
    assert after.n_expected < before.n_expected
    assert later.replaces == cohort


def test_the_order_date_is_the_window_less_lead_time_and_slack(slopes, work, cohort):
    nursery = cohort.lot.nursery
    nursery.lead_time_weeks = 4
    nursery.save()
    PlantingWindow.objects.create(
        organisation=slopes.north.organisation, block=slopes.north, stock_type="bare_root",
        opens_on=date(2025, 11, 15), closes_on=date(2026, 2, 28),
    )  # fmt: skip
    slopes.send(ALIVE)
    work()
    need = need_of(slopes.north)
    assert (need.window_opens_on, need.order_by) == (date(2025, 11, 15), date(2025, 10, 4))


def test_when_the_order_date_has_passed_the_next_season_is_named():
    window = Window(date(2025, 11, 15), date(2026, 2, 28))
    late = replanting_dates([window], date(2025, 10, 5), 4)
    assert (late.window.opens_on, late.order_by, late.repeated) == (
        date(2026, 11, 15),
        date(2026, 10, 4),
        True,
    )
    other = Window(date(2026, 3, 1), date(2026, 4, 1))
    assert replanting_dates([window, other], date(2025, 10, 5), 4).window == other
    assert replanting_dates([], TODAY, 4) is None
    leap = replanting_dates([Window(date(2024, 2, 29), date(2024, 3, 31))], date(2025, 9, 1), 0)
    assert leap.window.opens_on == date(2026, 2, 28)


def test_only_the_latest_round_of_a_block_asks_for_trees(slopes, work, project):
    slopes.send(ALIVE)
    work()
    later = factories.survey_round(
        project, slopes.plots[:6], name="Next year", opens_on=date(2026, 9, 1), closes_on=date(2026, 10, 31)
    )
    bodies = [
        visit_body(plot, later, [line(baseline, 5, dead_stem=15)], observed_on="2026-09-10")
        for plot, baseline in zip(slopes.plots[:6], slopes.baselines[:6], strict=True)
    ]
    log.append_items(slopes.actor, [item(body) for body in bodies])
    work()
    rounds = {
        (need.block, need.round.name) for need in ReplacementNeed.objects.select_related("block", "round")
    }
    assert rounds == {(slopes.north, "Next year"), (slopes.east, "Both slopes")}
