"""A look at a lot: what was seen is kept, a person decides, and what the figures suggested stands beside it."""

from datetime import UTC, date, datetime

import pytest

from projects.calc.lot_sampling import Points, smallest_plan
from projects.errors import Refusal
from projects.models import HistoryEntry, LotCheck, Reminder
from projects.selectors.handovers import checks_of, plan_for, suggestion_for
from projects.selectors.ledgers import standings
from projects.services import lot_checks
from tests import factories

NOON = datetime(2024, 2, 2, 12, tzinfo=UTC)


def look(actor, lot, **more):
    told = {"point": "arrival", "verdict": "accept", "checked_at": NOON, "root_condition": "moist"} | more
    return lot_checks.add_check(actor=actor, lot=lot, **told)


def test_a_check_keeps_what_was_seen_and_why(actor, lot):
    check = look(actor, lot, box_temperature_c=1.0, sample_size=60, sample_bad=1)
    assert "roots moist" in check.because and "1 of 60 not fit" in check.because
    (told,) = HistoryEntry.objects.filter(subject_uid=check.uid)
    assert told.change["suggested"][1].startswith("accept: ")
    (shown,) = checks_of(actor, standings([lot], NOON.date())[0])
    assert (shown.check, shown.suggested.verdict) == (check, "accept")


@pytest.mark.parametrize(
    ("seen", "field"),
    [
        ({"point": "moon"}, "point"),
        ({"verdict": ""}, "verdict"),
        ({"sample_size": 10}, "sample_bad"),
        ({"sample_bad": 1}, "sample_size"),
        ({"sample_size": 0, "sample_bad": 0}, "sample_size"),
        ({"sample_size": 10, "sample_bad": 11}, "sample_bad"),
        (
            {"sample_size": 10, "sample_bad": 9, "accept_up_to": 10},
            "accept_up_to",
        ),  # accepts whatever is found
        ({"heights_cm": [30, 31], "collars_mm": [5]}, "collars_mm"),
        ({"heights_cm": [30, -1]}, "heights_cm"),
        ({"verdict": "hold"}, "because"),
        ({"root_condition": "dry"}, "because"),  # accepted against what the readings suggest
        ({"checked_at": datetime(2999, 1, 1, tzinfo=UTC)}, "checked_at"),
        ({"checked_at": datetime(2023, 12, 1, tzinfo=UTC)}, "checked_at"),
    ],
)
def test_a_look_that_cannot_be_is_refused_where_it_is_wrong(actor, lot, seen, field):
    with pytest.raises(Refusal) as caught:
        look(actor, lot, **seen)
    assert caught.value.field == field
    assert not LotCheck.objects.exists()


@pytest.mark.parametrize(("planted", "counted"), [(0, None), (500, None), (0, 1080), (0, 905), (930, None)])
def test_what_the_page_says_it_accepts_is_accepted_whatever_was_planted_or_counted_since(
    lot, block, hill, planted, counted
):
    """A sample asked for by what is left was judged by what had come, and put on hold what the page accepts."""
    if planted:
        factories.cohort(block, lot, factories.season(hill), planted=planted)
    plan = plan_for(lot)
    assert plan == smallest_plan(lot.received, Points())
    seen = {"point": "arrival", "root_condition": "moist", "on": NOON.date(), "counted": counted}
    seen |= {"box_temperature_c": None, "minutes_exposed": None, "accept_up_to": None}

    def judged(bad, size=plan.sample_size):
        return suggestion_for(lot, seen | {"sample_size": size, "sample_bad": bad}).verdict

    assert [judged(bad) for bad in (0, plan.accept_up_to, plan.accept_up_to + 1)] == [
        "accept",
        "accept",
        "reject",
    ]
    assert judged(plan.accept_up_to, plan.sample_size - 30) == "reject"
    assert judged(1, 20) == "hold"


@pytest.mark.parametrize("planted", [933, 999])
def test_where_few_are_left_every_plant_is_looked_at(lot, block, hill, planted):
    factories.cohort(block, lot, factories.season(hill), planted=planted)
    assert plan_for(lot) is None


def test_a_person_may_decide_against_the_readings_with_a_reason(actor, lot):
    check = look(actor, lot, root_condition="dry", because="Dipped at once, planted within the hour.")
    assert check.verdict == "accept"
    told = HistoryEntry.objects.get(subject_uid=check.uid)
    assert told.change["suggested"][1].startswith("reject: roots dry")


def test_the_day_a_lot_was_held_on_is_the_organisations(actor, hill, lot):
    type(hill).objects.filter(pk=hill.pk).update(time_zone="Pacific/Auckland")
    hill.refresh_from_db()
    actor.organisation.refresh_from_db()
    look(actor, lot, verdict="hold", because="Two boxes are warm.")
    assert (
        Reminder.objects.get(kind="check_held").facts["held_on"] == "2024-02-03"
    )  # noon of the 2nd in Greenwich


def test_a_check_taken_back_stays_and_is_struck_out(actor, lot):
    check = look(actor, lot)
    with pytest.raises(Refusal):
        lot_checks.void_check(actor=actor, check=check, reason=" ")
    assert lot_checks.void_check(actor=actor, check=check, reason="Another lot.").voided_at
    assert [
        shown.check.voided_at is None for shown in checks_of(actor, standings([lot], NOON.date())[0])
    ] == [False]


def test_a_lot_found_frozen_waits_no_longer_than_thawed_plants_do(actor, hill, oak):
    from projects.selectors.ledgers import standings

    plugs = factories.lot(hill, oak, stock_type="container", lifted_on=date(2024, 1, 30))
    assert standings([plugs], date(2024, 2, 3))[0].clock.limit_days is None
    check = look(actor, plugs, root_condition="frozen", verdict="hold")
    assert standings([plugs], date(2024, 2, 3))[0].clock.limit_days == 10
    lot_checks.void_check(actor=actor, check=check, reason="It was rime on the box.")
    assert standings([plugs], date(2024, 2, 3))[0].clock.limit_days is None
