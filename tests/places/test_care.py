"""Aftercare: a task with its window, listed on its block, reminded of in time, done, opened again."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from projects import clocks
from projects.models import CareTask, HistoryEntry, Reminder
from projects.services import care, reminders


def address(name, row):
    return reverse(f"projects:{name}", kwargs={"org": "hill", "uid": row.uid})


@pytest.fixture
def today(hill):
    return clocks.today_of(hill)


@pytest.fixture
def task(actor, block, today):
    return care.add_task(
        actor=actor, block=block, kind="weeding", what="Cut bracken", due_by=today + timedelta(days=5)
    )


def block_page(browser, block):
    return browser.get(address("block_detail", block)).content.decode()


def test_a_lead_adds_a_task_and_the_block_lists_it(signed_in, ben, block):
    form = {"kind": "water", "what": "Water the hedge", "due_from": "2026-06-01", "due_by": "2026-08-31"}
    answer = signed_in(ben).post(address("care_new", block), form)
    assert answer.status_code == 302
    task = CareTask.objects.get()
    assert (task.kind, task.due_from, task.due_by) == ("water", date(2026, 6, 1), date(2026, 8, 31))
    page = block_page(signed_in(ben), block)
    assert "Water the hedge" in page
    assert "Care task Water the hedge: added" in page


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"what": ""}, "required"),
        ({"due_by": "2026-05-01"}, "The last day lies before the first"),
        ({"due_from": "soon"}, "year-month-day"),
        ({"kind": "magic"}, "valid choice"),
    ],
)
def test_a_bad_field_is_named_and_what_was_typed_stays(signed_in, ben, block, changed, words):
    form = {"kind": "water", "what": "Water it", "due_from": "2026-06-01", "due_by": "2026-08-31"} | changed
    answer = signed_in(ben).post(address("care_new", block), form)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert ("Water it" in answer.content.decode()) is ("what" not in changed)
    assert not CareTask.objects.exists()


def test_a_task_is_done_on_a_day_at_a_cost_and_leaves_the_reminders(signed_in, ben, block, task, today):
    assert Reminder.objects.get(kind="care_due").due_on == task.due_by
    form = {"done_on": today.isoformat(), "cost": "120,50", "currency": "eur"}
    signed_in(ben).post(address("care_done", task), form)
    task.refresh_from_db()
    assert (task.done_on, task.cost_minor, task.currency) == (today, 12050, "EUR")
    assert not Reminder.objects.filter(kind="care_due").exists()
    assert "EUR\u00a0120.50" in block_page(signed_in(ben), block)
    verbs = HistoryEntry.objects.filter(subject_uid=task.uid).order_by("id").values_list("verb", flat=True)
    assert list(verbs) == ["care.added", "care.done"]


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"done_on": "2999-01-01"}, "has not come yet"),
        ({"done_on": ""}, "required"),
        ({"cost": "12.345"}, "decimal places"),
        ({"cost": "-5"}, "cannot be negative"),
        ({"currency": "E1"}, "three capital letters"),
    ],
)
def test_what_cannot_be_true_of_a_done_task_is_refused(signed_in, ben, task, today, changed, words):
    form = {"done_on": today.isoformat(), "cost": "1", "currency": "EUR"} | changed
    answer = signed_in(ben).post(address("care_done", task), form)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    task.refresh_from_db()
    assert task.done_on is None


def test_emptying_the_day_opens_a_task_again(signed_in, ben, actor, task, today):
    task = care.finish_task(actor=actor, task=task, done_on=today)
    form = {
        "kind": "weeding",
        "what": "Cut bracken",
        "due_by": "2026-06-24",
        "done_on": "",
        "currency": "EUR",
    }
    assert signed_in(ben).post(address("care_edit", task), form).status_code == 302
    task.refresh_from_db()
    assert task.done_on is None
    assert Reminder.objects.filter(kind="care_due", subject_uid=task.uid).exists()


def test_open_tasks_come_first_and_a_passed_date_says_so(signed_in, ben, actor, block, task, today):
    done = care.add_task(actor=actor, block=block, kind="guards", what="Mend the fence")
    care.finish_task(actor=actor, task=done, done_on=today)
    care.add_task(actor=actor, block=block, kind="water", what="Water now", due_by=today - timedelta(days=1))
    page = block_page(signed_in(ben), block)
    places = [page.index(f">{words}</a><small>") for words in ("Water now", "Cut bracken", "Mend the fence")]
    assert places == sorted(places)
    assert page.count("date passed") == 1


def test_home_reminds_a_lead_but_not_who_may_only_look(signed_in, ben, vera, task, block):
    home = reverse("projects:home", kwargs={"org": "hill"})
    assert "North slope: Cut bracken" in signed_in(ben).get(home).content.decode()
    assert "Cut bracken" not in signed_in(vera).get(home).content.decode()
    page = block_page(signed_in(vera), block)
    assert "Cut bracken" in page
    assert address("care_done", task) not in page


def test_a_funder_does_not_read_aftercare(signed_in, fred, task, block):
    assert "Cut bracken" not in block_page(signed_in(fred), block)


def test_a_task_whose_window_opens_later_is_not_yet_reminded_of(actor, hill, block, today):
    later = today + timedelta(days=100)
    task = care.add_task(actor=actor, block=block, kind="water", what="Water", due_from=later)
    assert not Reminder.objects.filter(kind="care_due").exists()
    reminders.renew(hill, today=later - timedelta(days=20))
    assert Reminder.objects.get(kind="care_due").subject_uid == task.uid


def test_a_cause_opens_one_task_however_often_it_is_told(block, hill):
    tell = {"block": block, "kind": "invasive", "what": "Pull wattle", "source_key": "invasive:here"}
    assert care.open_for_cause(**tell) == care.open_for_cause(**tell)
    assert HistoryEntry.objects.filter(verb="care.added").count() == 1
    assert Reminder.objects.filter(kind="care_due").count() == 1


def test_two_people_changing_one_task_are_both_shown(signed_in, ben, ana, actor, task):
    page = signed_in(ben).get(address("care_edit", task)).content.decode()
    version = page.split('name="version" value="')[1].split('"')[0]
    care.edit_task(actor=actor, task=task, what="Cut all bracken")
    form = {"kind": "weeding", "what": "Cut gorse", "currency": "EUR", "version": version}
    answer = signed_in(ben).post(address("care_edit", task), form)
    assert answer.status_code == 422
    assert "Cut all bracken" in answer.content.decode()


def test_a_block_page_costs_the_same_for_two_tasks_and_twenty(signed_in, ana, actor, block):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    browser, costs = signed_in(ana), []
    block_page(browser, block)
    for number in (2, 18):
        for _n in range(number):
            care.add_task(actor=actor, block=block, kind="other", what="A thing to do")
        with CaptureQueriesContext(connection) as queries:
            block_page(browser, block)
        costs.append(len(queries))
    assert costs[0] == costs[1]


def test_who_may_not_add_aftercare_is_told_who_does(signed_in, ben, vera, block):
    assert "add each with the days" in block_page(signed_in(ben), block)
    shown = block_page(signed_in(vera), block)
    assert "the field lead adds each with the days" in shown
    assert address("care_new", block) not in shown
