"""Change between rounds and survival over time: stored figures and the pages that show them."""

from collections.abc import Sequence
from datetime import date
from typing import Any

import pytest

from monitoring.models import Estimate, SurveyRound, SurvivalCurve
from projects.models import Cohort
from projects.services import log
from tests import factories
from tests.field_log.visits import item, line, visit_body
from tests.results.conftest import Hillside

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
