"""A planting day is prepared, decided on, closed once into its cohorts and ledgers, and can be opened again."""

from datetime import date, time, timedelta

import pytest

from monitoring.services import reminders
from projects import clocks
from projects.errors import Refusal
from projects.models import Cohort, CrewDay, HistoryEntry, LotMovement, PlantingDay, Reminder
from projects.selectors.ledgers import ledger_of
from projects.services import crew_day_closing as closing
from projects.services import crew_day_lots, crew_days, erasure, planting
from projects.services.editing import ChangedMeanwhile
from tests import factories
from tests.stock.crew_rows import DAY, crew_day, evening, person, rule, with_lot


@pytest.fixture
def day(actor, block, winter):
    return crew_day(actor, block)


@pytest.fixture
def row(actor, day, lot):
    return with_lot(actor, day, lot)


def counted():
    return PlantingDay.objects.filter(voided_at__isnull=True).count(), LotMovement.objects.filter(
        voided_at__isnull=True
    ).count()


# --- preparing --------------------------------------------------------------------------------
def test_a_day_in_a_block_put_away_or_back_before_it_meets_is_refused(actor, block, day):
    with pytest.raises(Refusal) as caught:
        crew_days.change_day(actor=actor, crew_day=day, meet_at=time(9), back_by=time(9))
    assert caught.value.field == "back_by"
    block.archived_at = "2024-01-01T00:00Z"
    with pytest.raises(Refusal, match="put away"):
        crew_day(actor, block)


def test_who_goes_is_written_down_whole_and_names_stay_out_of_history(actor, hill, day):
    eva, rui = person(hill, "Eva Pinheiro"), person(hill, "Rui Carvalho")
    crew_days.set_people(actor=actor, crew_day=day, people=[(eva, rui), (rui, eva)])
    crew_days.set_people(actor=actor, crew_day=day, people=[(eva, None)])
    assert [(one.person, one.buddy) for one in day.people.all()] == [(eva, None)]
    crew_days.change_day(actor=actor, crew_day=day, lead=rui, buddies="Eva Pinheiro tells the office")
    told = str([(entry.change, entry.reason, entry.subject_label) for entry in HistoryEntry.objects.all()])
    assert "Pinheiro" not in told and "Carvalho" not in told
    assert "[2, 1]" in told and "withheld" in told


def test_a_pair_that_cannot_look_after_each_other_is_refused_at_its_box(actor, hill, day):
    eva, rui = person(hill, "Eva"), person(hill, "Rui")
    gone = person(hill, "")
    gone.erased_at = "2024-01-01T00:00Z"
    for people, field in (
        ([(eva, eva)], "buddy_0"),
        ([(eva, None), (rui, person(hill, "At home"))], "buddy_1"),
        ([(eva, None), (eva, None)], "person_0"),
        ([(gone, None)], "person_0"),
    ):
        with pytest.raises(Refusal) as caught:
            crew_days.set_people(actor=actor, crew_day=day, people=people)
        assert caught.value.field == field
    assert not day.people.exists()


def test_two_who_write_the_crew_down_are_shown_each_others(actor, hill, day):
    eva, rui = person(hill, "Eva"), person(hill, "Rui")
    version = crew_days.people_token(day)
    crew_days.set_people(actor=actor, crew_day=day, people=[(eva, None)], version=version)
    with pytest.raises(ChangedMeanwhile) as caught:
        crew_days.set_people(actor=actor, crew_day=day, people=[(rui, None)], version=version)
    assert caught.value.stored == {"person_0": eva}
    crew_days.set_people(actor=actor, crew_day=day, people=[(rui, None)], version=caught.value.version)
    assert day.people.get().person == rui


def test_a_lot_is_on_a_day_once_with_a_number(actor, day, row, lot):
    with pytest.raises(Refusal, match="on the day already"):
        with_lot(actor, day, lot, 20)
    with pytest.raises(Refusal) as caught:
        crew_day_lots.change_lot(actor=actor, row=row, planned=0)
    assert caught.value.field == "planned"
    assert crew_day_lots.change_lot(actor=actor, row=row, planned=280).planned == 280
    crew_day_lots.take_lot_off(actor=actor, row=row)
    assert not day.lots.exists()


def test_a_replacement_is_marked_and_of_its_own_block(
    actor, hill, day, lot, block, project, site, oak, winter
):
    first = factories.cohort(block, factories.lot(hill, oak), winter)
    elsewhere = factories.cohort(factories.block(hill, project, site), factories.lot(hill, oak), winter)
    with pytest.raises(Refusal) as caught:
        with_lot(actor, day, lot, replaces=first)
    assert caught.value.field == "mark"
    with pytest.raises(Refusal) as caught:
        with_lot(actor, day, lot, replaces=elsewhere, mark="tag")
    assert caught.value.field == "replaces"
    assert with_lot(actor, day, lot, replaces=first, mark="cane", mark_note="blue").replaces == first


def test_a_lot_that_stands_as_a_first_planting_cannot_replace(actor, hill, day, lot, block, oak, winter):
    other = factories.cohort(block, factories.lot(hill, oak), winter)
    planting.plant(actor=actor, block=block, lot=lot, planted_on=DAY, quantity=5)
    with pytest.raises(Refusal) as caught:
        with_lot(actor, day, lot, replaces=other, mark="tag")
    assert caught.value.field == "replaces"
    assert with_lot(actor, day, lot).replaces is None


def test_a_lot_that_stands_as_a_replacement_goes_on_replacing_and_is_marked(
    actor, hill, day, lot, block, oak, winter
):
    other = factories.cohort(block, factories.lot(hill, oak), winter)
    planting.plant(actor=actor, block=block, lot=lot, planted_on=DAY, quantity=5, replaces=other)
    with pytest.raises(Refusal) as caught:
        with_lot(actor, day, lot)
    assert caught.value.field == "mark"
    assert with_lot(actor, day, lot, mark="spot").replaces == other


# --- the morning ------------------------------------------------------------------------------
def test_going_against_a_rule_asks_for_a_reason_which_is_kept_with_what_was_read(actor, hill, day):
    cold = rule(hill)
    with pytest.raises(Refusal) as caught:
        crew_days.decide(actor=actor, crew_day=day, go=True, readings={"soil_c": 2.0}, because="  ")
    assert (caught.value.field, caught.value.code) == ("because", "stopped")
    decided = crew_days.decide(
        actor=actor, crew_day=day, go=True, readings={"soil_c": 2.0}, because="South side is warm"
    )
    assert (decided.state, decided.decided_because, decided.decided_by) == (
        "go", "South side is warm", actor.person,
    )  # fmt: skip
    cold.delete()
    (said,) = CrewDay.objects.get().readings["said"]
    assert (said["reading"], said["limit"], said["state"]) == (2.0, 4.4, "speaks")
    assert HistoryEntry.objects.get(verb="crew_day.decided_go").reason == "South side is warm"


def test_no_go_may_become_go_by_noon_and_another_date_is_decided_anew(actor, hill, day):
    rule(hill)
    assert crew_days.decide(actor=actor, crew_day=day, go=False, readings={"soil_c": 2.0}).state == "no_go"
    assert crew_days.decide(actor=actor, crew_day=day, go=True, readings={"soil_c": 6.0}).state == "go"
    moved = CrewDay.objects.get()
    crew_days.change_day(actor=actor, crew_day=moved, day=date(2024, 2, 11))
    moved.refresh_from_db()
    assert (moved.state, moved.readings, moved.decided_at) == ("planned", {}, None)


def test_a_day_to_come_is_not_decided_on(actor, block):
    ahead = crew_day(actor, block, day=clocks.today_at(block.site) + timedelta(days=2))
    with pytest.raises(Refusal, match="in the morning of the day"):
        crew_days.decide(actor=actor, crew_day=ahead, go=True)


def test_a_day_called_off_says_why_and_can_be_taken_up_again(actor, day, row):
    with pytest.raises(Refusal) as caught:
        crew_days.call_off(actor=actor, crew_day=day, reason=" ")
    assert caught.value.field == "reason"
    off = crew_days.call_off(actor=actor, crew_day=day, reason="Storm")
    assert (off.state, off.decided_because) == ("called_off", "Storm")
    with pytest.raises(Refusal, match="called off"):
        closing.close_day(actor=actor, crew_day=day, lots=[evening(row, planted=1)])
    assert closing.open_again(actor=actor, crew_day=day, reason="It passed").state == "planned"


# --- the evening ------------------------------------------------------------------------------
def test_closing_enters_everything_once_and_the_ledger_balances(actor, hill, block, day, row, lot):
    eva = person(hill, "Eva")
    crew_days.set_people(actor=actor, crew_day=day, people=[(eva, None)])
    told = [evening(row, taken=300, planted=280, culled=6, damaged=3, lost=1)]
    who = day.people.get()
    closed = closing.close_day(
        actor=actor, crew_day=day, lots=told, back={who.pk: time(16, 40)}, clean_tools=True
    )
    assert (closed.state, closed.clean_tools) == ("closed", True)
    planted = PlantingDay.objects.get()
    assert (planted.quantity, planted.crew_day, planted.crew, planted.planted_on) == (280, day, "North", DAY)
    ledger = ledger_of(lot)
    assert (ledger.planted, ledger.culled, ledger.lost, ledger.at_hand, ledger.gap) == (280, 9, 1, 710, 0)
    assert ledger.received == 280 + 9 + 1 + ledger.at_hand
    assert day.people.get().back_at == time(16, 40)
    assert CrewDay.objects.get().lots.get().taken == 300
    with pytest.raises(Refusal) as caught:
        closing.close_day(actor=actor, crew_day=day, lots=told)
    assert caught.value.code == "closed"
    assert counted() == (1, 3)


@pytest.mark.parametrize(
    ("numbers", "field", "words"),
    [
        ({"taken": 100, "planted": 99, "lost": 2}, "taken", "One of the numbers is wrong"),
        ({"planted": -1}, "planted", "0 or more"),
        ({}, "", "call the day off"),
    ],
)
def test_an_evening_that_cannot_be_is_refused_at_its_box(actor, day, row, numbers, field, words):
    with pytest.raises(Refusal, match=words) as caught:
        closing.close_day(actor=actor, crew_day=day, lots=[evening(row, **numbers)])
    assert caught.value.field == (f"{field}_{row.pk}" if field else "")
    assert counted() == (0, 0)


def test_one_lot_refused_leaves_the_whole_day_open(actor, hill, day, row, oak):
    late = with_lot(actor, day, factories.lot(hill, oak, received_on=date(2024, 2, 20)))
    with pytest.raises(Refusal, match="The lot came on") as caught:
        closing.close_day(actor=actor, crew_day=day, lots=[evening(row, planted=5), evening(late, lost=1)])
    assert caught.value.field == f"lost_{late.pk}"
    assert counted() == (0, 0)
    assert CrewDay.objects.get().state == "planned"


def test_a_lot_added_meanwhile_is_not_closed_unseen(actor, hill, day, row, oak):
    with_lot(actor, day, factories.lot(hill, oak))
    with pytest.raises(Refusal) as caught:
        closing.close_day(actor=actor, crew_day=day, lots=[evening(row, planted=5)])
    assert caught.value.code == "changed"


def test_planting_on_a_no_go_day_asks_to_decide_again(actor, hill, day, row):
    rule(hill)
    crew_days.decide(actor=actor, crew_day=day, go=False, readings={"soil_c": 2.0})
    with pytest.raises(Refusal) as caught:
        closing.close_day(actor=actor, crew_day=day, lots=[evening(row, planted=5)])
    assert caught.value.code == "no_go"
    assert closing.close_day(actor=actor, crew_day=day, lots=[evening(row, lost=5)]).state == "closed"


def test_more_than_was_received_is_kept_and_shows_as_a_gap(actor, day, row, lot):
    closing.close_day(actor=actor, crew_day=day, lots=[evening(row, planted=1050)])
    assert ledger_of(lot).gap == -50


def test_a_day_opened_again_takes_back_what_it_entered_and_only_that(actor, hill, block, day, row, lot):
    rule(hill)
    crew_days.decide(actor=actor, crew_day=day, go=True, readings={"soil_c": 8.0})
    planting.plant(actor=actor, block=block, lot=lot, planted_on=DAY, quantity=40)
    closing.close_day(
        actor=actor, crew_day=day, lots=[evening(row, planted=280, culled=6, damaged=3, lost=2)]
    )
    with pytest.raises(Refusal) as caught:
        closing.open_again(actor=actor, crew_day=day, reason="")
    assert caught.value.field == "reason"
    again = closing.open_again(actor=actor, crew_day=day, reason="The wrong lot")
    assert (again.state, again.closed_at, again.readings["verdict"]) == ("go", None, "go")
    assert counted() == (1, 0)
    assert ledger_of(lot).at_hand == 960
    closing.close_day(actor=actor, crew_day=day, lots=[evening(row, planted=270, culled=16)])
    assert ledger_of(lot).at_hand == 1000 - 40 - 286
    assert Cohort.objects.count() == 1


def test_a_closed_replacement_keeps_its_mark_and_asks_for_a_baseline_visit(
    actor, hill, block, day, lot, oak, winter, plots
):
    first = factories.cohort(block, factories.lot(hill, oak), winter)
    row = with_lot(actor, day, lot, 50, replaces=first, mark="cane", mark_note="blue")
    reminders.renew(hill)
    assert not Reminder.objects.filter(kind="baseline_visit").exists()
    closing.close_day(actor=actor, crew_day=day, lots=[evening(row, planted=48)])
    planted = PlantingDay.objects.get(crew_day=day)
    assert (planted.mark, planted.mark_note, planted.cohort.replaces) == ("cane", "blue", first)
    reminders.renew(hill)
    asked = Reminder.objects.get(kind="baseline_visit")
    assert (asked.due_on, asked.facts["trees"]) == (DAY + timedelta(weeks=4), 48)
    closing.open_again(actor=actor, crew_day=day, reason="Not yet")
    reminders.renew(hill)
    assert not Reminder.objects.filter(kind="baseline_visit").exists()


def test_nobody_of_another_organisation_is_put_on_a_day(actor, other, day, oak):
    foreign = factories.lot(other, oak)
    with pytest.raises(Refusal) as caught:
        with_lot(actor, day, foreign)
    assert caught.value.code == "not_ours"
    with pytest.raises(Refusal):
        crew_days.set_people(actor=actor, crew_day=day, people=[(person(other, "Olga"), None)])


def test_a_person_whose_name_is_removed_is_named_in_no_day(actor, hill, block):
    eva = person(hill, "Eva Lima")
    told = {
        "named": crew_day(actor, block, crew="a", buddies="eva lima, by telephone"),
        "over": crew_day(actor, block, crew="b", lead=eva, buddies="Eva and Rui"),
        "ahead": crew_day(actor, block, crew="c", lead=eva, buddies="The office"),
        "of others": crew_day(actor, block, crew="d", buddies="Rui"),
    }
    crew_days.call_off(actor=actor, crew_day=told["over"], reason="Storm")
    erasure.erase_person(actor=actor, person=eva, reason="She asked, 2 March")
    left = {name: CrewDay.objects.get(pk=row.pk).buddies for name, row in told.items()}
    assert left == {"named": "", "over": "", "ahead": "The office", "of others": "Rui"}
