"""Walks between rounds: what is due, what was seen, the tasks that follow, and that no estimate hears of it."""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from monitoring.models import DirtyKey, Estimate
from monitoring.services import dirty, drain
from projects import access, clocks, walk_words
from projects.calc.walks_due import Cause, WalkRules, settled_on, task_for_sign, walks_due, window_of
from projects.errors import Refusal
from projects.models import CareKind, CareTask, HistoryEntry, Paper, Reminder, Sighting, Sign, Walk
from projects.selectors import walks_due as selectors
from projects.services import care, log, site_events, walks
from projects.services.walks import SeenSign
from tests import factories
from tests.field_log.visits import item, line, visit_body

PLANTED = date(2024, 2, 10)


@pytest.fixture
def today(hill):
    return clocks.today_of(hill)


def record(actor, block, *seen, walked_on=date(2024, 3, 1), **more):
    return walks.record_walk(actor=actor, block=block, walked_on=walked_on, sightings=seen, **more)


# --- when a walk is due --------------------------------------------------------------------


def test_a_walk_is_due_two_to_six_weeks_after_the_last_planting_day():
    [due] = walks_due([Cause("planting", PLANTED)], [], PLANTED)
    assert (due.due_from, due.due_by) == (date(2024, 2, 24), date(2024, 3, 23))
    assert not due.has_begun(date(2024, 2, 23))
    assert due.has_begun(date(2024, 2, 24))
    assert not due.is_late(date(2024, 3, 23))
    assert due.is_late(date(2024, 3, 24))


@pytest.mark.parametrize(
    ("walked", "n_due"), [(date(2024, 2, 23), 1), (date(2024, 2, 24), 0), (date(2024, 5, 1), 0)]
)
def test_only_a_walk_on_or_after_the_first_day_settles_it(walked, n_due):
    assert len(walks_due([Cause("planting", PLANTED)], [walked], date(2024, 4, 1))) == n_due


def test_a_cause_told_twice_asks_once_and_causes_near_each_other_share_a_walk():
    storm = Cause("storm", date(2024, 3, 1), "a")
    found = walks_due([storm, storm, Cause("planting", PLANTED)], [], date(2024, 3, 2))
    assert [len(due.causes) for due in found] == [2]
    assert (found[0].opens_on, found[0].due_from, found[0].due_by) == (
        date(2024, 2, 24), date(2024, 3, 2), date(2024, 3, 6),
    )  # fmt: skip
    assert found[0].has_begun(date(2024, 2, 24))


def test_a_storm_after_the_first_walk_asks_for_another():
    causes = [Cause("planting", PLANTED), Cause("storm", date(2024, 4, 1))]
    [due] = walks_due(causes, [date(2024, 3, 1)], date(2024, 4, 2))
    assert [cause.kind for cause in due.causes] == ["storm"]


def test_what_lapsed_is_left_to_the_count_and_the_numbers_can_be_set():
    causes = [Cause("planting", PLANTED)]
    last = date(2024, 3, 23) + timedelta(days=60)
    assert len(walks_due(causes, [], last)) == 1
    assert walks_due(causes, [], last + timedelta(days=1)) == []
    soon = WalkRules(after_planting=(7, 10), lapses_after=5)
    assert window_of(causes[0], soon) == (date(2024, 2, 17), date(2024, 2, 20))
    assert walks_due(causes, [], date(2024, 2, 26), soon) == []
    with pytest.raises(ValueError, match="no rule"):
        window_of(Cause("snow", PLANTED))


days = st.dates(date(2024, 1, 1), date(2024, 6, 30))
kinds = st.sampled_from(["planting", "storm", "frost", "fire", "flood", "heat", "other"])


@given(st.lists(st.tuples(kinds, days), max_size=6), st.lists(days, max_size=3), days)
def test_walks_answer_each_open_cause_exactly_once(told, walked, today):
    causes = {Cause(kind, day) for kind, day in told}
    found = walks_due(causes, walked, today)
    asked = [cause for due in found for cause in due.causes]
    assert len(asked) == len(set(asked))
    for cause in causes:
        _first, last = window_of(cause)
        wanted = (
            settled_on(cause, walked) is None
            and cause.happened_on <= today
            and last >= today - timedelta(days=60)
        )
        assert (cause in asked) is wanted
    for due in found:  # a walk on the later of its first and last day settles them all
        made = max(due.due_from, due.due_by)
        assert all(settled_on(cause, [made]) for cause in due.causes)
        assert due.opens_on <= due.shown_from <= due.due_by  # a span never ends before it begins
    for one, other in pairwise(found):
        assert one.due_by <= other.due_by
        assert max(one.due_by, today) < other.due_from  # else one walk would have done for both


@pytest.mark.parametrize("sign", Sign.values)
def test_every_sign_has_something_to_do_about_it_and_a_date(sign):
    found = task_for_sign(sign, "now", PLANTED)
    assert found.kind in CareKind.values
    assert (found.due_from, found.due_by) == (PLANTED, PLANTED + timedelta(days=1))
    assert walk_words.sign_task(sign, "by the gate").endswith(": by the gate")
    assert task_for_sign(sign, "note", PLANTED) is None


def test_unknown_signs_and_urgencies_are_refused():
    with pytest.raises(ValueError, match="sign"):
        task_for_sign("ghost", "now", PLANTED)
    with pytest.raises(ValueError, match="urgency"):
        task_for_sign("fence", "someday", PLANTED)


# --- read from the records -----------------------------------------------------------------


def test_blocks_with_trees_are_due_after_planting_and_after_what_befell_their_site(
    hill, actor, site, project, cohort
):
    bare = factories.block(hill, project, site, name="Bare ground")
    site_events.tell_event(actor=actor, site=site, kind="storm", happened_on=date(2024, 2, 20))
    site_events.tell_event(
        actor=actor, site=site, kind="frost", happened_on=date(2024, 2, 1)
    )  # before planting
    found = selectors.walks_due(hill, date(2024, 2, 25))
    assert [row.block for row in found] == [cohort.block]
    assert bare not in [row.block for row in found]
    assert [cause.kind for cause in found[0].due.causes] == ["planting", "storm"]


@pytest.mark.parametrize(
    ("kind", "is_warned"), [("fire", True), ("storm", True), ("flood", True), ("frost", False)]
)
def test_who_is_to_walk_after_harm_is_told_what_the_ground_may_do(
    signed_in, ana, cohort, site, actor, kind, is_warned
):
    site_events.tell_event(actor=actor, site=site, kind=kind, happened_on=clocks.today_at(site))
    for name, more in (("walk_list", {}), ("block_detail", {"uid": cohort.block.uid})):
        page = (
            signed_in(ana).get(reverse(f"projects:{name}", kwargs={"org": "hill", **more})).content.decode()
        )
        assert ("never alone: limbs fall after storms and fires" in page) is is_warned


def test_a_walk_settles_and_a_walk_taken_back_does_not(hill, actor, cohort):
    walk = record(actor, cohort.block)
    assert selectors.walks_due(hill, date(2024, 3, 2)) == []
    walks.void_walk(actor=actor, walk=walk, reason="Wrong block")
    assert len(selectors.walks_due(hill, date(2024, 3, 2))) == 1


def test_what_did_not_happen_asks_for_no_walk(hill, actor, site, cohort):
    event = site_events.tell_event(actor=actor, site=site, kind="fire", happened_on=date(2024, 6, 1))
    later = date(2024, 6, 3)
    assert [c.kind for row in selectors.walks_due(hill, later) for c in row.due.causes] == ["fire"]
    with pytest.raises(Refusal):
        site_events.void_event(actor=actor, event=event, reason=" ")
    site_events.void_event(actor=actor, event=event, reason="The other valley")
    assert selectors.walks_due(hill, later) == []
    site_events.tell_event(actor=actor, site=site, kind="fire", happened_on=date(2024, 6, 1))
    with pytest.raises(Refusal, match="already"):
        site_events.tell_event(actor=actor, site=site, kind="fire", happened_on=date(2024, 6, 1))


def test_put_away_blocks_and_voided_plantings_are_not_walked(hill, cohort):
    cohort.planting_days.update(voided_at="2024-02-12T08:00Z")
    assert selectors.walks_due(hill, date(2024, 3, 1)) == []
    cohort.planting_days.update(voided_at=None)
    assert len(selectors.walks_due(hill, date(2024, 3, 1))) == 1
    type(cohort.block).objects.update(archived_at="2024-02-12T08:00Z")
    assert selectors.walks_due(hill, date(2024, 3, 1)) == []


def test_walks_due_cost_the_same_for_two_blocks_and_ten(hill, project, site, lot, django_assert_num_queries):
    season = factories.season(hill, "planting", year=2024)
    for number in (2, 8):
        for _n in range(number):
            factories.cohort(factories.block(hill, project, site), lot, season)
        with django_assert_num_queries(4):
            found = selectors.walks_due(hill, date(2024, 3, 1))
    assert len(found) == 10


# --- what was seen -------------------------------------------------------------------------


def test_a_sign_opens_one_task_in_its_window_and_a_noted_one_none(actor, block):
    fence = SeenSign("fence", "week", "north corner", 40.1, -7.2, "Post broken", ("a" * 64, "a" * 64))
    walk = record(actor, block, fence, SeenSign("weeds", "note"))
    task = CareTask.objects.get()
    assert (task.kind, task.what) == ("fence", "Mend the fence: north corner")
    assert (task.due_from, task.due_by) == (date(2024, 3, 1), date(2024, 3, 8))
    assert "Post broken" in task.why
    seen, noted = walk.sightings.order_by("id")
    assert (seen.task, noted.task) == (task, None)
    assert (seen.latitude, seen.longitude) == (40.1, -7.2)
    assert [paper.sha256 for paper in Paper.objects.filter(sighting=seen)] == ["a" * 64]
    assert Reminder.objects.get(kind="care_due").subject_uid == task.uid


def test_nothing_seen_is_a_full_answer(actor, block):
    walk = record(actor, block)
    assert not walk.sightings.exists()
    assert walk.walked_by == actor.person
    assert not CareTask.objects.exists()
    assert HistoryEntry.objects.get(verb="walk.recorded").subject_uid == walk.uid


def test_two_taps_make_one_walk_and_another_day_or_sign_makes_another(actor, block):
    first = record(actor, block, SeenSign("fence", "week", "gate "))
    assert record(actor, block, SeenSign("fence", "week", "gate")) == first
    assert CareTask.objects.count() == 1
    record(actor, block)
    record(actor, block, SeenSign("fence", "now", "gate"))
    record(actor, block, SeenSign("fence", "week", "gate"), walked_on=date(2024, 3, 2))
    assert Walk.objects.count() == 4
    walks.void_walk(actor=actor, walk=first, reason="Wrong")
    assert record(actor, block, SeenSign("fence", "week", "gate")) != first


@pytest.mark.parametrize(
    ("seen", "field"),
    [
        (SeenSign("ghost"), "sign"),
        (SeenSign("fence", "someday"), "urgency"),
        (SeenSign("fence", latitude=40.0), "latitude"),
        (SeenSign("fence", latitude=91.0, longitude=0.0), "latitude"),
        (SeenSign("fence", where="x" * 201), "where"),
    ],
)
def test_what_cannot_be_a_sign_is_refused_and_nothing_is_kept(actor, block, seen, field):
    with pytest.raises(Refusal) as refused:
        record(actor, block, SeenSign("weeds"), seen)
    assert refused.value.field == field
    assert not Walk.objects.exists()
    assert not Sighting.objects.exists()
    assert not CareTask.objects.exists()


def test_a_walk_of_tomorrow_or_of_strangers_is_refused(actor, block, today, other, olaf):
    with pytest.raises(Refusal, match="not come yet"):
        record(actor, block, walked_on=today + timedelta(days=2))
    with pytest.raises(Refusal, match="another organisation"):
        record(access.member_actor(olaf), block)


def test_who_leads_field_work_records_walks_and_a_volunteer_does_not(ben, vera, block):
    record(access.member_actor(ben), block)
    with pytest.raises(PermissionDenied):
        record(access.member_actor(vera), block)
    assert Walk.objects.count() == 1


def test_a_walk_taken_back_drops_what_nobody_did_yet(actor, block, today):
    walk = record(actor, block, SeenSign("fence", "now"), SeenSign("weeds", "now"))
    done, left = CareTask.objects.order_by("id")
    care.finish_task(actor=actor, task=done, done_on=date(2024, 3, 2))
    with pytest.raises(Refusal):
        walks.void_walk(actor=actor, walk=walk, reason="")
    walks.void_walk(actor=actor, walk=walk, reason="Entered twice")
    done.refresh_from_db()
    left.refresh_from_db()
    assert done.dropped_at is None
    assert left.dropped_at is not None
    assert not Reminder.objects.filter(kind="care_due").exists()


def test_walks_and_events_change_no_estimate_and_mark_nothing_to_compute(
    actor, site, block, plots, baselines, survey_round
):
    visits = [
        item(visit_body(plot, survey_round, [line(base, 15)]))
        for plot, base in zip(plots, baselines, strict=True)
    ]
    log.append_items(actor, visits)
    drain.work_through()
    before = list(Estimate.objects.order_by("uid").values())
    assert before
    assert not DirtyKey.objects.exists()
    site_events.tell_event(actor=actor, site=site, kind="storm", happened_on=date(2025, 9, 10))
    walk = record(actor, block, *(SeenSign(sign, "now") for sign in Sign.values), walked_on=date(2025, 9, 12))
    walks.void_walk(actor=actor, walk=walk, reason="To see that this changes nothing either")
    assert not DirtyKey.objects.exists()
    dirty.mark_round(survey_round)  # computed afresh with the walk in the records, every figure is the same
    drain.work_through()
    assert list(Estimate.objects.order_by("uid").values()) == before
