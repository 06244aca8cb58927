"""What a later visit says of an earlier one: a tree not found may live, a dead one may not; by count and by tag."""

import json
from datetime import date

import pytest

from monitoring.models import Case, Visit
from projects.models import Submission
from projects.services import log
from tests import factories
from tests.field_log.visits import correction, item, line, visit_body

pytestmark = pytest.mark.django_db


def store(actor, *items):
    return log.append_items(actor, list(items))


@pytest.fixture
def earlier(project, plots, baselines):
    return factories.survey_round(
        project, plots, name="First season", opens_on=date(2024, 9, 1), closes_on=date(2024, 10, 31)
    )


def told(plot, survey_round, baseline, day, statuses, **fields):
    """A sheet of tagged spots, with the totals they add up to."""
    spots = [{"spot": f"S{number}", "status": status} for number, status in enumerate(statuses, 1)]
    names = ("dead_stem", "empty_spot", "not_assessed")
    totals = {name: statuses.count(name) for name in names if statuses.count(name)}
    row = line(baseline, statuses.count("alive"), spots=spots, **totals, **fields)
    return item(visit_body(plot, survey_round, [row], observed_on=day))


@pytest.mark.parametrize("missed", ["not_found", "not_assessed"])
def test_a_tree_that_was_missed_and_lives_is_believed_by_count(
    actor, plots, baselines, survey_round, earlier, missed
):
    before = line(baselines[0], 12, dead_stem=3, **{missed: 5})
    store(actor, item(visit_body(plots[0], earlier, [before], observed_on="2024-09-14")))
    (later,) = store(actor, item(visit_body(plots[0], survey_round, [line(baselines[0], 17, dead_stem=3)])))
    assert later.flags == ()
    assert not Case.objects.exists()


def test_one_more_than_were_missed_contradicts_by_count(actor, plots, baselines, survey_round, earlier):
    before = line(baselines[0], 12, dead_stem=3)  # five not found
    store(actor, item(visit_body(plots[0], earlier, [before], observed_on="2024-09-14")))
    (later,) = store(actor, item(visit_body(plots[0], survey_round, [line(baselines[0], 18, dead_stem=2)])))
    assert later.flags == ("contradicts_earlier",)
    (found,) = Case.objects.get().facts["ranges"]
    assert (found["low"][0], found["high"][0]) == (17, 18)


def test_a_tagged_tree_that_was_missed_and_lives_is_believed(actor, plots, baselines, survey_round, earlier):
    store(
        actor,
        told(plots[0], earlier, baselines[0], "2024-09-14", ["alive"] * 15 + ["not_found"] * 5),
        told(plots[0], survey_round, baselines[0], "2025-09-14", ["dead_stem"] * 3 + ["alive"] * 17),
    )
    assert not Case.objects.exists()


def test_a_tagged_tree_that_was_dead_and_lives_contradicts_though_the_totals_fall(
    actor, plots, baselines, survey_round, earlier
):
    before = ["dead_stem"] * 4 + ["alive"] * 16
    after = ["alive"] * 2 + ["dead_stem"] * 8 + ["alive"] * 10
    _first, later = store(
        actor,
        told(plots[0], earlier, baselines[0], "2024-09-14", before),
        told(plots[0], survey_round, baselines[0], "2025-09-14", after),
    )
    assert later.flags == ("contradicts_earlier",)
    (found,) = Case.objects.get().facts["ranges"]
    assert (found["low"][0], found["high"][0]) == (10, 12)
    body = json.loads(Submission.objects.get(seq=2).body)
    again, id_ = correction(body, lines=[body["lines"][0] | {"resprout": 2}])
    (fine,) = store(actor, item(again, id=id_))
    assert fine.flags == ()


def test_a_tag_last_seen_dead_stays_dead_over_a_visit_that_did_not_find_it(
    actor, project, plots, baselines, survey_round, earlier
):
    between = factories.survey_round(
        project, plots, name="Between", opens_on=date(2025, 3, 1), closes_on=date(2025, 4, 30)
    )
    store(
        actor,
        told(plots[0], earlier, baselines[0], "2024-09-14", ["dead_stem"] + ["alive"] * 19),
        told(plots[0], between, baselines[0], "2025-03-14", ["not_found"] * 6 + ["alive"] * 14),
        told(plots[0], survey_round, baselines[0], "2025-09-14", ["alive"] * 20),
    )
    flagged = Visit.objects.filter(n_flags__gt=0)
    assert [visit.flags for visit in flagged] == [["contradicts_earlier"]]
    assert flagged.get().round == survey_round
