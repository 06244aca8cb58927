"""Change between rounds and survival over time: stored figures and the pages that show them."""

from collections.abc import Sequence
from datetime import date
from typing import Any

import pytest

from monitoring.models import Estimate, SurveyRound
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
