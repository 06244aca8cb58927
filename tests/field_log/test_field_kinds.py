"""Hand-overs, walks and care from phones: who may, what is refused, what is odd and kept, in whatever order."""

import inspect
import itertools
import json
import re
from datetime import UTC, date, datetime, timedelta
from uuid import UUID

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitoring.models import DirtyKey, Estimate
from monitoring.selectors.oddities import oddities
from monitoring.services import passes, rebuild
from projects import access
from projects.calc import field_doubts
from projects.doubt_words import DOUBTS
from projects.models import (
    CareTask,
    FieldPassProject,
    HistoryEntry,
    LotCheck,
    Paper,
    Person,
    RefusedItem,
    Sighting,
    Submission,
    Walk,
)
from projects.services import chain, erasure, log
from projects.services.field_kinds.outcomes import words_of
from tests import factories
from tests.field_log.work_records import care, handover, sealed, walk

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 11, 26, 9, tzinfo=UTC)
PICTURE, ANOTHER = "ab" * 32, "cd" * 32


@pytest.fixture(autouse=True)
def clock(monkeypatch):
    """The day after the crews were out."""
    monkeypatch.setattr(log.timezone, "now", lambda: NOW)


@pytest.fixture
def field_pass(survey_round, project, hill):
    row = factories.field_pass(survey_round)
    FieldPassProject.objects.create(organisation=hill, field_pass=row, project=project)
    return row


@pytest.fixture
def phone(field_pass):
    return passes.actor_of(field_pass)


@pytest.fixture
def task(block):
    return CareTask.objects.create(
        organisation=block.organisation, block=block, kind="weeding", what="Weed round the trees",
        due_from=date(2026, 11, 10), due_by=date(2026, 11, 30),
    )  # fmt: skip


def send(actor, *items):
    return log.append_items(actor, list(items))


def one(actor, item):
    (outcome,) = send(actor, item)
    return outcome


# --- what a record becomes ------------------------------------------------------------------
def test_a_hand_over_becomes_a_check_of_its_lot_with_its_pictures(phone, cohort, lot):
    body = handover(
        lot, sample_size=60, sample_bad=3, heights_cm=[45, 52.5], collars_mm=[6, 7.2], because="dry at the top",
        verdict="hold", photos=[PICTURE, ANOTHER, PICTURE],
    )  # fmt: skip
    outcome = one(phone, sealed("handover", body, personal={"note": "Two boxes wet", "author": "x"}))
    assert (outcome.outcome, outcome.flags) == ("stored", ())
    row = LotCheck.objects.get()
    assert (row.lot, row.point, row.counted, row.box_temperature_c, row.minutes_exposed) == (
        lot, "arrival", 950, 1.5, 4,
    )  # fmt: skip
    assert (row.root_condition, row.sample_size, row.sample_bad, row.verdict) == ("moist", 60, 3, "hold")
    assert (row.heights_cm, row.collars_mm, row.because) == ([45, 52.5], [6, 7.2], "dry at the top")
    assert (row.note, row.checked_by, row.checked_at.isoformat()) == (
        "Two boxes wet", phone.person, "2026-11-25T09:14:03.120000+00:00",
    )  # fmt: skip
    assert row.submission == Submission.objects.get()
    assert [paper.sha256 for paper in Paper.objects.filter(check_of_lot=row)] == [PICTURE, ANOTHER]


def test_a_walk_becomes_signs_with_their_places_notes_and_tasks(phone, block, survey_round):
    sign = {
        "sign": "fence", "urgency": "week", "where": "north corner", "latitude": 40.5, "longitude": -7.1,
        "accuracy_m": 8, "photos": [PICTURE],
    }  # fmt: skip
    personal = {"note": "windy", "sign_notes": ["two posts down", ""]}
    before = (Estimate.objects.count(), DirtyKey.objects.count())
    body = walk(block, sign, {"sign": "weeds", "urgency": "note"})
    assert one(phone, sealed("walk", body, personal=personal)).outcome == "stored"
    row = Walk.objects.get()
    assert (row.block, row.walked_on, row.walked_by, row.note) == (
        block, date(2026, 11, 25), phone.person, "windy",
    )  # fmt: skip
    fence, weeds = row.sightings.order_by("id")
    assert (fence.where, fence.latitude, fence.longitude, fence.note) == (
        "north corner", 40.5, -7.1, "two posts down",
    )  # fmt: skip
    assert (fence.task.block, weeds.task, weeds.note) == (block, None, "")
    assert Paper.objects.get().sighting == fence
    assert (Estimate.objects.count(), DirtyKey.objects.count()) == before  # no figure hears of a walk


def test_nothing_seen_is_a_full_answer(phone, block):
    assert one(phone, sealed("walk", walk(block))).outcome == "stored"
    assert (Walk.objects.count(), Sighting.objects.count()) == (1, 0)


def test_care_done_ends_its_task_and_care_put_off_moves_it(phone, block, task):
    body = care(task, amount=120, photos=[PICTURE])
    assert one(phone, sealed("care", body)).outcome == "stored"
    task.refresh_from_db()
    assert (task.done_on, task.done_by, task.amount) == (date(2026, 11, 25), phone.person, 120)
    assert (task.submission.kind, Paper.objects.get().care_task) == ("care", task)
    later = CareTask.objects.create(
        organisation=block.organisation, block=block, kind="water", what="Water", due_by=date(2026, 12, 1)
    )
    put_off = {"until": "2026-12-20", "because": "it rained"}
    assert one(phone, sealed("care", care(later, done_on=None, put_off=put_off))).outcome == "stored"
    later.refresh_from_db()
    assert (later.due_from, later.due_by, later.first_due_by) == (
        date(2026, 12, 6), date(2026, 12, 20), date(2026, 12, 1),
    )  # fmt: skip
    assert (later.put_off_because, later.done_on, later.submission) == ("it rained", None, None)


def test_a_note_that_came_with_care_is_read_by_who_leads_until_it_is_erased(client, phone, hill, task):
    one(phone, sealed("care", care(task), personal=json.dumps({"note": "the pump leaks"})))
    address = reverse("projects:care_detail", kwargs={"org": hill.slug, "uid": task.uid})
    lead, volunteer = (
        factories.member(hill, "field_lead"),
        factories.member(hill, "volunteer", projects=[task.block.project]),
    )
    for who, told in ((lead, True), (volunteer, False)):
        client.force_login(who.user, backend="allauth.account.auth_backends.AuthenticationBackend")
        assert ("the pump leaks" in client.get(address).content.decode()) is told
    task.refresh_from_db()
    task.submission.personal_part.delete()
    client.force_login(lead.user, backend="allauth.account.auth_backends.AuthenticationBackend")
    assert "the pump leaks" not in client.get(address).content.decode()


# --- who may --------------------------------------------------------------------------------
def records(lot, block, task):
    return sealed("handover", handover(lot)), sealed("walk", walk(block)), sealed("care", care(task))


CODES = ["lot_unknown", "block_unknown", "task_unknown"]


def test_a_phone_whose_pass_names_no_project_records_none_of_it_and_the_bytes_are_kept(
    phone, field_pass, cohort, lot, block, task
):
    field_pass.work_projects.all().delete()
    outcomes = send(phone, *records(lot, block, task))
    assert [(one.outcome, one.code) for one in outcomes] == [("rejected", code) for code in CODES]
    assert (Submission.objects.count(), RefusedItem.objects.count()) == (0, 3)
    assert (LotCheck.objects.count(), Walk.objects.count()) == (0, 0)
    assert json.loads(RefusedItem.objects.get(kind="walk").body)["block"] == str(block.uid)


def test_a_pass_reaches_only_the_projects_it_names(phone, hill, site, oak, block):
    elsewhere = factories.block(hill, factories.project(hill), site)
    bought = factories.lot(hill, oak)
    factories.cohort(elsewhere, bought, factories.season(hill))
    task = CareTask.objects.create(organisation=hill, block=elsewhere, kind="weeding", what="Weed")
    outcomes = send(phone, *records(bought, elsewhere, task))
    assert [one.code for one in outcomes] == CODES
    assert [one.faults[0].pointer for one in outcomes] == ["/lot", "/block", "/task"]


def test_another_organisations_rows_answer_like_none_at_all(phone, other, oak, block, lot, task):
    theirs = factories.block(other, factories.project(other), factories.site(other))
    bought = factories.lot(other, oak)
    factories.cohort(theirs, bought, factories.season(other))
    job = CareTask.objects.create(organisation=other, block=theirs, kind="weeding", what="Weed")
    assert [one.code for one in send(phone, *records(bought, theirs, job))] == CODES


@pytest.mark.parametrize(
    ("who", "taken"), [("ana", [True] * 3), ("ben", [True] * 3), ("vera", [False, False, False])]
)
def test_members_record_what_their_role_lets_them(request, who, taken, cohort, lot, block, task):
    actor = access.member_actor(request.getfixturevalue(who))
    outcomes = send(actor, *records(lot, block, task))
    assert [one.outcome == "stored" for one in outcomes] == taken


def test_a_volunteer_who_signed_in_may_do_a_task_that_is_theirs(vera, task):
    CareTask.objects.update(assigned_to=vera.person)
    assert one(access.member_actor(vera), sealed("care", care(task))).outcome == "stored"


# --- odd, and kept --------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("fields", "flags"),
    [
        ({"checked_at": "2026-11-29T09:00:00+00:00"}, ("future_date",)),
        ({"checked_at": "2026-11-01T09:00:00+00:00"}, ("before_lifting",)),
        ({"box_temperature_c": 80, "because": "left in the sun"}, ("odd_temperature",)),
        ({"clock_offset_ms": 301_000}, ("clock_skew",)),
        ({"verdict": "reject"}, ("no_reason",)),
        ({"counted": 5, "sample_size": 60, "sample_bad": 1}, None),
        ({"counted": 0}, None),
    ],
)
def test_an_odd_check_is_stored_flagged_and_its_oddity_stands_in_the_history(
    phone, cohort, lot, fields, flags
):
    lot.lifted_on = date(2026, 11, 20)
    lot.save()
    outcome = one(phone, sealed("handover", handover(lot, **fields)))
    assert outcome.outcome.startswith("stored")
    assert flags is None or outcome.flags == flags
    row = LotCheck.objects.get()
    assert row.checked_at <= NOW
    doubted = HistoryEntry.objects.filter(verb="lot_check.doubted", subject_uid=row.uid)
    assert [entry.change["doubts"][1] for entry in doubted] == (
        [words_of(outcome.flags)] if outcome.flags else []
    )


def test_an_hour_of_an_odd_zone_is_kept_and_one_no_calendar_holds_is_refused_for_good(phone, cohort, lot):
    odd = one(phone, sealed("handover", handover(lot, checked_at="2026-11-20T10:00:00+23:59")))
    assert odd.outcome == "stored"
    row = LotCheck.objects.get()
    assert row.checked_at == datetime(2026, 11, 19, 10, 1, tzinfo=UTC)
    for early in ("0001-01-01T00:00:00Z", "1899-12-31T23:59:59Z"):
        never = one(phone, sealed("handover", handover(lot, checked_at=early)))
        assert (never.outcome, never.faults[0].pointer) == ("rejected", "/checked_at")


def test_a_walk_and_a_task_dated_tomorrow_count_as_of_today(phone, block, task):
    walked = one(phone, sealed("walk", walk(block, walked_on="2026-12-24")))
    done = one(phone, sealed("care", care(task, done_on="2026-12-24")))
    assert (walked.flags, done.flags) == (("future_date",), ("future_date",))
    task.refresh_from_db()
    assert (Walk.objects.get().walked_on, task.done_on) == (NOW.date(), NOW.date())


def test_a_task_that_was_done_at_the_desk_stays_as_it_was_told_there(phone, task):
    CareTask.objects.update(done_on=date(2026, 11, 20), cost_minor=900)
    outcome = one(phone, sealed("care", care(task, done_on="2026-11-18", photos=[PICTURE])))
    assert (outcome.outcome, outcome.flags) == ("stored_flagged", ("done_already",))
    task.refresh_from_db()
    assert (task.done_on, task.submission, task.cost_minor) == (date(2026, 11, 20), None, 900)
    assert Paper.objects.get().care_task == task


def test_an_earlier_word_of_another_phone_keeps_what_the_desk_wrote_of_its_cost(phone, task):
    one(phone, sealed("care", care(task)))
    CareTask.objects.update(cost_minor=900, currency="EUR")
    assert one(phone, sealed("care", care(task, done_on="2026-11-24"))).flags == ("done_already",)
    task.refresh_from_db()
    assert (task.done_on, task.cost_minor) == (date(2026, 11, 24), 900)


def test_a_dropped_task_that_was_done_after_all_is_done_and_flagged(phone, task):
    CareTask.objects.update(dropped_at=NOW, dropped_because="not needed")
    assert one(phone, sealed("care", care(task))).flags == ("dropped_already",)
    task.refresh_from_db()
    assert (task.done_on, task.dropped_at) == (date(2026, 11, 25), None)


@pytest.mark.parametrize("until", ["2026-11-25", "2026-11-30", "2026-11-29"])
def test_a_task_is_not_put_off_to_a_day_that_is_over_or_no_later(phone, task, until):
    body = care(task, done_on=None, put_off={"until": until, "because": "rain"})
    assert one(phone, sealed("care", body)).flags == ("not_later",)
    task.refresh_from_db()
    assert (task.due_by, task.put_off_because) == (date(2026, 11, 30), "")


# --- any order, any number of times ---------------------------------------------------------
def test_the_same_records_again_are_already_there(phone, cohort, lot, block, task):
    items = records(lot, block, task)
    send(phone, *items)
    rows = (LotCheck.objects.count(), Walk.objects.count(), HistoryEntry.objects.count())
    assert [one.outcome for one in send(phone, *items)] == ["already"] * 3
    assert (LotCheck.objects.count(), Walk.objects.count(), HistoryEntry.objects.count()) == rows
    assert list(chain.breaks(phone.organisation)) == []


def told_of(task):
    task.refresh_from_db()
    return task.done_on, task.submission and task.submission.client_id, task.dropped_at


def test_what_several_phones_tell_of_one_task_ends_the_same_in_every_order(phone, block, hill):
    days = ["2026-11-24", "2026-12-25", "2026-11-24"]
    ids = [UUID(f"01990000-0000-7000-8000-{n:012d}") for n in (7, 3, 5)]
    ends = set()
    for turn, order in enumerate(itertools.permutations(range(3))):
        task = CareTask.objects.create(organisation=hill, block=block, kind="weeding", what=f"Weed {turn}")
        made = [UUID(int=one_id.int + (turn << 70)) for one_id in ids]
        for n in order:
            one(phone, sealed("care", care(task, done_on=days[n]), id=made[n]))
        done_on, by, _dropped = told_of(task)
        ends.add((done_on, made.index(by)))
    assert ends == {(date(2026, 11, 24), 2)}  # the earliest day, and of two the smaller id


def test_put_off_waits_till_the_latest_day_in_either_order_and_done_ends_it(phone, block, hill):
    def delay(task, until):
        return sealed("care", care(task, done_on=None, put_off={"until": until, "because": until}))

    for first, second in (("2026-12-10", "2026-12-20"), ("2026-12-20", "2026-12-10")):
        task = CareTask.objects.create(
            organisation=hill, block=block, kind="weeding", what="Weed", due_by=date(2026, 11, 30)
        )
        send(phone, delay(task, first), delay(task, second))
        task.refresh_from_db()
        assert (task.due_by, task.due_from, task.first_due_by) == (
            date(2026, 12, 20), date(2026, 12, 6), date(2026, 11, 30),
        )  # fmt: skip
        assert task.put_off_because == "2026-12-20"
        done, late = send(phone, sealed("care", care(task)), delay(task, "2026-12-24"))
        assert (done.flags, late.flags) == ((), ("done_already",))
        assert told_of(task)[0] == date(2026, 11, 25)


def test_a_rebuild_leaves_these_rows_alone_and_verify_finds_them_whole(phone, hill, cohort, lot, block, task):
    items = records(lot, block, task)
    send(phone, *items)

    def everything():
        return [
            list(model.objects.order_by("id").values()) for model in (LotCheck, Walk, CareTask, Submission)
        ]

    before = everything()
    digest = rebuild.rebuild(hill).digest
    assert (everything(), rebuild.rebuild(hill).digest) == (before, digest)
    assert (list(chain.breaks(hill)), list(oddities(hill))) == ([], [])


def test_verify_names_a_record_whose_row_is_gone(phone, hill, cohort, lot, block):
    send(phone, sealed("handover", handover(lot)), sealed("walk", walk(block)))
    LotCheck.objects.all().delete()
    Walk.objects.all().delete()
    assert sorted(odd.row for odd in oddities(hill)) == ["number 1", "number 2"]


# --- notes can be erased --------------------------------------------------------------------
def test_erasing_a_person_takes_the_notes_out_of_every_row_that_shows_them(actor, phone, cohort, lot, block):
    note = "met Dora Quill at the gate"
    personal = {"author": "Dora Quill", "note": note, "sign_notes": [note]}
    sign = {"sign": "fence", "urgency": "week"}
    send(
        phone,
        sealed("handover", handover(lot), personal=personal),
        sealed("walk", walk(block, sign), personal=personal),
    )
    erasure.erase_person(actor=actor, person=Person.objects.get(pk=phone.person.pk), reason="asked on 1 May")
    kept = [
        LotCheck.objects.get().note, Walk.objects.get().note, Sighting.objects.get().note, CareTask.objects.get().why,
    ]  # fmt: skip
    assert "Dora" not in str(kept)
    history = HistoryEntry.objects.values_list("change", "reason", "subject_label")
    assert "Dora" not in str(list(history))
    assert list(chain.breaks(phone.organisation)) == []


# --- on the pages of a lead -----------------------------------------------------------------
def test_refused_field_work_is_listed_by_what_it_is_about_and_its_day(
    phone, field_pass, cohort, lot, block, task, signed_in, ben, other, oak
):
    field_pass.work_projects.all().delete()
    theirs = factories.lot(other, oak, code="CANARY")
    send(phone, *records(lot, block, task), sealed("handover", handover(theirs)))
    page = signed_in(ben).get(reverse("monitoring:refused_list", args=["hill"])).content.decode()
    for words in (
        "24-117, 25 November 2026",
        "North slope, 25 November 2026",
        "Weed round the trees, 25 November 2026",
    ):
        assert words in " ".join(page.split())
    assert "a lot, block or task we do not know" in page and "CANARY" not in page
    assert "a plot we do not know" not in page


def test_a_file_of_unsent_field_work_is_taken_in_once_and_its_oddities_are_said_in_words(
    phone, cohort, lot, block, signed_in, ben
):
    items = [
        sealed("walk", walk(block, walked_on="2026-12-24")),
        sealed("handover", handover(lot, photos=[PICTURE])),
    ]
    told = [{**vars(item), "id": str(item.id)} for item in items]
    saved = json.dumps(
        {"format": "tallygrove-unsent/1", "pass": {"uid": "x", "label": "p"}, "items": told, "drafts": []}
    )
    browser, address = signed_in(ben), reverse("monitoring:unsent_new", args=["hill"])

    def take_in():
        return browser.post(address, {"file": SimpleUploadedFile("u.json", saved.encode())}).content.decode()

    assert "dated in the future; put down as of the day it came" in take_in()
    take_in()
    assert [one.outcome for one in send(phone, *items)] == ["already", "already"]
    assert (Walk.objects.count(), LotCheck.objects.count(), Paper.objects.count()) == (1, 1, 1)


def test_every_oddity_has_words():
    flags = set(re.findall(r'"([a-z]+_[a-z_]+)"', inspect.getsource(field_doubts)))
    flags |= {"no_reason", "done_already", "dropped_already", "not_later"}
    assert flags == set(DOUBTS)


# --- whatever is sent -----------------------------------------------------------------------
ANYTHING = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8), st.lists(st.integers(), max_size=3),
    st.just({}), st.just("2026-11-25"), st.just("0001-01-01T00:00:00+14:00"), st.just([{"sign": "fence"}]),
    st.just([None]), st.just(10**400), st.just("ab" * 32), st.just([PICTURE]), st.just({"until": "2026-12-12"}),
)  # fmt: skip


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_no_body_makes_the_phone_wait_and_try_for_ever(phone, cohort, lot, block, task, data):
    kind, body = data.draw(
        st.sampled_from([("handover", handover(lot)), ("walk", walk(block)), ("care", care(task))])
    )
    for key in data.draw(st.lists(st.sampled_from(sorted(body)), max_size=3)):
        body[key] = data.draw(ANYTHING)
    sent = sealed(
        kind, json.dumps(body, default=str), personal=data.draw(st.sampled_from(["", "[", '{"note": 3}']))
    )
    outcome = one(phone, sent)
    assert outcome.outcome in ("stored", "stored_flagged", "rejected")
    assert outcome.outcome != "rejected" or outcome.faults
    assert timedelta(0) <= NOW - max(
        [NOW - timedelta(1), *LotCheck.objects.values_list("checked_at", flat=True)]
    )
