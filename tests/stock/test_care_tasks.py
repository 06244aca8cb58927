"""Aftercare from list to done: given to somebody, put off, not needed, one tap on a phone, cost beside the budget."""

from datetime import timedelta
from io import BytesIO

import pytest
from django.core.exceptions import PermissionDenied
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from projects import access, clocks
from projects.errors import Refusal
from projects.models import (
    BudgetLine,
    CareTask,
    FieldPass,
    HistoryEntry,
    Paper,
    Person,
    Reminder,
    Submission,
    Walk,
)
from projects.selectors import care as selectors
from projects.services import care, reminders
from tests import factories


def address(name, row=None, **query):
    kwargs = {"org": "hill"} | ({"uid": row.uid} if row is not None else {})
    return reverse(f"projects:{name}", kwargs=kwargs, query=query or None)


def picture():
    held = BytesIO()
    Image.new("RGB", (8, 8), "green").save(held, "JPEG")
    return SimpleUploadedFile("a.jpg", held.getvalue(), "image/jpeg")


@pytest.fixture
def today(hill):
    return clocks.today_of(hill)


@pytest.fixture
def task(actor, block, today):
    return care.add_task(
        actor=actor, block=block, kind="weeding", what="Cut bracken",
        due_from=today - timedelta(days=5), due_by=today + timedelta(days=5),
    )  # fmt: skip


@pytest.fixture
def given(actor, task, vera):
    return care.assign_task(actor=actor, task=task, person=vera.person)


def fresh(task):
    return CareTask.objects.get(pk=task.pk)


# --- who does what -------------------------------------------------------------------------


def test_a_volunteer_does_what_is_given_to_them_and_nothing_else(vera, actor, block, given, today):
    volunteer = access.member_actor(vera)
    others = care.add_task(actor=actor, block=block, kind="water", what="Water")
    done = care.finish_task(actor=volunteer, task=given, done_on=today)
    assert done.done_by == vera.person
    for act in (
        lambda: care.finish_task(actor=volunteer, task=others, done_on=today),
        lambda: care.put_off(actor=volunteer, task=others, due_by=today + timedelta(days=9), because="Rain"),
        lambda: care.undo_done(actor=volunteer, task=others),
        lambda: care.assign_task(actor=volunteer, task=given, person=vera.person),
        lambda: care.drop_task(actor=volunteer, task=given, because="Tired"),
    ):
        with pytest.raises(PermissionDenied):
            act()
    assert fresh(others).done_on is None


def test_names_of_who_does_it_stay_out_of_history(actor, given, vera, today):
    Person.objects.filter(pk=vera.person.pk).update(name="Quirina Example")
    vera.person.refresh_from_db()
    care.assign_task(actor=actor, task=given, person=None)
    care.assign_task(actor=actor, task=fresh(given), person=vera.person)
    care.finish_task(actor=actor, task=fresh(given), done_on=today, done_by=vera.person)
    kept = str(
        list(HistoryEntry.objects.filter(subject_uid=given.uid).values_list("change", "reason", "verb"))
    )
    assert "care.assigned" in kept
    assert "care.done" in kept
    assert "Quirina" not in kept


def test_a_task_goes_to_nobody_whose_name_was_removed_or_of_another_organisation(actor, task, hill, olaf):
    erased = Person.objects.create(organisation=hill, name="", erased_at="2024-01-01T00:00Z")
    for person in (erased, olaf.person):
        with pytest.raises(Refusal):
            care.assign_task(actor=actor, task=task, person=person)


def test_a_lead_gives_a_task_on_its_page_and_the_volunteer_finds_it(signed_in, ben, vera, task):
    page = signed_in(ben).get(address("care_assign", task)).content.decode()
    assert str(vera.person) in page
    version = page.split('name="version" value="')[1].split('"')[0]
    answer = signed_in(ben).post(address("care_assign", task), {"person": vera.person.pk, "version": version})
    assert answer.status_code == 302
    assert fresh(task).assigned_to == vera.person
    assert "Cut bracken" in signed_in(vera).get(address("care_mine")).content.decode()
    assert "Cut bracken" not in signed_in(ben).get(address("care_mine")).content.decode()


def test_a_volunteer_is_not_shown_the_names_of_others(signed_in, ben, vera, given):
    assert "field_lead of hill" not in signed_in(vera).get(address("care_done", given)).content.decode()
    assert "field_lead of hill" in signed_in(ben).get(address("care_done", given)).content.decode()
    care.assign_task(actor=access.member_actor(ben), task=given, person=ben.person)
    for name, row in (("care_detail", given), ("care_list", None), ("block_detail", given.block)):
        page = signed_in(vera).get(address(name, row)).content.decode()
        assert "somebody else" in page
        assert "field_lead of hill" not in page


# --- done, and opened again ----------------------------------------------------------------


def test_one_tap_says_it_is_done_and_one_more_opens_it_again(signed_in, vera, given, today):
    browser = signed_in(vera)
    answer = browser.post(address("care_done_today", given), {"mine": "1"})
    assert answer.url == address("care_mine")
    assert (fresh(given).done_on, fresh(given).done_by) == (today, vera.person)
    assert "not done after all" in browser.get(address("care_mine")).content.decode()
    CareTask.objects.update(done_on=today - timedelta(days=15))
    assert "not done after all" not in browser.get(address("care_mine")).content.decode()
    browser.post(address("care_reopen", given), {"mine": "1"})
    assert (fresh(given).done_on, fresh(given).done_by) == (None, None)
    assert Reminder.objects.filter(kind="care_due", subject_uid=given.uid).exists()


def test_done_keeps_amount_cost_and_a_photo_without_its_place(signed_in, ben, vera, task, today):
    CareTask.objects.update(amount=100, amount_unit="litres")
    form = {
        "done_on": today.isoformat(), "done_by": vera.person.pk, "amount": "80,5", "cost": "12.30", "currency": "EUR",
        "photo": picture(),
    }  # fmt: skip
    assert signed_in(ben).post(address("care_done", task), form).status_code == 302
    done = fresh(task)
    assert (done.amount, done.cost_minor, done.done_by) == (80.5, 1230, vera.person)
    assert Paper.objects.get().care_task == done
    page = signed_in(ben).get(address("care_detail", task)).content.decode()
    assert "EUR\u00a012.30" in page
    assert "photo" in page


def test_what_came_through_the_log_is_told_once_and_whoever_had_the_task(vera, actor, task, today):
    phone = access.field_pass_actor(
        FieldPass.objects.create(
            organisation=task.organisation, person=vera.person, label="phone", expires_at="2099-01-01T00:00Z"
        ),
        frozenset({task.block.project_id}),
    )
    told = Submission.objects.create(
        organisation=task.organisation, seq=1, client_id=task.uid, kind="care", schema="care/1", body="{}",
        body_sha256="0" * 64, prev_hash="0" * 64, hash="0" * 64, received_at=timezone.now(),
    )  # fmt: skip
    care.finish_task(actor=phone, task=task, done_on=today, submission=told)
    again = care.finish_task(
        actor=phone, task=fresh(task), done_on=today - timedelta(days=1), submission=told
    )
    assert again.done_on == today
    assert HistoryEntry.objects.filter(verb="care.done").count() == 1


def test_a_day_to_come_or_an_amount_below_nothing_is_refused(actor, task, today):
    with pytest.raises(Refusal) as refused:
        care.finish_task(actor=actor, task=task, done_on=today + timedelta(days=1))
    assert refused.value.field == "done_on"
    with pytest.raises(Refusal) as refused:
        care.finish_task(actor=actor, task=task, done_on=today, amount=-1)
    assert refused.value.field == "amount"


# --- put off, and not needed ---------------------------------------------------------------


def test_putting_off_moves_the_window_and_keeps_the_day_it_was_first_due(actor, task, hill, today):
    first = task.due_by
    off = care.put_off(actor=actor, task=task, due_by=first + timedelta(days=60), because="Under water")
    assert off.due_from == today + timedelta(days=55)  # the window moves as a whole
    assert (off.first_due_by, off.put_off_because) == (first, "Under water")
    assert not Reminder.objects.filter(kind="care_due").exists()  # its time is far again
    twice = care.put_off(actor=actor, task=off, due_by=off.due_by + timedelta(days=5), because="Still wet")
    assert (twice.first_due_by, twice.put_off_because) == (first, "Still wet")
    reminders.renew(hill, today=twice.due_from)
    told = Reminder.objects.get(kind="care_due")
    assert told.due_on == twice.due_by
    assert told.facts["first_due_by"] == first.isoformat()


def test_a_task_without_a_first_day_put_off_opens_two_weeks_before_its_end(actor, block, today):
    task = care.add_task(actor=actor, block=block, kind="other", what="See to it")
    off = care.put_off(actor=actor, task=task, due_by=today + timedelta(days=40), because="No hands")
    assert off.due_from == today + timedelta(days=26)
    assert off.first_due_by is None


@pytest.mark.parametrize(
    ("days", "because", "field"), [(5, "Rain", "due_by"), (-1, "Rain", "due_by"), (9, " ", "because")]
)
def test_putting_off_needs_a_later_day_and_a_reason(signed_in, ben, task, today, days, because, field):
    form = {"due_by": (today + timedelta(days=days)).isoformat(), "because": because}
    answer = signed_in(ben).post(address("care_put_off", task), form)
    assert answer.status_code == 422
    assert f'id="id_{field}_error"' in answer.content.decode()
    assert fresh(task).first_due_by is None


def test_what_is_not_needed_leaves_lists_and_reminders_and_can_be_taken_up_again(
    signed_in, ben, actor, task, today
):
    with pytest.raises(Refusal):
        care.drop_task(actor=actor, task=task, because="")
    assert signed_in(ben).post(address("care_drop", task), {"because": "Sheep did it"}).status_code == 302
    assert not Reminder.objects.filter(kind="care_due").exists()
    assert "Cut bracken" not in signed_in(ben).get(address("care_list")).content.decode()
    page = signed_in(ben).get(address("care_list", which="dropped")).content.decode()
    assert "Sheep did it" in page
    for act in (care.put_off, care.drop_task):
        with pytest.raises(Refusal, match="Take it up again"):
            more = {"due_by": today + timedelta(days=30)} if act is care.put_off else {}
            act(actor=actor, task=fresh(task), because="x", **more)
    signed_in(ben).post(address("care_reopen", task))
    assert fresh(task).dropped_at is None
    assert Reminder.objects.filter(kind="care_due", subject_uid=task.uid).exists()


def test_a_done_task_is_neither_put_off_nor_dropped_and_a_dropped_one_can_be_done(actor, task, today):
    care.drop_task(actor=actor, task=task, because="Sheep did it")
    done = care.finish_task(actor=actor, task=fresh(task), done_on=today)
    assert (done.dropped_at, done.dropped_because) == (None, "")
    with pytest.raises(Refusal, match="done already"):
        care.drop_task(actor=actor, task=done, because="x")


# --- lists and money -----------------------------------------------------------------------


def names(actor, today, **asked):
    found = selectors.care_list(actor, selectors.CareFilter.read(asked), today)
    return [row.task.what for row in found.rows]


def test_lists_are_narrowed_by_state_project_block_and_kind(hill, site, actor, ana, block, task, today):
    elsewhere = factories.block(hill, factories.project(hill, name="Other"), site, name="Elsewhere")
    late = care.add_task(
        actor=actor, block=block, kind="water", what="Water", due_by=today - timedelta(days=1)
    )
    far = care.add_task(actor=actor, block=elsewhere, kind="water", what="Far water")
    care.assign_task(actor=actor, task=far, person=ana.person)
    care.finish_task(
        actor=actor, task=care.add_task(actor=actor, block=block, kind="mulch", what="Mulch"), done_on=today
    )
    assert names(actor, today) == ["Water", "Cut bracken", "Far water"]  # the soonest first, undated last
    assert names(actor, today, which="late") == [late.what]
    assert names(actor, today, which="mine") == ["Far water"]
    assert names(actor, today, which="done") == ["Mulch"]
    assert names(actor, today, project=str(elsewhere.project.uid)) == ["Far water"]
    assert names(actor, today, block=str(block.uid), kind="water") == ["Water"]
    assert names(actor, today, block="nonsense", which="magic", kind="?") == names(actor, today)


def test_a_person_without_a_name_here_has_no_tasks_of_their_own(actor, task, today, block):
    nobody = access.service_actor(block.organisation)
    assert names(nobody, today, which="mine") == []
    assert selectors.my_tasks(nobody, today) == ([], [])


def test_costs_of_tasks_stand_beside_the_budget_in_each_currency(actor, hill, project, block, today):
    for cost, currency in ((1000, "EUR"), (250, "EUR"), (700, "USD")):
        task = care.add_task(actor=actor, block=block, kind="water", what="Water")
        care.finish_task(actor=actor, task=task, done_on=today, cost_minor=cost, currency=currency)
    still_open = care.add_task(actor=actor, block=block, kind="water", what="Not done yet")
    care.edit_task(actor=actor, task=still_open, cost_minor=99_999)
    for kind, planned, spent in (("care", 5000, 900), ("stock", 70000, 60000)):
        BudgetLine.objects.create(
            organisation=hill, project=project, kind=kind, what="x", planned_minor=planned, spent_minor=spent
        )
    found = [
        (row.currency, row.tasks_minor, row.spent_minor, row.planned_minor)
        for row in selectors.care_costs(actor)
    ]
    assert found == [("EUR", 1250, 900, 5000), ("USD", 700, 0, 0)]
    assert selectors.care_costs(actor, factories.project(hill).uid) == []


def test_pages_cost_the_same_for_two_tasks_and_twenty(signed_in, actor, ana, block, today):
    browser = signed_in(ana)
    costs = {"care_list": [], "care_mine": []}
    browser.get(address("care_list"))
    for number in (2, 18):
        for _n in range(number):
            task = care.add_task(actor=actor, block=block, kind="other", what="A thing to do")
            care.assign_task(actor=actor, task=task, person=ana.person)
        for name, counted in costs.items():
            with CaptureQueriesContext(connection) as queries:
                assert browser.get(address(name)).status_code == 200
            counted.append(len(queries))
    assert all(few == many for few, many in costs.values())


# --- pages of walks and schedules ----------------------------------------------------------


def test_a_walk_is_written_down_by_plain_form_post_row_by_row(signed_in, ben, block):
    browser, page = signed_in(ben), address("walk_new", block)
    form = {"walked_on": "2024-03-01", "note": "All of it", "rows": "1", "s0-sign": "fence", "s0-urgency": "week",
            "s0-where": "gate", "s0-latitude": "40,5", "s0-longitude": "-7.25"}  # fmt: skip
    again = browser.post(page, form | {"more": "1"}).content.decode()
    assert not Walk.objects.exists()
    assert 'name="s1-sign"' in again  # one more row
    for kept in ("All of it", 'value="gate"', 'value="40,5"', '<option value="fence" selected>'):
        assert kept in again
    answer = browser.post(page, form | {"rows": "2", "s1-sign": "", "s1-urgency": "week"})
    walk = Walk.objects.get()
    assert answer.url == address("walk_detail", walk)
    [seen] = walk.sightings.all()
    assert (seen.sign, seen.latitude, seen.longitude) == ("fence", 40.5, -7.25)
    detail = browser.get(answer.url).content.decode()
    assert "Mend the fence: gate" in detail
    assert "Mend the fence: gate" in browser.get(address("block_detail", block)).content.decode()


@pytest.mark.parametrize(("changed", "words"), [
    ({"s0-sign": ""}, "Choose what was seen, or empty this row"), ({"s0-longitude": ""}, "both its latitude"),
    ({"s0-latitude": "95"}, "90 or less"), ({"walked_on": "2999-01-01"}, "not come yet"),
    ({"walked_on": ""}, "required"),
])  # fmt: skip
def test_a_wrong_row_is_named_and_what_was_typed_stays(signed_in, ben, block, changed, words):
    form = {"walked_on": "2024-03-01", "rows": "1", "s0-sign": "fence", "s0-urgency": "now", "s0-where": "by the oak",
            "s0-latitude": "40", "s0-longitude": "-7"}  # fmt: skip
    answer = signed_in(ben).post(address("walk_new", block), form | changed)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert "by the oak" in answer.content.decode()
    assert not Walk.objects.exists()


def test_a_photo_of_a_sign_is_kept_and_what_is_no_picture_keeps_nothing(signed_in, ben, block):
    form = {"walked_on": "2024-03-01", "rows": "1", "s0-sign": "fence", "s0-urgency": "note"}
    browser, page = signed_in(ben), address("walk_new", block)
    answer = browser.post(page, form | {"s0-photo": SimpleUploadedFile("a.jpg", b"no picture", "image/jpeg")})
    assert answer.status_code == 422
    assert "Only PDF, JPEG and PNG" in answer.content.decode()
    assert not Walk.objects.exists()
    browser.post(page, form | {"s0-photo": picture()})
    walk = Walk.objects.get()
    assert Paper.objects.get().sighting == walk.sightings.get()
    assert "download" in browser.get(address("walk_detail", walk)).content.decode()


def test_nothing_seen_is_one_tap(signed_in, ben, block, site):
    answer = signed_in(ben).post(address("walk_nothing", block), {"list": "1"})
    assert answer.url == address("walk_list")
    walk = Walk.objects.get()
    assert (walk.walked_on, walk.walked_by) == (clocks.today_at(site), ben.person)


def test_a_site_event_is_told_on_its_page_and_the_block_is_due(signed_in, ben, site, cohort, today):
    form = {"kind": "storm", "happened_on": (today - timedelta(days=2)).isoformat()}
    assert signed_in(ben).post(address("site_event_new", site), form).status_code == 302
    page = signed_in(ben).get(address("walk_list")).content.decode()
    assert "Walked today, nothing seen" in page
    assert "storm on" in page.lower()
    assert "storm on" in signed_in(ben).get(address("block_detail", cohort.block)).content.decode().lower()


def test_a_schedule_is_looked_over_ticked_and_taken_up_on_its_page(signed_in, ben, block, lot, hill, today):
    factories.cohort(block, lot, factories.season(hill, "planting", year=today.year), planted_on=today)
    browser, page = signed_in(ben), address("care_schedule", block)
    shown = browser.get(page).content.decode()
    assert "common practice" in shown
    assert "10 to 20 %" in shown
    key = shown.split('name="line" value="')[1].split('"')[0]
    assert browser.post(page, {}).status_code == 422
    assert browser.post(page, {"line": key}).status_code == 302
    assert CareTask.objects.get().source_key == f"schedule:{key}"
    choices = {"weeding_years": 1, "water_years": 0, "circle_m": "1", "mulch_cm": "0", "guard_years": 3}
    guarded = browser.get(page, choices | {"has_guards": "on"}).content.decode()
    assert "Take guards off" in guarded
    assert "Renew mulch" not in guarded
    wrong = browser.get(page, choices | {"circle_m": "9"})
    assert wrong.status_code == 422
    assert "3 or less" in wrong.content.decode()
