"""Several people at one planting day in the same moment: nothing is entered twice, nothing is lost unseen."""

from datetime import date

import pytest

from projects.errors import Refusal
from projects.models import Cohort, CrewDay, LotMovement, PlantingDay
from projects.selectors.ledgers import ledger_of
from projects.services import crew_day_closing as closing
from projects.services import crew_day_lots, crew_days
from projects.services.editing import ChangedMeanwhile
from tests import factories
from tests.field_log.test_at_once import together
from tests.stock.crew_rows import crew_day, evening, person, with_lot

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def day(transactional_db, actor, hill, block):
    factories.season(hill, "planting", year=2024)
    return crew_day(actor, block)


def problems(answers):
    return [one for one in answers if isinstance(one, Exception)]


def standing(model):
    return model.objects.filter(voided_at__isnull=True)


def test_a_form_posted_three_times_at_once_closes_the_day_once(actor, day, lot):
    row = with_lot(actor, day, lot)

    def press():
        return closing.close_day(actor=actor, crew_day=day, lots=[evening(row, planted=280, culled=5)])

    refused = problems(together(press, press, press))
    assert [one.code for one in refused if isinstance(one, Refusal)] == ["closed", "closed"]
    assert (standing(PlantingDay).count(), standing(LotMovement).count()) == (1, 1)
    assert ledger_of(lot).at_hand == 715


def test_a_lot_added_while_the_day_closes_is_either_told_of_or_refused(actor, hill, day, lot, oak):
    row, late = with_lot(actor, day, lot), factories.lot(hill, oak)
    (refused,) = problems(
        together(
            lambda: closing.close_day(actor=actor, crew_day=day, lots=[evening(row, planted=280)]),
            lambda: crew_day_lots.add_lot(actor=actor, crew_day=day, lot=late, planned=10),
        )
    )
    assert isinstance(refused, Refusal)
    closed = CrewDay.objects.get().state == "closed"
    assert refused.code == ("closed" if closed else "changed")
    assert day.lots.count() == (1 if closed else 2)
    assert standing(PlantingDay).count() == (1 if closed else 0)


def test_a_day_closed_and_opened_again_at_once_is_one_or_the_other(actor, day, lot):
    row = with_lot(actor, day, lot)
    told = [evening(row, planted=280, lost=2)]
    closing.close_day(actor=actor, crew_day=day, lots=told)
    answers = together(
        lambda: closing.open_again(actor=actor, crew_day=day, reason="wrong"),
        lambda: closing.close_day(actor=actor, crew_day=day, lots=told),
    )
    assert all(isinstance(one, Refusal) and one.code == "closed" for one in problems(answers))
    is_closed = CrewDay.objects.get().state == "closed"
    assert is_closed == (problems(answers) == [])
    assert ledger_of(lot).at_hand == (718 if is_closed else 1000)
    assert (standing(PlantingDay).count(), standing(LotMovement).count()) == (is_closed, is_closed)


def test_two_days_of_one_lot_closed_at_once_are_one_planting(actor, block, day, lot):
    other = crew_day(actor, block, day=date(2024, 2, 11), crew="South")
    days = [(one, with_lot(actor, one, lot)) for one in (day, other)]
    works = [
        lambda one=one, row=row: closing.close_day(
            actor=actor, crew_day=one, lots=[evening(row, planted=100)]
        )
        for one, row in days
    ]
    assert problems(together(*works)) == []
    assert Cohort.objects.count() == 1
    assert ledger_of(lot).planted == 200


def test_of_two_who_write_the_crew_down_the_second_is_shown_the_first(actor, hill, day):
    eva, rui = person(hill, "Eva"), person(hill, "Rui")
    version = crew_days.people_token(day)

    def write(who):
        return lambda: crew_days.set_people(actor=actor, crew_day=day, people=[(who, None)], version=version)

    (refused,) = problems(together(write(eva), write(rui)))
    assert isinstance(refused, ChangedMeanwhile)
    assert refused.stored == {"person_0": day.people.get().person}
