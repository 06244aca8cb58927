"""The chain names every row that was touched, and still holds after what people asked to be erased is gone."""

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection

from monitoring.models import Case
from monitoring.services import cases
from projects import access, append_only
from projects.errors import Refusal
from projects.models import ChainHead, Decision, HistoryEntry, Person, Submission, SubmissionPersonal
from projects.services import chain, erasure, log
from tests import factories
from tests.field_log.visits import item, line, visit_body

pytestmark = pytest.mark.django_db

NOTE = '{"author": "Dora Quill", "note": "met the owner", "device": "phone 7"}'


@pytest.fixture
def whole(actor, plots, baselines, survey_round):
    """Four records, the second without a personal part, and a decision: numbers 1 to 5."""
    items = [
        item(visit_body(plots[n % 3], survey_round, [line(baselines[n % 3], alive)]), personal=personal)
        for n, (alive, personal) in enumerate([(23, NOTE), (15, ""), (16, NOTE), (17, NOTE)])
    ]
    log.append_items(actor, items)
    case = Case.objects.get(kind="over_baseline")
    cases.settle_case(actor=actor, case=case, choice="accept", reason="counted twice")
    return actor.organisation


@pytest.fixture
def opened(whole):
    """The same with the database in somebody's hand: no trigger guards the log."""
    with connection.cursor() as cursor:
        for statement in append_only.dropping(connection.vendor):
            cursor.execute(statement)
    return whole


def named(organisation):
    return {(found.seq, found.problem) for found in chain.breaks(organisation)}


def test_a_whole_log_has_no_break_whatever_it_holds(whole):
    assert named(whole) == set()
    assert chain.revision_of(whole) == 5


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"body": "{}"}, "its body was edited"),
        ({"body_sha256": "0" * 64}, "its hash does not match what it holds"),
        ({"source": "desk"}, "its hash does not match what it holds"),
        ({"schema": "visit/2"}, "its hash does not match what it holds"),
        ({"hash": "0" * 64}, "its hash does not match what it holds"),
        ({"prev_hash": "0" * 64}, "it does not follow the row before it"),
        ({"personal_hash": "0" * 64}, "its personal part was edited"),
        ({"received_at": "2020-01-01T00:00:00Z"}, "its hash does not match what it holds"),
    ],
)
def test_an_edited_record_is_named(opened, change, problem):
    Submission.objects.filter(seq=3).update(**change)
    assert (3, problem) in named(opened)


def test_an_edited_decision_is_named(opened):
    Decision.objects.update(body='{"as": "discard"}')
    assert (5, "its body was edited") in named(opened)


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"personal": '{"author": "somebody else"}'}, "its personal part was edited"),
        ({"personal_salt": "0" * 64}, "its personal part was edited"),
        ({"personal": ""}, "its personal part was edited"),
        ({"erased_at": "2026-01-01T00:00:00Z"}, "its personal part was to be erased and is still there"),
    ],
)
def test_an_edited_personal_part_is_named(whole, change, problem):
    SubmissionPersonal.objects.filter(submission__seq=3).update(**change)
    assert named(whole) == {(3, problem)}


def test_a_personal_part_that_vanished_or_appeared_is_named(whole):
    SubmissionPersonal.objects.filter(submission__seq=3).delete()
    second = Submission.objects.get(seq=2)
    SubmissionPersonal.objects.create(
        submission=second, organisation=whole, personal="{}", personal_salt="1" * 64
    )
    assert named(whole) == {
        (2, "its personal part was edited"), (3, "its personal part was removed, not erased"),
    }  # fmt: skip


@pytest.mark.parametrize("seq", [1, 3])
def test_a_deleted_record_is_missed_where_it_was(opened, seq):
    SubmissionPersonal.objects.filter(submission__seq=seq).delete()
    Submission.objects.filter(seq=seq).delete()
    assert (seq, f"numbers {seq} to {seq} are missing") in named(opened)


def test_a_deleted_last_row_is_missed_while_the_head_remembers_it(opened):
    Decision.objects.all().delete()
    assert named(opened) == {(5, "the head does not point at the last row")}


def test_a_deleted_head_is_missed(opened):
    ChainHead.objects.all().delete()
    assert (4, "it stands beyond the head") in named(opened)
    assert (5, "it stands beyond the head") in named(opened)


def test_a_row_put_behind_the_head_is_named(opened):
    row = Submission.objects.get(seq=4)
    row.pk, row.seq, row.client_id = None, 9, "00000000-0000-4000-8000-000000000009"
    row.save(force_insert=True)
    assert named(opened) == {(9, "it stands beyond the head")}


def test_a_cut_end_with_the_head_set_back_cannot_be_seen_from_inside_but_by_the_number_kept_elsewhere(opened):
    kept = chain.revision_of(opened)
    Decision.objects.all().delete()
    last = Submission.objects.get(seq=4)
    ChainHead.objects.update(seq=4, hash=last.hash)
    assert named(opened) == set()
    assert chain.revision_of(opened) < kept


def test_counts_that_arrive_during_the_walk_are_no_break(whole, actor, plots, baselines, survey_round):
    walk = chain.rows_in_order

    def with_a_late_count(*args):
        yield from walk(*args)
        log.append_items(actor, [item(visit_body(plots[0], survey_round, [line(baselines[0], 5)]))])

    try:
        chain.rows_in_order = with_a_late_count
        assert named(whole) == set()
    finally:
        chain.rows_in_order = walk
    assert named(whole) == set()


# --- erasure --------------------------------------------------------------------------------
def test_an_erased_person_leaves_counts_and_a_whole_chain(whole, actor):
    person = actor.person
    before = list(Submission.objects.order_by("seq").values_list("body", "hash"))
    assert erasure.erase_person(actor=actor, person=person, reason="asked by letter") == 3
    assert (person.name, person.contact, person.erased_at is None) == ("", "", False)
    assert set(SubmissionPersonal.objects.values_list("personal", "personal_salt")) == {("", "")}
    assert list(Submission.objects.order_by("seq").values_list("body", "hash")) == before
    assert named(whole) == set()
    entry = HistoryEntry.objects.get(verb="person.erased")
    assert (entry.change["records"], "Dora" in entry.subject_label) == ([None, 3], False)
    assert erasure.erase_person(actor=actor, person=person, reason="again") == 0


def test_single_records_are_erased_by_their_ids(whole, actor):
    ids = Submission.objects.filter(seq__in=[1, 2, 3]).values_list("client_id", flat=True)
    assert erasure.erase_records(actor=actor, client_ids=list(ids), reason="a neighbour's name") == 2
    assert SubmissionPersonal.objects.get(erased_at__isnull=True).submission.seq == 4
    assert named(whole) == set()


def test_an_edited_record_is_named_after_erasure_too(opened, actor):
    erasure.erase_person(actor=actor, person=actor.person, reason="asked")
    Submission.objects.filter(seq=3).update(body="{}")
    assert (3, "its body was edited") in named(opened)


def test_erasure_asks_for_a_reason_a_right_and_the_own_organisation(whole, actor, ben, olaf):
    with pytest.raises(Refusal) as refused:
        erasure.erase_person(actor=actor, person=actor.person, reason=" ")
    assert refused.value.field == "reason"
    with pytest.raises(Refusal):
        erasure.erase_person(actor=actor, person=olaf.person, reason="asked")
    with pytest.raises(PermissionDenied):
        erasure.erase_person(actor=access.member_actor(ben), person=actor.person, reason="asked")
    ids = list(Submission.objects.values_list("client_id", flat=True))
    assert erasure.erase_records(actor=access.member_actor(olaf), client_ids=ids, reason="asked") == 0
    assert SubmissionPersonal.objects.filter(erased_at__isnull=False).count() == 0


def test_two_organisations_have_chains_of_their_own(whole, olaf, other):
    project = factories.project(other)
    plot = factories.plot(factories.block(other, project, factories.site(other)))
    far = factories.survey_round(project, [plot])
    (outcome,) = log.append_items(access.member_actor(olaf), [item(visit_body(plot, far))])
    assert outcome.seq == 1
    assert (named(whole), named(other)) == (set(), set())


def test_a_row_given_to_another_person_is_named(opened):
    somebody = Person.objects.create(organisation=opened, name="Somebody else")
    Submission.objects.filter(seq=2).update(submitted_by=somebody)
    Decision.objects.filter(seq=5).update(decided_by=somebody)
    problem = "its hash does not match what it holds"
    assert [(found.seq, found.problem) for found in chain.breaks(opened)] == [(2, problem), (5, problem)]
