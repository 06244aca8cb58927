"""Beats that strike together: a week has one letter, and a thing that is settled meanwhile stays settled."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.core import mail

from projects.models import Reminder, WeeklyLetter
from projects.services import care, reminder_rows, reminders, weekly_letter
from projects.services.reminder_rows import ReminderRow
from tests.field_log.test_at_once import together

pytestmark = pytest.mark.django_db(transaction=True)

SEVEN = datetime(2026, 3, 30, 6, tzinfo=UTC)  # seven in Lisbon, a Monday
MONDAY = date(2026, 3, 30)


@pytest.fixture
def listed(hill, project, ana, ben):
    rows = [ReminderRow("round_due", project.uid, "/x/", due_on=MONDAY, project_id=project.pk,
                        facts={"round": "Spring", "plots_left": 1, "plots": 2})]  # fmt: skip
    reminders.replace(hill, ["round_due"], rows)


def raised(answers):
    return [one for one in answers if isinstance(one, Exception)]


def test_of_several_beats_at_once_one_sends_each_letter(listed):
    answers = together(*[lambda: weekly_letter.send_due(SEVEN)] * 4)
    assert not raised(answers)
    assert sum(answers) == 2
    assert sorted(one.to[0] for one in mail.outbox) == ["ana@hill.example", "ben@hill.example"]
    assert WeeklyLetter.objects.count() == 2


def test_of_several_who_take_up_a_letter_left_lying_one_gets_it(listed, ana):
    weekly_letter.claim(ana, MONDAY, SEVEN)  # and its worker never came back
    later = SEVEN + timedelta(minutes=30)
    answers = together(*[lambda: weekly_letter.claim(ana, MONDAY, later)] * 4)
    assert not raised(answers)
    assert [one is None for one in answers].count(False) == 1


def test_beats_at_once_double_nothing_and_bring_nothing_back(hill, block, actor):
    tasks = [care.add_task(actor=actor, block=block, kind="weeding", what=f"n {n}") for n in range(4)]
    Reminder.objects.all().delete()

    def finish(task):
        return lambda: care.finish_task(actor=actor, task=task, done_on=date(2024, 3, 1))

    def beat():
        reminder_rows.renew(hill)

    answers = together(beat, finish(tasks[0]), beat, finish(tasks[1]), beat)
    assert not raised(answers)
    left = Reminder.objects.filter(kind="care_due").values_list("subject_uid", flat=True)
    assert sorted(left) == sorted([tasks[2].uid, tasks[3].uid])


def test_a_fact_settled_between_reading_and_writing_is_not_told(hill, block, actor, monkeypatch):
    """The narrow gap itself, held open: the service settles the task after the beat has read it."""
    task = care.add_task(actor=actor, block=block, kind="weeding", what="one")
    Reminder.objects.all().delete()
    family = next(one for one in reminder_rows.families if "care_due" in one.kinds)
    readings = []

    def read_and_be_overtaken(organisation, days):
        found = list(family.rows(organisation, days))
        if not readings:
            care.finish_task(actor=actor, task=task, done_on=date(2024, 3, 1))
        readings.append(len(found))
        return found

    late = reminder_rows.Family(family.kinds, read_and_be_overtaken)
    reminder_rows.renew_family(hill, late, reminder_rows.Days.of(hill))
    assert readings == [1, 0]
    assert not Reminder.objects.filter(kind="care_due").exists()
