"""Home answers what needs deciding, and by when: derived rows with stable keys, put off without being lost."""

import re
from datetime import date, timedelta

import pytest
from django.urls import reverse

from projects import clocks, panels, policy, reminder_words
from projects.models import Reminder, ReminderSnooze, StockLot
from projects.services import movements, reminders
from projects.services.reminders import ReminderRow
from tests.stock.crew_rows import crew_day


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
        "5 days out of store, 2 days left (US Forest Service field handling pages). "
        "1\u202f000 of 1\u202f000 still on hand, not counted." in page
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


def test_a_volunteer_is_reminded_of_rounds_and_a_funder_of_nothing_the_role_forbids(
    hill, project, waiting, signed_in, vera, fred
):
    kinds = ("round_due", "case_open", "replace_order", "falls_short", "look_again", "not_settled")
    rows = [ReminderRow(kind, project.uid, f"/{kind}/", project_id=project.pk) for kind in kinds]
    reminders.replace(hill, kinds, rows)
    seen = home(signed_in(vera)).content.decode()
    assert "/round_due/" in seen
    assert [kind for kind in kinds if f"/{kind}/" in seen] == ["round_due"]
    assert not [kind for kind in kinds if f"/{kind}/" in home(signed_in(fred)).content.decode()]


def test_a_volunteer_sees_reminders_of_granted_projects_only(hill, project, signed_in, vera):
    from tests import factories

    other = factories.project(hill)
    rows = [ReminderRow("round_due", row.uid, f"/r/{row.pk}/", project_id=row.pk) for row in (project, other)]
    reminders.replace(hill, ["round_due"], rows)
    seen = home(signed_in(vera)).content.decode()
    assert f"/r/{project.pk}/" in seen
    assert f"/r/{other.pk}/" not in seen


def test_no_link_of_a_home_page_answers_its_reader_with_a_refusal(
    hill, project, waiting, survey_round, signed_in, ana, ben, vera, fred
):
    from monitoring.services import reminders as of_monitoring

    of_monitoring.renew(hill)
    for member in (ana, ben, vera, fred):
        browser = signed_in(member)
        links = set(re.findall(r'href="(/(?:o|field)/[^"#]*)"', home(browser).content.decode()))
        assert len(links) > 3
        assert {url: browser.get(url).status_code for url in links} == dict.fromkeys(links, 200), member.role


def test_every_kind_names_a_verb_of_the_policy():
    assert {kind.verb for kind in reminder_words.registered.values()} <= set(policy.VERBS)


def test_a_kind_nobody_registered_is_shown_plainly_to_the_manager_alone(hill, project, signed_in, ana, fred):
    reminders.replace(
        hill, ["odd_kind"], [ReminderRow("odd_kind", project.uid, "/x/", project_id=project.pk)]
    )
    assert "odd kind" in home(signed_in(ana)).content.decode()
    assert "odd kind" not in home(signed_in(fred)).content.decode()


def test_a_volunteer_is_led_to_the_phone_form_and_told_how_to_get_a_code(
    signed_in, vera, ana, survey_round, monkeypatch
):
    page = home(signed_in(vera)).content.decode()
    assert f'href="{reverse("phone:shell")}"' in page
    assert "Ask your field lead for a pass code" in page
    assert "No round of your projects is open now" not in page
    survey_round.delete()
    assert "No round of your projects is open now" in home(signed_in(vera)).content.decode()
    assert "Count with your phone" not in home(signed_in(ana)).content.decode()


def test_a_funder_is_led_to_the_summaries(signed_in, fred, hill, project):
    from monitoring.models import SeasonSummary
    from tests import factories

    page = home(signed_in(fred)).content.decode()
    assert "No season summary yet" in page
    assert reverse("monitoring:summary_list", kwargs={"org": "hill"}) in page
    season = factories.season(hill, "reporting", year=2025)
    row = SeasonSummary.objects.create(
        organisation=hill, project=project, season=season, edition=1, revision=1, rows={},
        made_on=date(2025, 11, 1),
    )  # fmt: skip
    page = home(signed_in(fred)).content.decode()
    assert reverse("monitoring:summary_detail", kwargs={"org": "hill", "uid": row.uid}) in page
    assert "Nothing waits for a decision" not in page


def test_words_of_a_kind_are_registered_from_above(monkeypatch):
    monkeypatch.setattr(reminder_words, "registered", dict(reminder_words.registered))
    reminder_words.register(
        "case_open",
        lambda facts: {"title": f"{facts['n']} cases", "reason": "", "action": "Open"},
        "case.view",
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


def test_planting_days_ahead_stand_on_the_page_with_their_sheet(
    hill, block, actor, today, signed_in, ana, vera, fred
):
    gone, ahead = (crew_day(actor, block, day=today + timedelta(days=n)) for n in (-1, 1))
    link = {n: [reverse(f"projects:{n}", args=["hill", row.uid]) for row in (ahead, gone)] for n in (
        "crew_day_detail", "crew_day_sheet",
    )}  # fmt: skip
    manager, volunteer, funder = (home(signed_in(who)).content.decode() for who in (ana, vera, fred))
    for address in (link["crew_day_detail"][0], link["crew_day_sheet"][0]):
        assert f'href="{address}"' in manager
    assert link["crew_day_sheet"][1] not in manager
    assert f'href="{link["crew_day_sheet"][0]}"' in volunteer
    assert f'href="{link["crew_day_detail"][0]}"' not in volunteer
    assert "Planting days ahead" not in funder


@pytest.mark.parametrize(
    ("name", "place"),
    [("home", "To decide"), ("order_list", "Stock"), ("crew_day_list", "Stock"), ("walk_list", "Aftercare")],
)
def test_the_way_around_says_which_place_a_page_belongs_to(hill, signed_in, ana, name, place):
    page = signed_in(ana).get(reverse(f"projects:{name}", kwargs={"org": "hill"})).content.decode()
    assert re.findall(r'aria-current="page">([^<]+)<', page) == [place]


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
