"""Two people at one delivery in the same moment: nothing is lost, nothing is doubled."""

from datetime import date

import pytest

from projects import access
from projects.errors import Refusal
from projects.identifiers import uuid7
from projects.models import Delivery, LotMovement, Nursery, OrderLine, StockLot, StockOrder
from projects.selectors.ledgers import ledger_of
from projects.services import lot_splits, movements, receiving
from projects.services.receiving import Arrived
from tests import factories
from tests.field_log.test_at_once import together

pytestmark = pytest.mark.django_db(transaction=True)
DAY = date(2024, 2, 1)


class Yard:
    """An order of 900 oaks, and a manager to receive them."""

    def __init__(self):
        self.org = factories.organisation("hill")
        self.actor = access.member_actor(factories.member(self.org, "manager"))
        self.oak = factories.species("quercus-robur")
        self.nursery = Nursery.objects.create(organisation=self.org, name="Alto")
        self.order = StockOrder.objects.create(
            organisation=self.org, project=factories.project(self.org), nursery=self.nursery, status="placed"
        )
        self.line = OrderLine.objects.create(
            organisation=self.org, order=self.order, species=self.oak, stock_type="bare_root", quantity=900
        )

    def receiver(self, *codes, counted=300, uid=None, note_number="N7", order=True):
        arrived = [
            Arrived(code, counted, self.oak, "bare_root", self.line if order else None) for code in codes
        ]
        told = {"order": self.order} if order else {"nursery": self.nursery}
        return lambda: receiving.receive_delivery(
            actor=self.actor,
            delivered_on=DAY,
            arrived=arrived,
            uid=uid or uuid7(),
            note_number=note_number,
            **told,
        )


@pytest.fixture
def yard(transactional_db):
    return Yard()


def problems(answers):
    return [one for one in answers if isinstance(one, Exception)]


@pytest.mark.parametrize("order", [True, False])
def test_two_who_receive_one_delivery_make_one_with_every_lot(yard, order):
    answers = together(yard.receiver("a", "b", order=order), yard.receiver("b", "c", order=order))
    assert problems(answers) == []
    assert Delivery.objects.count() == 1
    assert sorted(StockLot.objects.values_list("code", flat=True)) == ["a", "b", "c"]
    assert sum(len(got.made) for got in answers) == 3
    assert sum(len(got.already) for got in answers) == 1


def test_a_form_sent_twice_is_taken_in_once(yard):
    uid = uuid7()
    press = yard.receiver("a", uid=uid, note_number="")
    answers = together(press, press, press)
    assert problems(answers) == []
    assert (Delivery.objects.get().uid, StockLot.objects.count()) == (uid, 1)


def test_of_two_who_counted_one_lot_differently_the_second_is_told(yard):
    (refused,) = problems(together(yard.receiver("a"), yard.receiver("a", counted=299)))
    assert isinstance(refused, Refusal) and refused.field == "code"
    assert StockLot.objects.count() == 1


def test_two_splits_at_once_take_no_more_than_is_there(yard):
    lot = yard.receiver("a")().made[0]

    def split(code):
        return lambda: lot_splits.split_lot(actor=yard.actor, lot=lot, quantity=200, moved_on=DAY, code=code)

    (refused,) = problems(together(split("x"), split("y")))
    assert isinstance(refused, Refusal) and refused.code == "not_on_hand"
    assert ledger_of(lot).at_hand == 100


def test_merges_of_the_same_lots_in_opposite_order_do_not_wait_crosswise(yard):
    first, second = yard.receiver("a", "b")().made

    def merge(code, *lots):
        parts = [(lot, 100) for lot in lots]
        return lambda: lot_splits.merge_lots(actor=yard.actor, parts=parts, moved_on=DAY, code=code)

    assert problems(together(merge("x", first, second), merge("y", second, first))) == []
    assert [ledger_of(lot).at_hand for lot in (first, second)] == [100, 100]


def test_a_split_taken_back_by_two_at_once_is_taken_back_once(yard):
    lot = yard.receiver("a")().made[0]
    child = lot_splits.split_lot(actor=yard.actor, lot=lot, quantity=200, moved_on=DAY, code="x")
    step = LotMovement.objects.get(to_lot=child)

    def back():
        return movements.void_movement(actor=yard.actor, movement=step, reason="Never split.")

    assert problems(together(back, back)) == []
    assert (ledger_of(lot).at_hand, ledger_of(child).received) == (300, 0)
