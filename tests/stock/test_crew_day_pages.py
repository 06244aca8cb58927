"""Pages of planting days: from planning to the evening by plain forms, with what speaks against the day in words."""

from datetime import date, time, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from projects import clocks
from projects.models import (
    CrewDay,
    HistoryEntry,
    LotMovement,
    PlantingDay,
    PlantingWindow,
    QualityCheck,
    StockLot,
)
from projects.selectors.care import people_for
from projects.selectors.crew_day_warnings import holds, warnings_of
from projects.selectors.crew_days import going, lots_of, open_days, planting_log
from projects.services import crew_day_closing as closing
from projects.services import crew_days, planting
from projects.services.windows import COMPUTED
from tests import factories
from tests.stock.crew_rows import DAY, crew_day, evening, lot_check, person, rule, with_lot


def address(name, row=None):
    return reverse(f"projects:{name}", kwargs={"org": "hill"} | ({"uid": row.uid} if row else {}))


@pytest.fixture
def day(actor, block, winter):
    return crew_day(actor, block)


@pytest.fixture
def browser(signed_in, ana):
    return signed_in(ana)


def test_a_day_goes_from_plan_to_closed_by_plain_forms(browser, hill, block, lot, winter):
    eva, rui = person(hill, "Eva"), person(hill, "Rui")
    rule(hill)
    browser.post(
        address("crew_day_new", block),
        {"day": "2024-02-10", "crew": "North", "lead": eva.pk, "meet_at": "08:30", "back_by": "17:00"},
    )
    day = CrewDay.objects.get()
    browser.post(address("crew_day_people", day), {"person_0": eva.pk, "buddy_0": rui.pk, "person_2": rui.pk})
    browser.post(address("crew_day_lot_new", day), {"lot": lot.uid, "planned": "300"})
    row = day.lots.get()
    assert browser.post(address("crew_day_decide", day), {"soil_c": "8", "go": "yes"}).status_code == 302
    said_of_quality = "a fault can be put right the same hour"
    assert said_of_quality in browser.get(address("crew_day_detail", day)).content.decode()
    page = browser.get(address("crew_day_close", day)).content.decode()
    assert "Eva was back at" in page
    left_out = browser.post(address("crew_day_close", day), {})
    assert left_out.status_code == 422
    assert "Write how many of 24-117 were planted; 0 if none." in left_out.content.decode()
    told = {
        f"taken_{row.pk}": "300",
        f"planted_{row.pk}": "290",
        f"culled_{row.pk}": "4",
        "clean_tools": "on",
    }
    told |= {f"back_{one.pk}": "16:40" for one in day.people.all()}
    page = browser.post(address("crew_day_close", day), told, follow=True).content.decode()
    assert "The day is closed" in page and "Nobody wrote down when" not in page
    again = browser.post(address("crew_day_close", day), told, follow=True).content.decode()
    assert "nothing was entered twice" in again
    assert PlantingDay.objects.get().quantity == 290
    assert LotMovement.objects.get().quantity == 4
    day.refresh_from_db()
    assert (day.state, day.lead, day.meet_at, day.readings["verdict"]) == ("closed", eva, time(8, 30), "go")
    answer = browser.get(address("crew_day_detail", day))
    page = answer.content.decode()
    assert [(on.accounted, on.back) for on in answer.context["lots"]] == [(294, 6)]
    assert "Boots and tools were cleaned" in page and "back at 16:40" in page
    page = browser.get(address("planting_day_detail", PlantingDay.objects.get())).content.decode()
    assert address("crew_day_detail", day) in page


def test_what_was_typed_survives_a_refusal(browser, actor, hill, day, lot):
    eva = person(hill, "Eva")
    row = with_lot(actor, day, lot)
    answer = browser.post(address("crew_day_people", day), {"person_0": eva.pk, "buddy_0": eva.pk})
    assert answer.status_code == 422
    assert f'<option value="{eva.pk}" selected>' in answer.content.decode()
    answer = browser.post(
        address("crew_day_close", day),
        {f"taken_{row.pk}": "10", f"planted_{row.pk}": "12", "clean_tools": "on"},
    )
    assert answer.status_code == 422
    assert "One of the numbers is wrong" in answer.context["form"].errors[f"taken_{row.pk}"][0]
    assert 'value="12"' in answer.content.decode()


def test_a_day_opened_again_begins_from_what_was_said_before(browser, actor, day, lot):
    row = with_lot(actor, day, lot)
    said_once = {"taken": 300, "planted": 290, "culled": 4, "damaged": 3, "lost": 2}
    closing.close_day(actor=actor, crew_day=day, lots=[evening(row, **said_once)], clean_tools=True)
    browser.post(address("crew_day_reopen", day), {"reason": "Counted wrong"})
    form = browser.get(address("crew_day_close", day)).context["form"]
    assert {name: form[f"{name}_{row.pk}"].value() for name in said_once} == said_once
    assert form["clean_tools"].value() is True


def test_the_crew_written_down_by_two_shows_both(browser, actor, hill, day):
    eva, rui = person(hill, "Eva"), person(hill, "Rui")
    old = crew_days.people_token(day)
    crew_days.set_people(actor=actor, crew_day=day, people=[(eva, None)])
    answer = browser.post(address("crew_day_people", day), {"person_0": rui.pk, "version": old})
    assert answer.status_code == 422
    assert [(both["stored"], both["yours"]) for both in answer.context["form"].both] == [(eva, rui)]
    fresh = answer.context["form"].data["version"]
    browser.post(address("crew_day_people", day), {"person_0": rui.pk, "version": fresh})
    assert day.people.get().person == rui


def test_judging_the_morning_keeps_nothing_and_going_against_a_rule_asks_why(browser, hill, day):
    rule(hill)
    page = browser.post(address("crew_day_decide", day), {"soil_c": "2", "judge": "yes"})
    assert page.status_code == 200
    assert "Do not plant now" in page.content.decode()
    assert CrewDay.objects.get().state == "planned"
    refused = browser.post(address("crew_day_decide", day), {"soil_c": "2", "go": "yes"})
    assert refused.status_code == 422
    assert "Write why the crew goes" in refused.context["why"].errors["reason"][0]
    assert 'value="2"' in refused.content.decode()
    browser.post(address("crew_day_decide", day), {"soil_c": "2", "go": "yes", "reason": "Warm side"})
    page = browser.get(address("crew_day_detail", day)).content.decode()
    assert "Because: Warm side" in page and "read: 2" in page


# --- what speaks against a day ----------------------------------------------------------------
def said(day):
    day = CrewDay.objects.select_related("block__site", "block__organisation").get(pk=day.pk)
    return {f"{each.title} {each.text}" for each in warnings_of(day, lots_of(day), going(day))}


def has(words, found):
    return any(words in one for one in found)


def test_a_lot_is_told_of_when_it_waited_too_long_failed_a_look_or_does_not_suffice(
    actor, hill, block, day, oak, lot
):
    with_lot(actor, day, factories.lot(hill, oak, received=100, lifted_on=date(2024, 1, 30)), 60)
    fine = with_lot(actor, day, lot, 300)
    found = said(day)
    assert has("11 days out of store by then; about 7 is what it can wait (US Forest Service", found)
    assert not has("meant", found)
    lot_check(lot, "accept", checked_at="2024-02-02T10:00Z")
    assert not has("Last look", said(day))
    lot_check(lot, "hold", because="dry roots", checked_at="2024-02-03T10:00Z")
    lot_check(lot, "accept", checked_at="2024-02-01T10:00Z")
    assert has("Last look: hold until looked at again (dry roots)", said(day))
    other = crew_day(actor, block, day=date(2024, 2, 12))
    with_lot(actor, other, fine.lot, 701)
    assert has(
        "1\u202f001 are meant for this day and other days still open, 1\u202f000 are on hand", said(day)
    )
    crew_days.call_off(actor=actor, crew_day=other, reason="Storm")
    assert not has("are meant", said(day))


def test_out_of_window_and_not_ready_are_said_of_the_ground(actor, day, block, lot):
    with_lot(actor, day, lot)
    assert not has("window", said(day))
    window = PlantingWindow.objects.create(
        organisation=block.organisation, block=block, stock_type="bare_root", source=COMPUTED,
        opens_on=date(2026, 11, 1), closes_on=date(2027, 2, 9),
    )  # fmt: skip
    assert has("Out of its window. Bare-root is planted here 1 November 2023 to 9 February 2024", said(day))
    window.closes_on = date(2027, 2, 10)
    window.save()
    assert not has("window", said(day))
    assert has("reasons not to plant are not known yet", said(day))


@pytest.mark.parametrize(
    ("on", "computed", "held"),
    [
        ("2024-02-10", True, True), ("2024-11-01", True, True), ("2024-10-31", True, False),
        ("2024-02-11", True, False), ("2030-01-05", True, True), ("2027-01-05", False, True),
        ("2024-01-05", False, False),
    ],
)  # fmt: skip
def test_a_window_worked_out_comes_round_and_a_stated_one_does_not(on, computed, held):
    window = PlantingWindow(
        opens_on=date(2026, 11, 1), closes_on=date(2027, 2, 10), source=COMPUTED if computed else "stated"
    )
    assert holds(window, date.fromisoformat(on)) is held


def test_a_day_outside_every_planting_season_is_told_so(actor, block, day):
    assert not has("planting season", said(day))
    assert has("No planting season holds this day", said(crew_day(actor, block, day=date(2024, 7, 1))))


def test_a_crew_without_number_leader_or_buddies_is_told_so(actor, hill, site, day):
    assert {"Emergency.", "Crew leader.", "Crew."} <= {one.split(". ")[0] + "." for one in said(day)}
    eva, rui = person(hill, "Eva"), person(hill, "Rui")
    crew_days.set_people(actor=actor, crew_day=day, people=[(eva, rui), (rui, None)])
    crew_days.change_day(actor=actor, crew_day=day, lead=eva, back_by=None)
    assert has("1 person has nobody to look after them", said(day))
    assert has("Back by.", said(day))
    site.emergency_contact = "112"
    site.save()
    assert not has("Emergency.", said(day)) and not has("Crew leader.", said(day))


def test_a_funder_is_offered_neither_for_a_crew_nor_for_a_task(browser, actor, day, fred, vera):
    chosen = browser.get(address("crew_day_people", day)).context["form"].fields["person_0"].queryset
    assert vera.person in chosen and fred.person not in chosen
    assert vera.person in people_for(actor) and fred.person not in people_for(actor)


def test_lots_with_plants_on_hand_are_offered_first_each_with_its_number(browser, actor, day, lot, hill, oak):
    used = factories.lot(hill, oak, code="USED-UP", received=0)
    choices = browser.get(address("crew_day_lot_new", day)).context["form"].fields["lot"].choices[1:]
    assert [(name, [uid for uid, _ in rows]) for name, rows in choices] == [
        ("On hand", [lot.uid]), ("None left by the records", [used.uid]),
    ]  # fmt: skip
    assert "24-117, Quercus robur, bare-root: 1\u202f000 on hand" in [words for _, words in choices[0][1]]
    browser.post(address("crew_day_lot_new", day), {"lot": used.uid, "planned": "10"})
    assert day.lots.get().lot == used


# --- the sheet --------------------------------------------------------------------------------
def test_the_sheet_says_who_where_which_lot_how_deep_and_what_is_too_heavy(
    signed_in, vera, actor, hill, site, block, day, lot, oak, winter
):
    site.emergency_contact, site.access_notes = "112, say Upper site", "Track from the mill"
    site.save()
    block.hazards = "Old well"
    block.save()
    rule(hill)
    eva, rui = person(hill, "Eva"), person(hill, "Rui")
    crew_days.set_people(actor=actor, crew_day=day, people=[(eva, rui), (rui, eva)])
    first = factories.cohort(block, factories.lot(hill, oak), winter)
    with_lot(actor, day, lot, 120, replaces=first, mark="cane", mark_note="blue")
    lot_check(lot, "reject")
    with_lot(actor, day, factories.lot(hill, oak, code="BALL", stock_type="balled_burlapped"), 3)
    answer = signed_in(vera).get(address("crew_day_sheet", day))
    page = answer.content.decode()
    for words in (
        "112, say Upper site", "Track from the mill", "Old well", "The chapel gate", "Eva", "24-117", "cane",
        "(blue)", "Root collar level with the ground", "Top of the ball level", "machine only", "colder than 4.4",
        "2.5\xa0m between rows", "2\u202f000\xa0per\xa0ha", "The office, by telephone", "Clean boots and tools",
        "last look: reject", "at most once a minute and for an hour", "30 % either way",
    ):  # fmt: skip
        assert words in page, words
    assert "safe" not in page.lower()
    assert len(answer.context["sheet"].blank_people) == 1  # for who turns up
    CrewDay.objects.filter(pk=day.pk).update(people_expected=6)
    assert len(signed_in(vera).get(address("crew_day_sheet", day)).context["sheet"].blank_people) == 4
    loads = {str(row.name): row for row in answer.context["sheet"].loads}
    assert loads["a root ball"].is_over and loads["a bundle of plants"].instead == 46
    lighter = signed_in(vera).get(address("crew_day_sheet", day), {"bundle": "25"}).context["sheet"].loads
    assert [row.is_over for row in lighter] == [True, False]


def test_a_volunteer_finds_the_sheets_of_the_days_ahead_of_their_projects(
    signed_in, ana, vera, actor, hill, project, site, block, day
):
    today = clocks.today_at(block.site)
    ahead = crew_day(actor, block, day=today)
    other = factories.project(hill)
    hidden = crew_day(actor, factories.block(hill, other, site), day=today)
    crew_days.call_off(actor=actor, crew_day=crew_day(actor, block, day=today), reason="Storm")
    browser = signed_in(vera)
    for page in (address("project_day_rules", project), address("day_rules")):
        assert browser.get(page).context["days"] == [ahead]
    assert signed_in(ana).get(address("project_day_rules", other)).context["days"] == [hidden]
    assert browser.get(address("crew_day_sheet", ahead)).status_code == 200
    assert browser.get(address("crew_day_sheet", hidden)).status_code == 404
    assert browser.get(address("crew_day_detail", ahead)).status_code == 403


def test_a_bundle_that_cannot_be_is_refused_and_the_sheet_still_opens(browser, actor, day, lot):
    with_lot(actor, day, lot)
    answer = browser.get(address("crew_day_sheet", day), {"bundle": "none"})
    assert answer.status_code == 422
    assert answer.context["sheet"].loads


# --- lists ------------------------------------------------------------------------------------
def test_days_are_listed_by_what_they_wait_for(browser, actor, block, lot, day):
    row = with_lot(actor, day, lot)
    today = clocks.today_at(block.site)
    ahead = crew_day(actor, block, day=today + timedelta(days=3))
    with_lot(actor, ahead, lot, 10)
    found = open_days(CrewDay.objects.all(), today)
    assert (list(found.ahead), list(found.to_close)) == ([ahead], [day])
    assert (found.to_close[0].meant, found.to_close[0].planted, found.to_close[0].going) == (300, 0, 0)
    closing.close_day(actor=actor, crew_day=day, lots=[evening(row, planted=280)])
    answer = browser.get(address("crew_day_list"))
    assert [(one.pk, one.planted) for one in answer.context["over"].rows] == [(day.pk, 280)]
    assert not answer.context["found"].to_close


def test_the_log_sums_what_stands_lot_by_lot(browser, actor, block, lot, day, hill, oak):
    row = with_lot(actor, day, lot)
    closing.close_day(actor=actor, crew_day=day, lots=[evening(row, planted=280)])
    planting.plant(actor=actor, block=block, lot=lot, planted_on=date(2024, 2, 12), quantity=20)
    wrong = planting.plant(actor=actor, block=block, lot=factories.lot(hill, oak), planted_on=DAY, quantity=7)
    planting.void_planting_day(actor=actor, day=wrong, reason="wrong lot")
    assert {part.lot.code: part.planted for part in planting_log(actor, block)} == {
        lot.code: 300, wrong.lot.code: 0,
    }  # fmt: skip
    page = browser.get(address("block_log", block)).content.decode()
    assert "taken back" in page and "how the day went" in page


def test_pages_of_a_day_ask_as_much_however_many_lots_and_people(browser, actor, hill, oak, day):
    def fill(number):
        for _ in range(number):
            with_lot(actor, day, factories.lot(hill, oak), 5)
        people = [person(hill, f"P{n}") for n in range(number)]
        pairs = [(one, people[n - 1]) for n, one in enumerate(people)]
        crew_days.set_people(actor=actor, crew_day=day, people=pairs)

    counts = []
    for number in (2, 6):
        fill(number)
        browser.get(address("crew_day_detail", day))
        with CaptureQueriesContext(connection) as few:
            browser.get(address("crew_day_detail", day))
            browser.get(address("crew_day_sheet", day))
        counts.append(len(few))
    assert counts[0] == counts[1]
    assert StockLot.objects.count() == 8


# --- quality checks ---------------------------------------------------------------------------
def test_a_check_is_kept_with_its_faults_and_can_be_taken_back(browser, block):
    told = {"checked_on": "2024-02-12", "label": "row 4", "inspected": "20", "acceptable": "17",
            "fault_loose": "2", "fault_too_deep": "3"}  # fmt: skip
    assert browser.post(address("quality_check_new", block), told).status_code == 302
    check = QualityCheck.objects.get()
    assert (check.inspected, check.acceptable, check.faults) == (20, 17, {"loose": 2, "too_deep": 3})
    answer = browser.get(address("block_log", block))
    assert "as if the trees of the spot were independent" in answer.content.decode()
    browser.post(
        address("quality_check_new", block),
        told | {"label": "row 9", "acceptable": "20", "fault_loose": "", "fault_too_deep": ""},
    )
    quality = browser.get(address("block_log", block)).context["quality"]
    assert (quality.found.acceptable, quality.found.n_spots, quality.found.basis) == (37, 2, "spread")
    assert [(str(words), number) for words, number in quality.faults] == [
        ("too deep", 3), ("loose: a gentle pull moves it", 2),
    ]  # fmt: skip
    browser.post(address("quality_check_void", check), {"reason": ""})
    assert QualityCheck.objects.filter(voided_at__isnull=False).count() == 0
    browser.post(address("quality_check_void", check), {"reason": "twice"})
    assert browser.get(address("block_log", block)).context["quality"].found.acceptable == 20


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"acceptable": "21"}, "acceptable"),
        ({"inspected": "0"}, "inspected"),
        ({"fault_loose": "4"}, "fault_loose"),
        ({"checked_on": "2999-01-01"}, "checked_on"),
    ],
)
def test_a_check_that_cannot_be_is_refused_at_its_box(browser, block, change, field):
    told = {"checked_on": "2024-02-12", "inspected": "20", "acceptable": "17"} | change
    answer = browser.post(address("quality_check_new", block), told)
    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    assert not QualityCheck.objects.exists()


def test_nobody_checks_trees_before_their_planting_day(browser, block, day):
    told = {"checked_on": "2024-02-09", "crew_day": day.uid, "inspected": "20", "acceptable": "17"}
    answer = browser.post(address("quality_check_new", block), told)
    assert "before they are planted" in answer.context["form"].errors["checked_on"][0]


def test_the_share_of_a_lot_seen_in_one_spot_says_what_its_limits_take_for_granted(
    browser, block, hill, oak, lot
):
    seen = {"organisation": hill, "block": block, "checked_on": DAY, "inspected": 20}
    for of, good in ((lot, 18), (lot, 20), (factories.lot(hill, oak, code="ONCE"), 20)):
        QualityCheck.objects.create(**seen, lot=of, acceptable=good)
    page = browser.get(address("block_log", block)).content.decode()
    assert page.count("which trees of one spot are not") == 1
    assert page.index("ONCE") < page.index("which trees of one spot are not")
    assert "83\N{NO-BREAK SPACE}% to 100\N{NO-BREAK SPACE}%" in page  # 0.025 ** (1 / 20)


def test_words_no_database_holds_stop_nobody(browser, actor, block, winter):
    day = crew_day(actor, block, day=clocks.today_at(block.site))
    assert (
        browser.post(address("crew_day_decide", day), {"go": "yes", "reason": "Fr\x00ost"}).status_code == 302
    )
    assert CrewDay.objects.get().decided_because == "Frost"
    assert browser.post(address("crew_day_off", day), {"reason": "\x00"}).status_code == 302
    assert CrewDay.objects.get().state == "go"
    assert browser.post(address("crew_day_off", day), {"reason": "Sto\x00rm"}).status_code == 302
    assert CrewDay.objects.get().decided_because == "Storm"
    assert "\x00" not in "".join(HistoryEntry.objects.values_list("reason", flat=True))


def test_the_page_of_who_goes_reads_everybody_once(browser, actor, hill, block, winter):
    day = crew_day(actor, block)

    def queries():
        with CaptureQueriesContext(connection) as made:
            page = browser.get(address("crew_day_people", day)).content.decode()
        return len(made), page

    queries()
    before, _page = queries()
    crew_days.set_people(
        actor=actor, crew_day=day, people=[(person(hill, f"Walker {n}"), None) for n in range(6)]
    )
    after, page = queries()
    assert after == before
    assert page.count("selected>Walker 3<") == 1 and page.count(">nobody yet<") == 10
