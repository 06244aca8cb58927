"""Season summaries: frozen at a revision, honest about limits, and saying what changed since."""

import copy
from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from monitoring.models import SeasonSummary
from monitoring.selectors.season_rows import season_rows
from monitoring.services.summaries import digest_of, make_summary
from projects.errors import Refusal
from projects.models import BudgetLine, Season
from projects.services import log
from tests import factories
from tests.field_log.visits import correction, item, line, visit_body
from tests.results.conftest import address, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def season(hillside) -> Season:
    return hillside.survey_round.season


@pytest.fixture
def make(actor, hillside, season):
    """Make the next edition."""
    return lambda: make_summary(actor=actor, project=hillside.project, season=season)


def correct(hillside, number: int, alive: int) -> None:
    """Correct the count of one plot."""
    plot, baseline = hillside.plots[number], hillside.baselines[number]
    root = str(plot.visits.first().root)
    body = visit_body(plot, hillside.survey_round, [line(baseline, alive, dead_stem=20 - alive)], visit=root)
    changed, new_id = correction(body)
    log.append_items(hillside.actor, [item(changed, id=new_id)])


def test_a_summary_says_what_was_planted_what_lives_how_sure_and_what_it_cost(signed_in, fred, make):
    text = words(signed_in(fred).get(address("summary_detail", uid=make().uid)))
    assert "Planted up to 31 December 2025: 1 000 trees" in text
    assert "Of those in surveyed blocks" in text
    assert "against a target of 80 %" in text
    assert "living trees" in text
    assert "Spent so far: EUR 3 000.00. For each living tree that is EUR" in text
    assert "12 of 12 plots counted" in text
    assert "100 % of the planted trees stand in surveyed blocks" in text
    assert "If no wiped-out plot was sampled the data cannot show one." in text
    assert "This is the first edition for this season." in text


def test_cost_per_living_tree_has_limits_on_the_right_sides(make):
    rows = make().rows
    living, cost = rows["totals"]["from_ledger"], rows["money"]["per_living"]
    assert cost["lower"] < cost["value"] < cost["upper"]
    assert cost["upper"] == round(300_000 / living["lower"])


def test_outcomes_are_those_of_the_level_for_claims(make, hillside):
    rows = make().rows
    for block in rows["blocks"]:
        figure = block["figures"]["survival"]
        assert figure["outcome_claim"] in ("meets_target", "falls_short", "not_settled")
        if figure["outcome_claim"] == "meets_target":
            assert figure["lower_claim"] >= rows["project"]["target_survival"]


def test_the_digest_is_the_same_for_the_same_figures(hillside, season, make):
    made = make()
    again = season_rows(hillside.project, season)
    assert digest_of(again) == made.rows_digest
    stored = SeasonSummary.objects.get(pk=made.pk).rows
    assert digest_of({name: value for name, value in stored.items() if name != "changed"}) == made.rows_digest


def test_an_edition_stays_as_it_was_when_new_counts_come(make, hillside):
    made = make()
    before = copy.deepcopy(SeasonSummary.objects.get(pk=made.pk).rows)
    correct(hillside, 6, 19)
    hillside.work()
    after = SeasonSummary.objects.get(pk=made.pk)
    assert (after.rows, after.rows_digest, after.revision) == (before, made.rows_digest, made.revision)


def test_the_next_edition_says_what_changed_corrections_included(make, hillside):
    first = make()
    correct(hillside, 6, 19)
    hillside.work()
    second = make()
    assert second.edition == first.edition + 1
    assert second.revision > first.revision
    assert second.what_changed.startswith("Since edition 1: survival went from ")
    assert "1 correction of an earlier count." in second.what_changed


def test_late_plantings_change_what_was_planted_and_the_next_edition_says_so(make, hillside, hill):
    make()
    lot = factories.lot(hill, factories.species("quercus-robur"))
    block = factories.block(hill, hillside.project, hillside.blocks[0].site)
    factories.cohort(block, lot, Season.objects.get(kind="planting"), planted=250)
    assert "trees planted went from 1\u202f000 to 1\u202f250;" in make().what_changed


def test_an_edition_without_news_is_refused(make):
    make()
    with pytest.raises(Refusal, match="Nothing has changed since edition 1"):
        make()


def test_figures_that_do_not_hold_every_count_are_not_frozen(make, hillside):
    correct(hillside, 6, 19)
    with pytest.raises(Refusal, match="Try again in a moment"):
        make()


def test_a_season_without_a_round_is_refused_beside_its_field(signed_in, ana, hill, hillside):
    empty = factories.season(hill, "reporting", year=2031)
    sent = {"project": hillside.project.pk, "season": empty.pk}
    answer = signed_in(ana).post(address("summary_make"), sent)
    assert answer.status_code == 422
    assert "No survey round of this project belongs to this season" in words(answer)
    assert not SeasonSummary.objects.exists()


def test_a_manager_makes_one_in_the_browser_and_is_shown_it(signed_in, ana, hillside, season):
    sent = {"project": hillside.project.pk, "season": season.pk}
    answer = signed_in(ana).post(address("summary_make"), sent)
    assert answer.url == address("summary_detail", uid=SeasonSummary.objects.get().uid)


def test_replacements_stand_apart_from_what_they_replaced(actor, hillside, season, hill, oak):
    block, plots = hillside.blocks[1], hillside.plots[6:]
    lot = factories.lot(hill, oak, code="AGAIN")
    again = factories.season(hill, "planting", year=2025)
    cohort = factories.cohort(
        block, lot, again, planted=120, planted_on=date(2025, 1, 15), replaces=block.cohorts.first()
    )
    for plot in plots:
        factories.baseline(plot, oak, 5, cohort=cohort, counted_on=date(2025, 1, 16))
    for plot, first in zip(plots, hillside.baselines[6:], strict=True):
        lines = [line(first, 10, dead_stem=10), line(plot.baselines.get(cohort=cohort), 4, dead_stem=1)]
        root = str(plot.visits.first().root)
        body, new_id = correction(visit_body(plot, hillside.survey_round, lines, visit=root))
        log.append_items(actor, [item(body, id=new_id)])
    hillside.work()
    rows = make_summary(actor=actor, project=hillside.project, season=season).rows
    assert (rows["planted"]["trees"], rows["planted"]["replacements"]) == (1000, 120)
    replaced = [row for row in rows["plantings"] if row.get("replaces")]
    assert [row["figures"]["survival"]["n_trees"] for row in replaced] == [30]


def test_a_ledger_and_a_ground_that_disagree_are_said_to(signed_in, ana, actor, hillside, season):
    ground = hillside.blocks[0].grounds.get()
    ground.net_area_ha = ground.gross_area_ha = 0.2  # far less than the ledger's trees need
    ground.save()
    from monitoring.services import dirty

    dirty.mark_project(hillside.project)
    hillside.work()
    made = make_summary(actor=actor, project=hillside.project, season=season)
    assert made.rows["totals"]["disagree"] is True
    text = words(signed_in(ana).get(address("summary_detail", uid=made.uid)))
    assert "The two differ by more than their intervals allow" in text


def test_money_in_another_currency_needs_a_rate_and_is_never_guessed(make, hill, hillside):
    BudgetLine.objects.create(
        organisation=hill, project=hillside.project, what="fence", spent_minor=100_000, currency="KES"
    )
    BudgetLine.objects.create(
        organisation=hill, project=hillside.project, what="guards", spent_minor=200_000, currency="KES",
        exchange_rate="0.007",
    )  # fmt: skip
    money = make().rows["money"]
    assert money["spent_minor"] == 300_000 + 1_400
    assert money["n_without_rate"] == 1


def test_the_list_shows_each_edition_with_interval_and_outcome(signed_in, fred, make):
    make()
    text = words(signed_in(fred).get(address("summary_list")))
    assert "Terraces" in text
    assert "edition 1" in text
    assert " to " in text


def test_a_funder_of_another_project_reads_no_summary(signed_in, hill, make):
    stranger = factories.member(hill, "funder", projects=[factories.project(hill, name="Elsewhere")])
    made, client = make(), signed_in(stranger)
    assert client.get(address("summary_detail", uid=made.uid)).status_code == 404
    assert "Terraces" not in words(client.get(address("summary_list")))


def test_another_organisation_meets_404(signed_in, olaf, make):
    made, client = make(), signed_in(olaf)
    for name in ("summary_detail", "summary_share"):
        for slug in ("hill", "other"):
            where = address(name, uid=made.uid).replace("/hill/", f"/{slug}/")
            assert client.generic("POST" if name == "summary_share" else "GET", where).status_code == 404


def test_rows_ask_as_often_for_twenty_blocks_as_for_two(make_hillside, project):
    asked = []
    for number in (2, 20):
        made = make_hillside(number, 2, name=f"Group {number}")
        made.send([10, 8] * number, dead_stem=10)
        made.work()
        with CaptureQueriesContext(connection) as seen:
            season_rows(project, made.survey_round.season)
        asked.append(len(seen))
    assert asked[0] == asked[1] <= 30


def test_trees_removed_on_purpose_are_not_among_the_living_of_the_ledger(actor, project, make_hillside):
    made = make_hillside(1, 4)
    for plot, baseline in zip(made.plots, made.baselines, strict=True):
        thinned = {"baseline": str(baseline.line), "removed_on": "2026-02-01", "alive_removed": 5}
        told = visit_body(
            plot, made.survey_round, [line(baseline, 12)], removals=[thinned | {"reason": "thinning"}]
        )
        log.append_items(actor, [item(told)])
    made.work()
    totals = make_summary(actor=actor, project=project, season=made.survey_round.season).rows["totals"]
    assert totals["from_ledger"]["value"] == pytest.approx(500 * 12 / 20)  # not 500 × 12 / 15
