"""How far to trust a round: what is open, what deciding it could give, how well people counted."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from monitoring.models import Case, Estimate
from monitoring.selectors.trust import trust_of
from monitoring.services import cases, rebuild, rounds, summaries
from projects.models import Season
from projects.services import log
from tests import factories
from tests.field_log.visits import item, line, visit_body
from tests.results.conftest import address, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def read(signed_in, ana):
    client = signed_in(ana)

    def get(name, member=None, query="", **kwargs):
        answer = (signed_in(member) if member else client).get(address(name, **kwargs) + query)
        assert answer.status_code == 200
        return words(answer)

    return get


def bound(measure, scope="block"):
    return Estimate.objects.get(scope=scope, measure=measure, is_headline=True)


def second_count(made, number, alive, **fields):
    """Somebody else counts a plot five days later."""
    plot, baseline = made.plots[number], made.baselines[number]
    body = visit_body(plot, made.survey_round, [line(baseline, alive, **fields)], observed_on="2025-09-19")
    log.append_items(made.actor, [item(body)])


# --- bounds ---------------------------------------------------------------------------------
def test_with_nothing_open_the_page_says_so(read, make_hillside):
    made = make_hillside(1, 6)
    made.send([16] * 6, dead_stem=4)
    made.work()
    Case.objects.all().delete()
    text = read("round_trust", uid=made.survey_round.uid)
    assert "Nothing is open" in text
    assert "Every plot of the round was counted." in text
    assert not Estimate.objects.filter(measure="survival_worst_case").exists()


def test_two_counts_of_one_plot_bound_survival_by_the_lower_and_the_higher(read, make_hillside):
    made = make_hillside(1, 6)
    made.send([16] * 6, dead_stem=4)
    second_count(made, 0, 10, dead_stem=10)
    made.work()
    assert bound("survival_cases_low").value == pytest.approx(90 / 120)
    assert bound("survival_cases_high").value == pytest.approx(96 / 120)
    assert bound("survival_worst_case").value == bound("survival_cases_low").value
    text = read("round_trust", uid=made.survey_round.uid)
    assert "Doubtful counts, each at its lowest and its highest reading" in text
    assert "Two people counted one plot : 1" in text
    (second,) = Case.objects.filter(kind="second_root")
    chosen = next(value for value, _words in cases.choices(second))
    cases.settle_case(actor=made.actor, case=second, choice=chosen, reason="went back")
    made.work()
    assert not Estimate.objects.filter(measure__in=["survival_cases_low", "survival_worst_case"]).exists()


def test_a_count_above_its_baseline_is_shown_capped_and_at_its_worst(read, make_hillside):
    made = make_hillside(1, 6)
    made.send([23], 0)
    made.send([16] * 5, 1, dead_stem=4)
    made.work()
    assert bound("survival").value == bound("survival_cases_high").value == pytest.approx(100 / 120)
    assert bound("survival_cases_low").value == pytest.approx(80 / 120)
    case = Case.objects.get(kind="over_baseline")
    assert "between 0 and 20 of these trees may live: Quercus robur" in read("case_detail", uid=case.uid)


def test_a_plot_not_counted_is_bounded_by_none_and_all_of_its_trees(read, make_hillside):
    made = make_hillside(1, 6)
    made.send([16] * 5, dead_stem=4)
    made.skip(5, status="missing", reason="unsafe")
    made.work()
    assert bound("survival").value == pytest.approx(80 / 100)
    assert bound("survival_missing_dead").value == pytest.approx(80 / 120)
    assert bound("survival_missing_alive").value == pytest.approx(100 / 120)
    text = read("round_trust", uid=made.survey_round.uid)
    assert "Plots without a count: nothing lives there, or all of it does" in text
    assert "not counted: 1 unsafe, not visited" in text


def test_a_plot_nobody_reported_is_missing_once_the_round_is_closed(make_hillside, read):
    made = make_hillside(1, 6)
    made.send([16] * 5, dead_stem=4)
    made.work()
    assert not Estimate.objects.filter(measure="survival_missing_dead").exists()
    assert "1 not reported yet" in read("round_trust", uid=made.survey_round.uid)
    rounds.close_round(actor=made.actor, survey_round=made.survey_round)
    made.work()
    assert bound("survival_missing_dead").value == pytest.approx(80 / 120)


def test_a_missing_plot_without_a_baseline_holds_what_its_block_holds_on_average(make_hillside):
    made = make_hillside(1, 6)
    made.baselines[5].delete()
    made.send([16] * 5, dead_stem=4)
    made.skip(5, status="missing", reason="unsafe")
    made.work()
    assert bound("survival_missing_dead").value == pytest.approx(80 / 120)


def test_uncertain_origins_are_bounded_and_trees_not_found_stand_in_the_best(read, make_hillside):
    made = make_hillside(1, 6)
    made.send([16], 0, dead_stem=2, origin_uncertain=4)  # two not found
    made.send([16] * 5, 1, dead_stem=4)
    made.work()
    assert bound("survival_uncertain_natural").value == pytest.approx(92 / 120)
    assert bound("survival_worst_case").value == pytest.approx(92 / 120)
    assert bound("survival_best_case").value == pytest.approx(98 / 120)
    assert "Living trees of uncertain origin" in read("round_trust", uid=made.survey_round.uid)


def test_the_page_says_whether_deciding_could_turn_the_outcome(read, make_hillside, project):
    made = make_hillside(1, 6)
    made.send([19] * 5, dead_stem=1)
    made.skip(5, status="missing", reason="unsafe")
    made.work()
    line_ = trust_of(made.survey_round).everything
    assert (line_.now, line_.could_turn) == ("meets_target", True)
    text = read("round_trust", uid=made.survey_round.uid)
    assert "The outcome could still turn: not settled yet at worst, meets target at best." in text
    made.send([19], 5, dead_stem=1)
    made.work()
    second_count(made, 0, 18, dead_stem=2)
    made.work()
    assert "Whatever is decided, the outcome stays: meets target." in read(
        "round_trust", uid=made.survey_round.uid
    )


def test_a_project_is_bounded_by_its_blocks_weights(make_hillside, read):
    made = make_hillside(2, 6)
    made.send([18] * 6, dead_stem=2)
    made.send([10] * 5, 6, dead_stem=10)
    made.skip(11, status="missing", reason="refused")
    made.work()
    assert bound("survival_missing_dead", "project").value == pytest.approx((0.9 + 50 / 120) / 2)
    assert bound("survival_missing_alive", "project").value == pytest.approx((0.9 + 70 / 120) / 2)
    assert not Estimate.objects.filter(
        measure="survival_missing_dead", scope="block", block=made.blocks[0]
    ).exists()
    assert "Block by block" in read("round_trust", uid=made.survey_round.uid)


# --- observers ------------------------------------------------------------------------------
def test_fewer_than_three_double_counts_are_listed_without_limits(read, make_hillside):
    made = make_hillside(1, 6)
    made.send([16] * 6, dead_stem=4)
    second_count(made, 0, 14, dead_stem=6)
    made.work()
    row = Estimate.objects.get(measure="observer_difference")
    assert (row.value, row.reason, row.facts["pairs"][0][1:]) == (None, "too_few_pairs", [16, 14, 20])
    text = read("round_trust", uid=made.survey_round.uid)
    assert "1 plot was counted by two people." in text
    assert "Fewer than three plots were counted twice" in text
    assert "1-1 20 16 14" in text


def test_double_counts_give_limits_of_agreement(read, make_hillside):
    made = make_hillside(1, 6)
    made.send([16] * 6, dead_stem=4)
    for number, alive in enumerate((14, 16, 17, 15)):
        second_count(made, number, alive, dead_stem=20 - alive)
    made.work()
    row = Estimate.objects.get(measure="observer_difference")
    # differences 2, 0, −1, 1 of 20 trees: mean .025, s .0645497, t(3) 3.182446 (as in tests/published)
    assert row.value == pytest.approx(0.025)
    assert row.upper - row.value == pytest.approx(3.1824463 * 0.0645497224 * 1.25**0.5)
    text = read("round_trust", uid=made.survey_round.uid)
    assert "4 plots were counted by two people." in text
    assert "Neither leans to one side more than chance would have it." in text
    assert not Estimate.objects.filter(measure__in=["observer_kappa", "alive_found"]).exists()


def test_tagged_spots_give_kappa_and_detection(read, make_hillside):
    made = make_hillside(1, 6)
    made.send([16] * 5, 1, dead_stem=4)
    first = ["alive"] * 12 + ["dead_stem"] * 5 + ["not_found"] * 3
    second = ["alive"] * 10 + ["dead_stem"] * 5 + ["alive"] * 3 + ["not_found"] * 2
    for day, statuses in (("2025-09-14", first), ("2025-09-19", second)):
        spots = [{"spot": f"S{n}", "status": status} for n, status in enumerate(statuses)]
        row = line(made.baselines[0], statuses.count("alive"), dead_stem=5, spots=spots)
        body = visit_body(made.plots[0], made.survey_round, [row], observed_on=day)
        log.append_items(made.actor, [item(body)])
    made.work()
    same = Estimate.objects.get(measure="observer_kappa")
    assert (same.facts["spots"], same.facts["agreed"]) == (20, 10 + 3 + 2)
    found = Estimate.objects.get(measure="alive_found")
    assert found.value == pytest.approx(10 / 13)
    assert found.facts["living"][0] == pytest.approx(13 * 14 / 11 - 1)
    assert "Of 20 tagged spots both recorded, they gave 15 the same status." in read(
        "round_trust", uid=made.survey_round.uid
    )


def test_trees_not_found_and_alive_a_year_later_are_told(read, make_hillside, project):
    made = make_hillside(1, 6)
    before = factories.survey_round(
        project, made.plots, name="Before", opens_on=date(2024, 9, 1), closes_on=date(2024, 10, 31)
    )
    lines = [(plot, line(b, 14, dead_stem=2)) for plot, b in zip(made.plots, made.baselines, strict=True)]
    log.append_items(
        made.actor, [item(visit_body(plot, before, [row], observed_on="2024-09-14")) for plot, row in lines]
    )
    made.send([16] * 6, dead_stem=4)
    made.work()
    row = Estimate.objects.get(measure="not_found_later_alive", round=made.survey_round)
    assert (row.facts, row.value) == ({"found": 12, "not_found": 24}, 0.5)
    assert not Case.objects.filter(kind="contradicts_earlier").exists()
    assert "Of 24 trees not found in the round before, at least 12 lived" in read(
        "round_trust", uid=made.survey_round.uid
    )


# --- cases and summaries --------------------------------------------------------------------
def test_a_contradicting_visit_stands_beside_the_one_it_contradicts(read, make_hillside, project):
    made = make_hillside(1, 6)
    before = factories.survey_round(
        project, made.plots, name="Before", opens_on=date(2024, 9, 1), closes_on=date(2024, 10, 31)
    )
    told = visit_body(
        made.plots[0], before, [line(made.baselines[0], 9, dead_stem=11)], observed_on="2024-09-14"
    )
    log.append_items(made.actor, [item(told)])
    made.send([15], dead_stem=5)
    text = read("case_detail", uid=Case.objects.get().uid)
    assert "between 9 and 15 of these trees may live" in text
    assert "The visit it contradicts" in text
    assert "14 September 2024 Before" in text


def test_doubts_of_figures_have_pages_and_a_list_of_their_kind(read, hillside, hill):
    case = Case.objects.get(kind="totals_disagree")
    assert "the whole round" in read("case_list", query=f"?round={hillside.survey_round.uid}")
    assert "Nothing waits for a decision here." in read("case_list", query="?kind=outlier")
    text = read("case_detail", uid=case.uid)
    assert "Living planted trees two ways" in text
    assert "The reason is known; leave the figures as they are" in text


def test_a_lead_settles_totals_that_disagree_on_the_page(signed_in, ben, hillside):
    case = Case.objects.get(kind="totals_disagree")
    answer = signed_in(ben).post(
        address("case_detail", uid=case.uid),
        {"choice": "accept", "reason": "The boundary is being drawn again."},
    )
    assert answer.status_code == 302
    assert Case.objects.get(kind="totals_disagree").settled_as == "accept"


def test_a_funder_reads_the_page_without_the_ways_to_cases(read, hillside, fred):
    text = read("round_trust", member=fred, uid=hillside.survey_round.uid)
    assert "Living trees by ledger and by area disagree: 1" in text


def test_a_summary_tells_best_and_worst_and_what_has_no_count(actor, make_hillside, read):
    made = make_hillside(1, 6)
    made.send([16] * 5, dead_stem=4)
    made.skip(5, status="missing", reason="unsafe")
    made.work()
    season = Season.objects.get(kind="reporting")
    edition = summaries.make_summary(actor=actor, project=made.project, season=season)
    text = read("summary_detail", uid=edition.uid)
    assert "17 % of the plots have no count." in text
    assert "With everything open decided for the worst, survival is 67 %" in text


def test_the_page_takes_the_same_queries_for_two_blocks_and_for_six(make_hillside, signed_in, ana):
    def queries(n_blocks, name):
        made = make_hillside(n_blocks, 3, name=name)
        made.send([16] * (3 * n_blocks - 1), dead_stem=4)
        made.skip(3 * n_blocks - 1, status="missing", reason="unsafe")
        made.work()
        client = signed_in(ana)
        with CaptureQueriesContext(
            connection,
        ) as seen:
            assert client.get(address("round_trust", uid=made.survey_round.uid)).status_code == 200
        return len(seen)

    assert queries(2, "Few") == queries(6, "Many")


def test_a_rebuild_gives_the_same_bounds(hill, make_hillside):
    made = make_hillside(2, 6)
    made.send([23, 18, 17, 16, 19], 0, origin_uncertain=1)
    second_count(made, 1, 12, dead_stem=8)
    made.send([10] * 6, 6, dead_stem=8)
    made.work()
    before = rebuild.derived_digest(hill)
    assert rebuild.rebuild(hill).digest == before
