"""The weekly letter: once a week to each who wants it, with what is on their list and nothing else."""

from datetime import UTC, date, datetime, timedelta
from smtplib import SMTPException
from zoneinfo import ZoneInfo

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from projects import clocks
from projects.access import member_actor
from projects.models import (
    HistoryEntry,
    LetterChoice,
    Organisation,
    Reminder,
    ReminderOwner,
    ReminderSnooze,
    WeeklyLetter,
)
from projects.services import people, reminders, weekly_letter
from projects.services.reminder_rows import ReminderRow
from tests import factories

pytestmark = pytest.mark.django_db

MONDAY = date(2026, 3, 30)  # the day after Lisbon's clock went forward: seven there is six in UTC
SEVEN = datetime(2026, 3, 30, 7, tzinfo=ZoneInfo("Europe/Lisbon")).astimezone(UTC)
HOUR = timedelta(hours=1)
WEEK = timedelta(days=7)


@pytest.fixture
def clock(monkeypatch):
    now = {"now": SEVEN}
    monkeypatch.setattr(timezone, "now", lambda: now["now"])
    return lambda when: now.update(now=when)


def listed(hill, project, *rows):
    """Put things on the list: (subject, due day or None), each a round with plots left."""
    facts = {"round": "Spring <count>", "project": project.name, "plots_left": 3, "plots": 9}
    reminders.replace(hill, ["round_due"], [
        ReminderRow("round_due", subject.uid, f"/o/hill/round/{subject.uid}/", due_on=due, project_id=project.pk,
                    facts=facts | {"round": f"Spring <{subject.name}>"})
        for subject, due in rows
    ])  # fmt: skip


@pytest.fixture
def late(hill, project, ana, ben, clock):
    """One thing three days late, and two members who have the letter by their roles."""
    listed(hill, project, (project, MONDAY - timedelta(days=3)))
    return project


def sent_to():
    return sorted(one.to[0] for one in mail.outbox)


def test_it_leaves_at_seven_on_monday_on_the_organisations_clock(late, clock):
    for when in (SEVEN - timedelta(minutes=1), SEVEN - 24 * HOUR):
        assert weekly_letter.send_due(when) == 0
    assert weekly_letter.send_due(SEVEN) == 2
    assert sent_to() == ["ana@hill.example", "ben@hill.example"]
    assert set(WeeklyLetter.objects.values_list("week_on", "state")) == {(MONDAY, "sent")}


@pytest.mark.parametrize(
    ("zone", "seven", "monday"),
    [
        ("Pacific/Auckland", datetime(2026, 9, 27, 18, tzinfo=UTC), date(2026, 9, 28)),  # still Sunday in UTC
        ("Pacific/Kiritimati", datetime(2026, 3, 1, 17, tzinfo=UTC), date(2026, 3, 2)),
        (
            "America/Santiago",
            datetime(2026, 9, 7, 10, tzinfo=UTC),
            date(2026, 9, 7),
        ),  # the day after no midnight
        ("Pacific/Pago_Pago", datetime(2026, 3, 2, 18, tzinfo=UTC), date(2026, 3, 2)),
    ],
)
def test_monday_is_the_organisations_own_wherever_it_is(zone, seven, monday):
    organisation = Organisation(time_zone=zone)
    assert weekly_letter.week_of(organisation, seven) == monday
    assert weekly_letter.week_of(organisation, seven - timedelta(seconds=1)) is None


def test_however_often_the_clock_strikes_a_week_has_one_letter(late, clock):
    for minutes in (0, 0, 15, 30, 60, 600):
        when = SEVEN + timedelta(minutes=minutes)
        clock(when)
        weekly_letter.send_due(when)
    assert len(mail.outbox) == 2
    clock(SEVEN + WEEK)
    weekly_letter.send_due(SEVEN + WEEK)
    assert len(mail.outbox) == 4


def test_a_service_that_was_down_sends_late_but_not_days_late(late, clock):
    assert weekly_letter.send_due(SEVEN + 48 * HOUR) == 0
    assert weekly_letter.send_due(SEVEN + 47 * HOUR) == 2


def test_role_and_choice_say_who_has_it(late, vera, fred, ana, actor, hill):
    gone = factories.member(hill, "manager", email="gone@hill.example")
    people.end_membership(actor=actor, membership=gone)
    asleep = factories.member(hill, "manager", email="asleep@hill.example")
    type(asleep.user).objects.filter(pk=asleep.user_id).update(is_active=False)
    weekly_letter.choose(actor=actor, wanted=False)
    weekly_letter.choose(actor=member_actor(vera), wanted=True)
    weekly_letter.send_due(SEVEN)
    assert sent_to() == ["ben@hill.example", "vera@hill.example"]


def test_with_nothing_to_say_there_is_no_letter_though_something_comes_up_an_hour_later(
    hill, project, ana, clock
):
    weekly_letter.send_due(SEVEN)
    listed(hill, project, (project, MONDAY))
    weekly_letter.send_due(SEVEN + HOUR)
    assert mail.outbox == []
    clock(SEVEN + WEEK)
    assert weekly_letter.send_due(SEVEN + WEEK) == 1


def test_nobody_of_a_demo_gets_a_letter(late, hill):
    type(hill).objects.update(is_demo=True)
    assert weekly_letter.send_due(SEVEN) == 0


def test_mail_that_did_not_leave_is_recorded_and_tried_again_and_the_others_get_theirs(
    late, clock, monkeypatch
):
    send = mail.EmailMultiAlternatives.send

    def refuse_ana(self, *args, **kwargs):
        if self.to == ["ana@hill.example"]:
            raise SMTPException("mailbox full")
        return send(self, *args, **kwargs)

    monkeypatch.setattr(mail.EmailMultiAlternatives, "send", refuse_ana)
    assert weekly_letter.send_due(SEVEN) == 1
    assert sorted(WeeklyLetter.objects.values_list("state", flat=True)) == ["failed", "sent"]
    monkeypatch.setattr(mail.EmailMultiAlternatives, "send", send)
    assert weekly_letter.send_due(SEVEN + timedelta(minutes=15)) == 0  # it waits for half an hour
    assert weekly_letter.send_due(SEVEN + timedelta(minutes=30)) == 1
    assert sent_to() == ["ana@hill.example", "ben@hill.example"]


def test_a_claim_whose_worker_died_is_taken_again_once(late, ana, ben):
    half = timedelta(minutes=30)
    for member in (ana, ben):
        assert weekly_letter.claim(member, MONDAY, SEVEN) is not None  # and then the worker is gone
    assert weekly_letter.send_due(SEVEN + half - timedelta(seconds=1)) == 0
    assert weekly_letter.claim(ben, MONDAY, SEVEN + half) is not None  # ben's dies a second time
    assert weekly_letter.send_due(SEVEN + half) == 1
    assert sent_to() == ["ana@hill.example"]
    assert weekly_letter.send_due(SEVEN + 3 * half) == 0
    row = WeeklyLetter.objects.get(membership=ana)
    assert row.told == [["round_due", str(late.uid)]]


def test_it_says_what_is_late_what_comes_and_what_is_new_ones_own_first(
    hill, project, ana, late, clock, site, block
):
    weekly_letter.send_due(SEVEN)
    mail.outbox.clear()
    clock(SEVEN + WEEK)
    later = MONDAY + WEEK
    listed(hill, project, (project, MONDAY - timedelta(days=3)), (site, later + timedelta(days=2)),
           (block, later + timedelta(days=2)))  # fmt: skip
    own = Reminder.objects.get(subject_uid=block.uid)
    reminders.assign(actor=member_actor(ana), reminder=own, membership=ana)
    weekly_letter.send_due(SEVEN + WEEK)
    text = next(one for one in mail.outbox if one.to == ["ana@hill.example"]).body
    assert text.index("Late") < text.index(f"<{project.name}>") < text.index("Within a week")
    assert text.index("Within a week") < text.index(f"<{block.name}>") < text.index(f"<{site.name}>")
    assert text.count("(new)") == 2
    assert f"<{block.name}> (new) (you see to it)" in text
    assert "By 8 April 2026" in text


def test_what_is_put_off_or_not_theirs_is_not_told(late, hill, vera, site, clock):
    other = factories.project(hill)
    weekly_letter.choose(actor=member_actor(vera), wanted=True)
    rows = [ReminderRow("round_due", other.uid, "/x/", project_id=other.pk, facts={}, due_on=MONDAY)]
    reminders.replace(hill, ["round_due"], rows, subjects=[other.uid])
    ReminderSnooze.objects.create(
        organisation=hill, kind="round_due", subject_uid=late.uid, until_on=MONDAY + timedelta(days=1)
    )
    weekly_letter.send_due(SEVEN)
    assert "vera@hill.example" not in sent_to()
    assert all(str(late.uid) not in one.body for one in mail.outbox)


def test_the_mail_stands_on_its_own_in_text_and_html(late, ana, settings):
    settings.PUBLIC_ADDRESS = "https://grove.example"
    weekly_letter.send_due(SEVEN)
    letter = next(one for one in mail.outbox if one.to == ["ana@hill.example"])
    assert letter.subject == "The hill group: 1 thing to decide, 1 of them late"
    ((html, kind),) = letter.alternatives
    assert kind == "text/html"
    link = f"https://grove.example/o/hill/round/{late.uid}/"
    assert link in letter.body and f'href="{link}"' in html
    assert "Spring &lt;Terraces&gt;" in html and "Spring <Terraces>" in letter.body
    assert not [
        word for word in ("<img", "<link", "<style", "<script", "src=", "@import", "url(") if word in html
    ]
    assert "%(" not in letter.body and "{{" not in html
    named = [person for person in ("manager of hill", "field_lead of hill") if person in letter.body + html]
    assert named == []


# --- the way out --------------------------------------------------------------------------------
def way_out(letter):
    told = letter.extra_headers
    assert told["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"  # RFC 8058
    assert told["List-Unsubscribe"].startswith("<http://127.0.0.1:8000/letter/")
    return told["List-Unsubscribe"].strip("<>").removeprefix("http://127.0.0.1:8000")


def test_looking_at_the_way_out_stops_nothing_and_one_press_does(late, ana):
    weekly_letter.send_due(SEVEN)
    path = way_out(next(one for one in mail.outbox if one.to == ["ana@hill.example"]))
    browser = Client(enforce_csrf_checks=True)
    for _twice in range(2):
        page = browser.get(path)
        assert page.status_code == 200 and "Send me no more letters" in page.content.decode()
    assert weekly_letter.is_wanted(ana)
    pressed = browser.post(path, {"List-Unsubscribe": "One-Click"})
    assert pressed.status_code == 200 and "No weekly letter comes any more" in pressed.content.decode()
    assert not weekly_letter.is_wanted(ana)
    assert browser.post(path).status_code == 200
    assert HistoryEntry.objects.filter(verb="letter_choice.edited").count() == 1
    assert "no-store" in pressed.headers["Cache-Control"] and not pressed.cookies
    mail.outbox.clear()
    weekly_letter.send_due(SEVEN + WEEK)
    assert sent_to() == ["ben@hill.example"]


@pytest.mark.parametrize(
    "spoil", [lambda token: token[:-1] + "x", lambda token: "x" + token, lambda token: "-"]
)
def test_a_word_that_is_not_ours_opens_nothing(ana, spoil):
    token = spoil(weekly_letter.stop_token(ana))
    for method in ("get", "post"):
        assert getattr(Client(), method)(reverse("by_secret:letter_stop", args=[token])).status_code == 404
    assert not LetterChoice.objects.exists()


# --- the page -----------------------------------------------------------------------------------
def test_a_member_chooses_on_the_page_and_sees_their_last_letters(late, signed_in, vera, ana, clock):
    page = reverse("projects:telling", kwargs={"org": "hill"})
    weekly_letter.send_due(SEVEN)
    browser = signed_in(ana)
    shown = browser.get(page).content.decode()
    assert "30 March 2026: sent" in shown and 'name="wanted" id="id_wanted" checked' in " ".join(
        shown.split()
    )
    browser.post(reverse("projects:letter_choose", kwargs={"org": "hill"}), {})
    assert not weekly_letter.is_wanted(ana)
    signed_in(vera).post(reverse("projects:letter_choose", kwargs={"org": "hill"}), {"wanted": "on"})
    assert weekly_letter.is_wanted(vera)


def test_the_page_says_when_each_kind_is_told_and_only_kinds_the_role_acts_on(signed_in, ana, fred):
    page = reverse("projects:telling", kwargs={"org": "hill"})
    shown = signed_in(ana).get(page).content.decode()
    assert "Plant before a window closes" in shown and "from 21 days before its last day" in shown
    assert "Settled when" not in signed_in(fred).get(page).content.decode()


# --- who sees to it -----------------------------------------------------------------------------
def assign(browser, reminder, member, **more):
    url = reverse("projects:reminder_assign", kwargs={"org": "hill", "uid": reminder.uid})
    return browser.post(url, {"membership": member.uid if member else "", **more}, follow=True)


def test_a_thing_is_given_to_somebody_and_falls_back_when_they_leave(late, signed_in, ana, ben, actor):
    browser, reminder = signed_in(ana), Reminder.objects.get()
    home = reverse("projects:home", kwargs={"org": "hill"})
    assert "Seen to by any manager" in browser.get(home).content.decode()
    page = assign(browser, reminder, ben).content.decode()
    assert "Seen to by field_lead of hill" in page and "what I see to (0)" in page
    assert "You see to it" in signed_in(ben).get(home + "?mine").content.decode()
    entry = HistoryEntry.objects.get(verb="round_due.assigned")
    assert "of hill" not in f"{entry.change}{entry.subject_label}{entry.reason}"
    reminders.replace(ana.organisation, ["round_due"], [])
    listed(ana.organisation, late, (late, MONDAY))
    assert (
        "Seen to by field_lead of hill" in browser.get(home).content.decode()
    )  # made again, it keeps its owner
    people.end_membership(actor=actor, membership=ben)
    assert "Seen to by any manager" in browser.get(home).content.decode()
    assign(browser, Reminder.objects.get(), None)
    assert not ReminderOwner.objects.exists()


def test_only_somebody_who_may_act_on_it_can_be_chosen(late, hill, signed_in, ana, fred, olaf, vera):
    browser, reminder = signed_in(ana), Reminder.objects.get()
    elsewhere = factories.member(hill, "volunteer", projects=[factories.project(hill)])
    for wrong in (fred, elsewhere):
        assert "do not include this" in assign(browser, reminder, wrong).content.decode()
    assert "no member here" in assign(browser, reminder, olaf).content.decode()
    assert not ReminderOwner.objects.exists()
    page = assign(browser, reminder, vera, mine="1")
    assert page.redirect_chain[-1][0].endswith("?mine")
    options = page.client.get(reverse("projects:home", kwargs={"org": "hill"})).content.decode()
    assert str(vera.uid) in options and str(fred.uid) not in options and str(elsewhere.uid) not in options


def test_a_care_task_falls_to_whom_it_was_given_and_a_planting_day_to_its_lead(
    hill, block, actor, signed_in, ana, ben, vera
):
    from projects.models import CareTask, CrewDay

    today = clocks.today_of(hill)
    CareTask.objects.create(
        organisation=hill, block=block, kind="weeding", what="Weeding", due_by=today, assigned_to=vera.person
    )
    CrewDay.objects.create(organisation=hill, block=block, day=today - timedelta(days=2), lead=ben.person)
    reminders.renew(hill)
    home = reverse("projects:home", kwargs={"org": "hill"})
    page = signed_in(ana).get(home).content.decode()
    assert "Seen to by volunteer of hill" in page and "Seen to by field_lead of hill" in page
    assert "Weeding" in signed_in(vera).get(home + "?mine").content.decode()
    task = Reminder.objects.get(kind="care_due")
    assert (
        "do not include this" in assign(signed_in(ana), task, vera).content.decode()
    )  # given on its own page
    people.end_membership(actor=actor, membership=ben)
    assert "Seen to by field_lead of hill" not in signed_in(ana).get(home).content.decode()


def test_home_is_grouped_by_when(hill, project, signed_in, ana, site, block, lot):
    today = clocks.today_of(hill)
    listed(hill, project, (project, today - timedelta(days=1)), (site, today + timedelta(days=7)),
           (block, today + timedelta(days=8)))  # fmt: skip
    reminders.replace(
        hill,
        ["lot_gap"],
        [ReminderRow("lot_gap", lot.uid, "/x/", facts={"lot": "a", "gap": 1, "received": 9})],
    )
    page = signed_in(ana).get(reverse("projects:home", kwargs={"org": "hill"})).content.decode()
    marks = [
        "<h2>Late",
        project.name + "&gt;",
        "<h2>Within a week",
        site.name,
        "<h2>Later",
        block.name,
        "<h2>Without",
    ]
    places = [page.index(mark) for mark in marks]
    assert places == sorted(places)
