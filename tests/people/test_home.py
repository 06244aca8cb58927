"""Home answers what needs deciding, and by when: derived rows with stable keys, put off without being lost."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from projects import clocks, panels, reminder_words
from projects.models import Reminder, ReminderSnooze, StockLot
from projects.services import movements, reminders
from projects.services.reminders import ReminderRow


def home(browser):
    return browser.get(reverse("projects:home", kwargs={"org": "hill"}))


@pytest.fixture
def today(hill):
    return clocks.today_of(hill)


@pytest.fixture
def waiting(hill, lot, today):
    """A bare-root lot lifted five days ago, still on hand."""
    StockLot.objects.filter(pk=lot.pk).update(lifted_on=today - timedelta(days=5))
    reminders.renew(hill)
    return lot


def test_a_lot_whose_days_run_out_is_to_be_planted_by_its_last_day(hill, waiting, today, signed_in, ana):
    reminder = Reminder.objects.get(kind="plant_by")
    assert reminder.due_on == today + timedelta(days=2)
    page = home(signed_in(ana)).content.decode()
    assert "Plant lot 24-117 or return it to store" in page
    assert (
        "5 days out of store, 2 days left (common practice). 1\u202f000 of 1\u202f000 still on hand, not counted."
        in page
    )
    assert "within a week" in page


def test_the_reminder_goes_when_the_lot_is_stored_or_used_up(actor, hill, waiting, today):
    storage = movements.begin_storage(actor=actor, lot=waiting, kind="cold_store", from_on=today)
    assert not Reminder.objects.filter(kind="plant_by").exists()
    storage.delete()
    reminders.renew(hill)
    assert Reminder.objects.filter(kind="plant_by").exists()
    movements.count_stock(actor=actor, lot=waiting, counted_on=today, on_hand=0)
    kinds = set(Reminder.objects.values_list("kind", flat=True))
    assert kinds == {"lot_gap"}


def test_a_day_that_passed_says_so(hill, waiting, signed_in, ana, today):
    reminders.renew(hill, today=today + timedelta(days=4))
    reminder = Reminder.objects.get(kind="plant_by")
    assert reminder.facts["days_left"] == -2
    Reminder.objects.update(due_on=today - timedelta(days=1))
    assert "date passed" in home(signed_in(ana)).content.decode()


def test_long_after_its_days_a_lot_is_asked_about_and_no_longer_hurried(hill, waiting, signed_in, ana, today):
    reminders.renew(hill, today=today + timedelta(days=33))
    assert Reminder.objects.get().kind == "lot_left"
    page = home(signed_in(ana)).content.decode()
    assert "Say what became of lot 24-117" in page
    assert "38 days out of store" in page
    assert "date passed" not in page


def test_making_reminders_again_changes_nothing(hill, waiting):
    def rows():
        return list(Reminder.objects.order_by("uid").values("uid", "kind", "due_on", "facts", "link", "rank"))

    before = rows()
    reminders.renew(hill)
    assert rows() == before
    Reminder.objects.all().delete()
    reminders.renew(hill)
    assert rows() == before


def test_replacing_one_kind_or_subject_leaves_the_others(hill, project, lot, site):
    row = ReminderRow("round_due", project.uid, "/x/", project_id=project.pk)
    reminders.replace(hill, ["round_due"], [row])
    reminders.replace(hill, ["case_open"], [ReminderRow("case_open", site.uid, "/y/")])
    reminders.replace(hill, ["round_due"], [], subjects=[site.uid])
    assert set(Reminder.objects.values_list("kind", flat=True)) == {"round_due", "case_open"}
    reminders.replace(hill, ["round_due"], [])
    assert set(Reminder.objects.values_list("kind", flat=True)) == {"case_open"}


def test_a_reminder_put_off_stays_away_until_its_day_even_when_made_again(
    hill, waiting, signed_in, ana, today
):
    browser, reminder = signed_in(ana), Reminder.objects.get(kind="plant_by")
    url = reverse("projects:reminder_snooze", kwargs={"org": "hill", "uid": reminder.uid})
    browser.post(url, {"until_on": (today + timedelta(days=3)).isoformat()})
    reminders.renew(hill)
    assert "Plant lot" not in home(browser).content.decode()
    ReminderSnooze.objects.update(until_on=today)
    assert "Plant lot" in home(browser).content.decode()


@pytest.mark.parametrize(
    ("until", "words"), [("", "required"), ("someday", "year-month-day"), ("2020-01-01", "after today")]
)
def test_a_reminder_is_put_off_to_a_day_to_come(hill, waiting, signed_in, ana, until, words):
    url = reverse(
        "projects:reminder_snooze", kwargs={"org": "hill", "uid": Reminder.objects.get(kind="plant_by").uid}
    )
    page = signed_in(ana).post(url, {"until_on": until}, follow=True).content.decode()
    assert words in page
    assert not ReminderSnooze.objects.exists()


def test_a_lead_reads_reminders_but_does_not_put_them_off(hill, waiting, signed_in, ben):
    url = reverse("projects:reminder_snooze", kwargs={"org": "hill", "uid": Reminder.objects.get().uid})
    assert signed_in(ben).post(url, {"until_on": "2999-01-01"}).status_code == 403
    assert "Put off" not in home(signed_in(ben)).content.decode()


def test_a_funder_sees_only_reminders_of_granted_projects(hill, project, waiting, signed_in, fred):
    reminders.replace(
        hill, ["round_due"], [ReminderRow("round_due", project.uid, "/x/", project_id=project.pk)]
    )
    page = home(signed_in(fred)).content.decode()
    assert "round due" in page
    assert "Plant lot" not in page


def test_words_of_a_kind_are_registered_from_above(monkeypatch):
    monkeypatch.setattr(reminder_words, "registered", dict(reminder_words.registered))
    reminder_words.register(
        "case_open", lambda facts: {"title": f"{facts['n']} cases", "reason": "", "action": "Open"}
    )
    assert reminder_words.words_for("case_open", {"n": 3})["title"] == "3 cases"


def test_facts_an_older_release_left_do_not_break_the_page(hill, lot, signed_in, ana):
    reminders.replace(hill, ["plant_by"], [ReminderRow("plant_by", lot.uid, "/x/", facts={"lot": "24-117"})])
    assert "plant by" in home(signed_in(ana)).content.decode()


def test_an_empty_organisation_is_taught_its_next_step(hill, signed_in, ana, ben):
    assert "Begin with a site" in home(signed_in(ana)).content.decode()
    assert "Begin with a site" not in home(signed_in(ben)).content.decode()


def test_each_next_step_follows_the_last(signed_in, ana, site):
    from tests import factories

    browser = signed_in(ana)
    assert "Now a project" in home(browser).content.decode()
    project = factories.project(site.organisation)
    assert "Now the blocks" in home(browser).content.decode()
    factories.block(site.organisation, project, site)
    assert "Now the stock" in home(browser).content.decode()


def test_panels_of_other_apps_appear_for_those_who_may_see_them(
    signed_in, ana, fred, hill, monkeypatch, tmp_path, settings
):
    (tmp_path / "panel.html").write_text("<p>{{ data.words }}</p>")
    engine = settings.TEMPLATES[0] | {"DIRS": [tmp_path, *settings.TEMPLATES[0]["DIRS"]]}
    settings.TEMPLATES = [engine]
    panel = panels.Panel("panel.html", lambda actor, subject: {"words": f"seen by {actor.role}"}, "need.view")
    monkeypatch.setattr(panels, "registered", {"home": [panel]})
    assert "seen by manager" in home(signed_in(ana)).content.decode()
    assert "seen by" not in home(signed_in(fred)).content.decode()


def test_the_strip_of_seasons_shows_what_was_planted_at_each_site(signed_in, ana, cohort, site):
    page = home(signed_in(ana)).content.decode()
    assert "planting 2024" in page
    assert "500\u00a0trees" in page


def test_the_day_is_counted_on_the_organisations_clock(hill):
    hill.time_zone = "Pacific/Kiritimati"
    ahead = clocks.today_of(hill)
    hill.time_zone = "Pacific/Pago_Pago"
    assert ahead - clocks.today_of(hill) in (timedelta(days=1), timedelta(days=2))
    assert isinstance(ahead, date)
