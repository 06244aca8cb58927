"""Change between rounds and survival over time: stored figures and the pages that show them."""

import re
from collections.abc import Sequence
from datetime import date
from typing import Any

import pytest

from monitoring.models import Estimate, SurveyRound, SurvivalCurve
from projects.models import Cohort
from projects.services import log
from tests import factories
from tests.field_log.visits import item, line, visit_body
from tests.results.conftest import Hillside, address, words

pytestmark = pytest.mark.django_db

THEN = (18, 17, 19, 18, 16, 19)
NOW = (16, 17, 18, 17, 15, 18)


def count(made: Hillside, survey_round: SurveyRound, alive: Sequence[int], day: str, **told: Any) -> None:
    """Count every plot of a round; what is not alive was seen dead."""
    pairs = zip(made.plots, made.baselines, alive, strict=False)
    bodies = [
        visit_body(plot, survey_round, [line(one, number, dead_stem=20 - number, **told)], observed_on=day)
        for plot, one, number in pairs
    ]
    log.append_items(made.actor, [item(body) for body in bodies])


def next_round(made: Hillside, plots=None, year: int = 2026, name: str = "Next round") -> SurveyRound:
    return factories.survey_round(
        made.project, plots or made.plots, name=name, opens_on=date(year, 9, 1), closes_on=date(year, 10, 1)
    )


@pytest.fixture
def twice(make_hillside):
    """One block of six plots, counted in two rounds a year apart."""
    made = make_hillside(1, 6)
    count(made, made.survey_round, THEN, "2025-09-14")
    again = next_round(made)
    count(made, again, NOW, "2026-09-14")
    made.work()
    return made, again


def change(survey_round: SurveyRound, scope: str = "block", measure: str = "survival_change") -> Estimate:
    return Estimate.objects.get(round=survey_round, scope=scope, measure=measure, is_headline=True)


def test_a_later_round_stores_the_change_since_the_one_before(twice):
    made, again = twice
    row = change(again)
    assert row.value == pytest.approx((sum(NOW) - sum(THEN)) / 120)
    assert row.facts["since_round"] == str(made.survey_round.uid)
    assert row.facts["plots_common"] == 6
    assert change(again, measure="interval_survival").value == pytest.approx(sum(NOW) / sum(THEN))
    assert change(again, "project").value == row.value
    assert not Estimate.objects.filter(round=made.survey_round, measure="survival_change").exists()


def test_a_correction_of_the_earlier_round_changes_what_the_later_one_says(twice):
    made, again = twice
    body = visit_body(
        made.plots[0], made.survey_round, [line(made.baselines[0], 20)], observed_on="2025-09-13"
    )
    log.append_items(made.actor, [item(body)])
    made.work()
    assert change(again).value == pytest.approx((sum(NOW) - sum(THEN) - 2) / 120)


def test_a_block_is_compared_with_the_last_round_that_counted_it(make_hillside):
    made = make_hillside(2, 6)
    count(made, made.survey_round, (*THEN, *THEN), "2025-09-14")
    first_only = next_round(made, made.plots[:6])
    count(made, first_only, NOW, "2026-09-14")
    both = next_round(made, year=2027, name="Third")
    count(made, both, (*NOW, *NOW), "2027-09-14")
    made.work()
    rows = {
        row.key: row for row in Estimate.objects.filter(round=both, scope="block", measure="survival_change")
    }
    near, far = rows[str(made.blocks[0].uid)], rows[str(made.blocks[1].uid)]
    assert near.facts["since_round"] == str(first_only.uid)
    assert near.value == 0
    assert far.facts["since_round"] == str(made.survey_round.uid)
    assert far.value == pytest.approx((sum(NOW) - sum(THEN)) / 120)
    project = change(both, "project")
    assert project.facts["since_round"] == str(first_only.uid)
    assert project.reason == "shared_only"


def curve(made: Hillside, scope: str = "cohort") -> SurvivalCurve:
    return SurvivalCurve.objects.get(project=made.project, scope=scope)


def test_every_cohort_block_and_season_has_a_curve_over_its_rounds(twice):
    made, again = twice
    for scope in ("cohort", "block", "project"):
        row = curve(made, scope)
        assert row.method == "linked_rounds"
        shares = [point["survival"] for point in row.points]
        assert shares == pytest.approx([1, sum(THEN) / 120, sum(NOW) / 120])
        assert [point["round"] for point in row.points] == [None, str(made.survey_round.uid), str(again.uid)]
    cohort = Cohort.objects.get()
    assert curve(made).key == str(cohort.uid)
    assert curve(made, "block").key == f"{made.blocks[0].uid}:{cohort.season.uid}"


def test_removals_of_the_sheet_are_withdrawn_on_their_day(make_hillside):
    made = make_hillside(1, 6)
    count(made, made.survey_round, (20,) * 6, "2025-09-14")
    again = next_round(made)
    removal = {
        "baseline": str(made.baselines[0].line),
        "removed_on": "2026-03-15",
        "alive_removed": 8,
        "reason": "thinning",
    }
    first = visit_body(
        made.plots[0], again, [line(made.baselines[0], 12)], observed_on="2026-09-14", removals=[removal]
    )
    rest = [
        visit_body(plot, again, [line(one, alive, dead_stem=20 - alive)], observed_on="2026-09-14")
        for plot, one, alive in zip(made.plots[1:], made.baselines[1:], (17, 20, 20, 20, 20), strict=True)
    ]
    log.append_items(made.actor, [item(body) for body in (first, *rest)])
    made.work()
    half = (date(2026, 3, 15) - date(2025, 9, 14)).days / 365
    row = curve(made)
    assert row.facts["removed"] == 8
    assert row.points[2]["survival"] == pytest.approx(1 - 3 / (120 - 8 + 8 * half))
    interval = change(again, measure="interval_survival")
    assert interval.value == pytest.approx(109 / 112)
    assert interval.reason == "removed_between"


def test_planting_spots_followed_one_by_one_give_turnbull(make_hillside):
    made = make_hillside(1, 6, planted=3)
    again = next_round(made)
    for survey_round, day, statuses in (
        (made.survey_round, "2025-09-14", ("alive", "alive", "alive")),
        (again, "2026-09-14", ("alive", "not_found", "dead_stem")),
    ):
        bodies = []
        for plot, one in zip(made.plots, made.baselines, strict=True):
            spots = [{"spot": str(number), "status": status} for number, status in enumerate(statuses)]
            told = {"dead_stem": statuses.count("dead_stem"), "spots": spots}
            lines = [line(one, statuses.count("alive"), **told)]
            bodies.append(visit_body(plot, survey_round, lines, observed_on=day))
        log.append_items(made.actor, [item(body) for body in bodies])
    made.work()
    row = curve(made)
    assert row.method == "turnbull_spots"
    assert row.points[2]["survival"] == pytest.approx(1 / 2, abs=1e-6)  # one of the two seen in each plot


def test_curves_are_made_again_to_the_byte(twice, hill):
    from monitoring.services.rebuild import derived_digest, rebuild

    before = derived_digest(hill)
    assert rebuild(hill).digest == before
    assert SurvivalCurve.objects.count() == 3


def test_curves_of_many_plots_take_no_more_queries(make_hillside, django_assert_max_num_queries):
    from monitoring.services import curves

    made = make_hillside(3, 8)
    again = next_round(made)
    count(made, made.survey_round, (18,) * 24, "2025-09-14")
    count(made, again, (17,) * 24, "2026-09-14")
    made.work()
    with django_assert_max_num_queries(45):
        assert len(curves.curves_of(made.project)) == 7


# --- pages ----------------------------------------------------------------------------------
@pytest.fixture
def read(signed_in, ana):
    """Read a page as the manager."""
    client = signed_in(ana)

    def get(name, **kwargs):
        answer = client.get(address(name, **kwargs))
        assert answer.status_code == 200
        return words(answer)

    return get


def test_the_page_shows_the_change_the_curve_and_the_same_figures_as_a_table(read, twice):
    made, _again = twice
    text = read("survival_over_time", uid=made.project.uid)
    assert "Survival fell: −5 points (−10 to −3 points)" in text
    assert "since Block round" in text
    assert re.search(r"94 %, \d\d to \d\d %", text)  # living now, of those living then
    assert "6 plots seen both times: the same plots, compared one by one" in text
    assert re.search(r"Next round 84 %, \d\d to \d\d %", text)
    assert "Rounds are linked by the plots that both counted." in text


def test_the_page_of_a_round_tells_the_change_too_and_the_first_round_none(read, twice):
    made, again = twice
    assert "What changed since the round before" in read("round_detail", uid=again.uid)
    assert "What changed since the round before" not in read("round_detail", uid=made.survey_round.uid)


def test_one_round_alone_says_so(read, make_hillside):
    made = make_hillside(1, 6)
    count(made, made.survey_round, THEN, "2025-09-14")
    made.work()
    text = read("survival_over_time", uid=made.project.uid)
    assert "One round alone shows no change." in text
    assert "Counted in one round only" in text


def test_nothing_counted_teaches_the_next_step(read, make_hillside):
    text = read("survival_over_time", uid=make_hillside(1, 6).project.uid)
    assert "It appears once the plots of a survey round are counted" in text


def test_other_plots_in_the_second_round_give_points_and_a_wide_change(read, make_hillside, oak):
    made = make_hillside(1, 12)
    again = next_round(made, made.plots[6:])
    first, second = (
        list(zip(made.plots, made.baselines, strict=True))[part] for part in (slice(6), slice(6, 12))
    )
    for survey_round, chosen, alive, day in (
        (made.survey_round, first, NOW, "2025-09-14"), (again, second, THEN, "2026-09-14"),
    ):  # fmt: skip
        for (plot, one), number in zip(chosen, alive, strict=True):
            lines = [line(one, number, dead_stem=20 - number)]
            log.append_items(made.actor, [item(visit_body(plot, survey_round, lines, observed_on=day))])
    made.work()
    text = read("survival_over_time", uid=made.project.uid)
    assert "the points are not joined" in text
    assert "6 plots then, 6 now: other plots each time" in text
    assert "No plot was seen in both rounds, so no tree can be followed." in text
    assert "a rise is chance, a recount, or trees found again" in text
    assert curve(made).method == "separate_points"


def test_plantings_of_two_seasons_have_a_curve_each(read, twice, hill, oak):
    made, _again = twice
    third = next_round(made, year=2027, name="Third")
    later = factories.cohort(
        made.blocks[0], factories.lot(hill, oak), factories.season(hill, year=2026), planted=200,
        planted_on=date(2026, 11, 1),
    )  # fmt: skip
    young = [
        factories.baseline(plot, oak, 10, cohort=later, counted_on=date(2026, 11, 2)) for plot in made.plots
    ]
    for plot, old, new, alive in zip(made.plots, made.baselines, young, NOW, strict=True):
        lines = [line(old, alive, dead_stem=20 - alive), line(new, 9, dead_stem=1)]
        log.append_items(made.actor, [item(visit_body(plot, third, lines, observed_on="2027-09-14"))])
    made.work()
    assert SurvivalCurve.objects.filter(project=made.project, scope="project").count() == 2
    assert change(third).value == 0  # the young trees are no part of it
    assert change(third).reason == "shared_only"
    text = read("survival_over_time", uid=made.project.uid)
    assert "Trees planted in different seasons have a curve each" in text
    assert "Only plantings that both rounds counted enter." in text


def test_the_picture_is_drawn_with_the_target_at_the_age_of_its_check(signed_in, ana, twice):
    made, _again = twice
    for scope in ("project", "block", "cohort"):
        answer = signed_in(ana).get(address("curve_chart", uid=curve(made, scope).uid))
        assert answer.status_code == 200
        assert answer["Content-Type"].startswith("image/svg+xml")
        assert "target 80\u00a0% at 18 months" in answer.content.decode()


def test_pages_of_many_blocks_take_no_more_queries(
    signed_in, ana, make_hillside, django_assert_max_num_queries
):
    made = make_hillside(5, 2)
    again = next_round(made)
    count(made, made.survey_round, (18, 17) * 5, "2025-09-14")
    count(made, again, (17, 17) * 5, "2026-09-14")
    made.work()
    client = signed_in(ana)
    with django_assert_max_num_queries(25):
        text = words(client.get(address("survival_over_time", uid=made.project.uid)))
    assert text.count("plots seen both times") == 6
