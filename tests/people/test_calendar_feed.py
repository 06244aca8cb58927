"""Calendar addresses: what is due, read by any calendar program, behind a secret that can be withdrawn."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st
from ical.calendar_stream import IcsCalendarStream
from icalendar import Calendar

from projects import clocks
from projects.access import member_actor
from projects.documents.calendar_file import calendar_file
from projects.errors import Refusal
from projects.identifiers import uuid7
from projects.models import (
    CalendarFeed,
    CareTask,
    CrewDay,
    CrewDayPerson,
    HistoryEntry,
    Person,
    Reminder,
    ReminderSnooze,
)
from projects.selectors.calendar_entries import Entry, entries_for
from projects.services import calendar_feeds, care, people, reminders
from projects.services.reminder_rows import ReminderRow
from projects.views import by_secret
from tests import factories

NOW = datetime(2026, 3, 28, 12, tzinfo=UTC)  # the day before clocks go forward in Lisbon
TODAY = date(2026, 3, 28)
ODD = "North; slope, “A”\\n \r\nsecond line\ttab 🌳 ünïcødé \x07" + "long " * 60


@pytest.fixture
def clock(monkeypatch):
    now = {"now": NOW}
    monkeypatch.setattr(timezone, "now", lambda: now["now"])
    cache.clear()
    return lambda when: now.update(now=when)


@pytest.fixture
def busy(hill, project, block, site, ana, ben, clock):
    """Something of every sort: a round that closes, care with a window, planting days with and without hours."""
    rows = [
        ReminderRow("round_due", project.uid, "/o/hill/round/x/", due_on=TODAY + timedelta(days=10),
                    project_id=project.pk, facts={"round": ODD, "plots_left": 2, "plots": 5}),
        ReminderRow("case_open", project.uid, "/o/hill/case/", project_id=project.pk,
                    facts={"round": "r", "n_cases": 1}),
    ]  # fmt: skip
    reminders.replace(hill, ["round_due", "case_open"], rows)
    task = CareTask.objects.create(
        organisation=hill, block=block, kind="weeding", what="Weed the rows", assigned_to=ben.person,
        due_from=TODAY, due_by=TODAY + timedelta(days=14),
    )  # fmt: skip
    CareTask.objects.create(
        organisation=hill, block=block, kind="water", what="Done already", done_on=TODAY, due_by=TODAY
    )
    day = CrewDay.objects.create(
        organisation=hill, block=block, day=TODAY + timedelta(days=1), meet_at=time(8, 30), back_by=time(17),
        meeting_point="Gate; by the chapel", lead=ben.person, crew="Ben's crew", buddies="Ben and Eva", note="Eva",
    )  # fmt: skip
    CrewDay.objects.create(
        organisation=hill,
        block=block,
        day=TODAY + timedelta(days=5),
        state="called_off",
        decided_because="Eva ill",
    )
    return {"task": task, "day": day}


def made(member, **told):
    return calendar_feeds.make(actor=member_actor(member), **{"label": "phone", **told})


def read(token, **headers):
    return Client(headers=headers).get(reverse("by_secret:calendar", kwargs={"token": token}))


def by_first(text):
    """{uid: what it says} as the library reads it that also wrote it."""
    events = Calendar.from_ical(text).walk("VEVENT")
    return {
        str(each["UID"]): (
            each["DTSTART"].dt, each["DTEND"].dt if "DTEND" in each else None, str(each["SUMMARY"]),
            str(each.get("DESCRIPTION", "")), str(each.get("LOCATION", "")), str(each["STATUS"]), int(each["SEQUENCE"]),
        )
        for each in events
    }  # fmt: skip


def by_second(text):
    """The same as another library reads it, of other authors."""
    events = IcsCalendarStream.calendar_from_ics(text.decode()).events
    return {
        each.uid: (
            each.dtstart, each.dtend, each.summary, each.description or "", each.location or "",
            str(each.status.value if each.status else ""), each.sequence,
        )
        for each in events
    }  # fmt: skip


@pytest.mark.django_db
def test_two_libraries_read_the_same_entries(busy, ana):
    text = read(made(ana).token).content
    first = by_first(text)
    assert first == by_second(text)
    assert len(first) == 4
    for line in text.split(b"\r\n"):
        assert len(line) <= 75  # RFC 5545, 3.1
    assert b"\n" not in text.replace(b"\r\n", b"")


@pytest.mark.django_db
def test_days_are_dates_with_an_exclusive_end_and_hours_are_on_the_sites_clock(busy, ana):
    found = by_first(read(made(ana).token).content)
    task, day = found[f"{busy['task'].uid}@tallygrove"], found[f"{busy['day'].uid}@tallygrove"]
    assert task[:3] == (TODAY, TODAY + timedelta(days=15), "North slope: Weed the rows")
    assert day[:2] == (datetime(2026, 3, 29, 7, 30, tzinfo=UTC), datetime(2026, 3, 29, 16, tzinfo=UTC))
    assert day[4:6] == ("Upper site, Gate; by the chapel", "TENTATIVE")
    assert [each[5] for each in found.values()].count("CANCELLED") == 1


@pytest.mark.django_db
def test_no_name_of_a_person_is_in_it(busy, ana, ben):
    text = read(made(ana).token).content.decode().replace("\r\n ", "")
    assert not [name for name in ("Ben", "Eva", str(ben.person), ben.user.email) if name in text]


@pytest.mark.django_db
def test_it_shows_what_the_member_may_see_and_no_more(busy, hill, ana, vera, fred, clock):
    def kinds(member):
        return {
            (entry.summary.split()[0], entry.link.split("/")[3])
            for entry in entries_for(member_actor(member), TODAY)
        }

    assert ("Planting", "crew-day") in kinds(ana)
    assert {where for _word, where in kinds(vera)} == {"round"}  # no planting day, and no care of others
    CareTask.objects.filter(pk=busy["task"].pk).update(assigned_to=vera.person)
    assert {where for _word, where in kinds(vera)} == {"round", "care"}
    assert kinds(fred) == set()
    elsewhere = factories.member(hill, "volunteer", projects=[factories.project(hill)])
    assert kinds(elsewhere) == set()
    ReminderSnooze.objects.create(
        organisation=hill,
        kind="round_due",
        subject_uid=busy["day"].block.project.uid,
        until_on=date(2026, 5, 1),
    )
    assert {where for _word, where in kinds(vera)} == {"care"}


@pytest.mark.django_db
def test_only_mine_keeps_what_falls_to_the_member(busy, hill, ana, ben, actor):
    mine = entries_for(member_actor(ben), TODAY, only_mine=True)
    assert {entry.uid for entry in mine} == {busy["task"].uid, busy["day"].uid}
    assert entries_for(actor, TODAY, only_mine=True) == []
    CrewDayPerson.objects.create(organisation=hill, crew_day=busy["day"], person=ana.person)
    reminders.renew(hill)  # the care task is on the list, and is given to Ana there
    reminders.assign(actor=actor, reminder=Reminder.objects.get(kind="care_due"), membership=ana)
    assert {entry.uid for entry in entries_for(actor, TODAY, only_mine=True)} == {
        busy["task"].uid,
        busy["day"].uid,
    }
    assert busy["task"].uid not in {
        entry.uid for entry in entries_for(member_actor(ben), TODAY, only_mine=True)
    }


@pytest.mark.django_db
def test_an_entry_keeps_its_uid_and_counts_its_changes(busy, ana, actor, clock):
    token, uid = made(ana).token, f"{busy['task'].uid}@tallygrove"
    before = by_first(read(token).content)[uid]
    for days in (1, 2):
        clock(NOW + timedelta(minutes=days))
        busy["task"].refresh_from_db()
        moved = {"due_from": TODAY + timedelta(days=days), "due_by": TODAY + timedelta(days=20 + days)}
        care.edit_task(actor=actor, task=busy["task"], **moved)
    after = by_first(read(token).content)[uid]
    assert (before[6], after[6]) == (0, 1)
    assert after[0] == TODAY + timedelta(days=2)
    event = next(
        each for each in Calendar.from_ical(read(token).content).walk("VEVENT") if each["UID"] == uid
    )
    assert (
        event["LAST-MODIFIED"].dt
        == event["DTSTAMP"].dt
        == HistoryEntry.objects.first().happened_at.replace(microsecond=0)
    )


@pytest.mark.django_db
def test_a_program_that_has_it_already_is_told_so(busy, ana, block, hill):
    token = made(ana).token
    first = read(token)
    assert first.headers["Content-Type"] == "text/calendar; charset=utf-8"
    assert "no-cache" in first.headers["Cache-Control"] and "noindex" in first.headers["X-Robots-Tag"]
    again = read(token, if_none_match=first.headers["ETag"])
    assert (again.status_code, again.content) == (304, b"")
    CareTask.objects.create(organisation=hill, block=block, kind="water", what="More", due_by=TODAY)
    assert read(token, if_none_match=first.headers["ETag"]).status_code == 200


@pytest.mark.django_db
def test_the_last_day_there_is_and_words_of_a_walk_spoil_no_calendar(busy, ana, block, hill):
    token = made(ana).token
    for due_from in (None, TODAY, date.max):
        CareTask.objects.create(
            organisation=hill, block=block, kind="water", what="For ever", due_from=due_from, due_by=date.max
        )
    CareTask.objects.create(
        organisation=hill, block=block, kind="guards", what="Stand up", due_by=TODAY, rule="sighting",
        why="Seen on a walk: Eva's dog did it",
    )  # fmt: skip
    text = read(token).content.decode()
    assert text.count("For ever") == 2 and "Stand up" in text
    assert "Eva" not in text


# --- the secret -----------------------------------------------------------------------------------
@pytest.mark.django_db
def test_wrong_withdrawn_and_outlived_addresses_answer_alike(busy, hill, actor, ana):
    bea = factories.member(hill, "manager")
    withdrawn, left, asleep = made(ana), made(bea), made(factories.member(hill, "funder"))
    assert [read(one.token).status_code for one in (withdrawn, left, asleep)] == [200, 200, 200]
    calendar_feeds.revoke(actor=actor, feed=withdrawn.feed)
    people.end_membership(actor=actor, membership=bea)
    type(bea.user).objects.filter(pk=asleep.feed.membership.user_id).update(is_active=False)
    answers = [
        read(token)
        for token in (withdrawn.token, left.token, asleep.token, "nothing", withdrawn.feed.token_hash)
    ]
    assert {answer.status_code for answer in answers} == {404}
    assert len({answer.content for answer in answers}) == 1
    assert not any(answer.cookies for answer in answers)


@pytest.mark.django_db
def test_only_a_hash_is_kept_and_reading_is_noted_once_an_hour(busy, ana, clock):
    address = made(ana)
    row = CalendarFeed.objects.get()
    kept = [str(value) for value in CalendarFeed.objects.values().get().values()]
    assert len(address.token) >= 43 and not any(address.token in value for value in kept)
    assert address.token not in str(list(HistoryEntry.objects.values_list("change", "subject_label")))
    for minutes, noted in ((0, 0), (30, 0), (61, 61)):
        clock(NOW + timedelta(minutes=minutes))
        read(address.token)
        row.refresh_from_db()
        assert row.last_read_at == NOW + timedelta(minutes=noted)


@pytest.mark.django_db
def test_guessing_is_slowed_and_a_right_address_is_not_counted(busy, ana, clock, monkeypatch):
    monkeypatch.setattr(by_secret, "MOST_WRONG", 4)
    token = made(ana).token
    for _n in range(5):
        assert read(token).status_code == 200
    for _n in range(4):
        assert read("guess").status_code == 404
    assert read("guess").status_code == 429
    cache.clear()
    assert read("guess").status_code == 404


@pytest.mark.django_db
def test_an_address_is_made_on_the_page_shown_once_and_withdrawn_there(busy, signed_in, ana, ben):
    browser, page = signed_in(ana), reverse("projects:telling", kwargs={"org": "hill"})
    new = reverse("projects:calendar_feed_new", kwargs={"org": "hill"})
    refused = browser.post(new, {"label": " ", "only_mine": "on"})
    assert refused.status_code == 422 and "Say which calendar" in refused.content.decode()
    shown = browser.post(new, {"label": "Blue phone", "only_mine": "on"}).content.decode()
    address = shown.split('<code class="secret">')[1].split("</code>")[0]
    assert Client().get(address.removeprefix("http://testserver")).status_code == 200
    later = browser.get(page).content.decode()
    assert "Blue phone" in later and address not in later
    feed = CalendarFeed.objects.get()
    assert "Blue phone" not in str(
        list(HistoryEntry.objects.values_list("change", "subject_label", "reason"))
    )
    revoke = reverse("projects:calendar_feed_revoke", kwargs={"org": "hill", "uid": feed.uid})
    assert signed_in(ben).post(revoke).status_code == 404  # another member's own
    browser.post(revoke)
    assert Client().get(address.removeprefix("http://testserver")).status_code == 404
    assert "Blue phone" not in browser.get(page).content.decode()


@pytest.mark.django_db
def test_a_member_keeps_a_dozen_addresses_at_most(ana, actor, clock):
    for n in range(calendar_feeds.MOST_AT_ONCE):
        made(ana, label=f"phone {n}")
    with pytest.raises(Refusal, match="Withdraw one"):
        made(ana)


@pytest.mark.django_db
def test_a_calendar_asks_the_database_the_same_few_questions_however_long_it_is(
    busy, hill, block, ana, django_assert_max_num_queries
):
    for n in range(30):
        CareTask.objects.create(organisation=hill, block=block, kind="water", what=f"n {n}", due_by=TODAY)
        person = Person.objects.create(organisation=hill, name=f"P{n}")
        CrewDay.objects.create(organisation=hill, block=block, day=TODAY, lead=person)
    with django_assert_max_num_queries(9):
        assert len(entries_for(member_actor(ana), clocks.today_of(hill))) > 60


# --- text -------------------------------------------------------------------------------------------
text = st.text(st.characters(exclude_categories=["Cs"]), max_size=120)


@settings(max_examples=25)
@given(
    summary=text,
    description=text,
    where=text,
    days=st.integers(1, 90),
    first=st.dates(date(2000, 1, 1), date(2099, 1, 1)),
)
def test_any_text_comes_through_both_libraries_alike(summary, description, where, days, first):
    entry = Entry(uuid7(), first, first + timedelta(days=days), summary, description, "/o/x/", where)
    written = calendar_file('Name, of; it\n"x"', [entry], base="https://grove.example", stamp=NOW)
    assert all(len(line) <= 75 for line in written.split(b"\r\n"))
    one, two = by_first(written), by_second(written)
    assert one == two
    assert b'\r\nNAME:Name\\, of\\; it "x"\r\n' in written
    (said,) = one.values()
    if summary.isprintable():
        assert said[2] == summary


def test_odd_text_is_escaped_and_control_signs_are_left_out():
    entry = Entry(uuid7(), TODAY, TODAY + timedelta(days=1), ODD, ODD, "", ODD)
    written = calendar_file(ODD, [entry], base="", stamp=NOW)
    (said,) = by_first(written).values()
    clean = ODD.replace("\r\n", "\n").replace("\x07", "")
    assert said[2:5] == (clean, clean, clean)
    assert b"North\\; slope\\, " in written.replace(b"\r\n ", b"")
