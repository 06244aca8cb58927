"""Deliveries: in parts, with something else instead, told twice; nothing typed is lost and nothing is doubled."""

from datetime import date, timedelta
from uuid import uuid4

import pytest

from projects import clocks
from projects.errors import Refusal
from projects.identifiers import uuid7
from projects.models import Delivery, HistoryEntry, OrderLine, StockLot, StockOrder
from projects.services import receiving
from projects.services.receiving import Arrived
from tests import factories

DAY = date(2024, 2, 1)


@pytest.fixture
def order(hill, project, nursery):
    return StockOrder.objects.create(
        organisation=hill, project=project, nursery=nursery, status="placed", reference="O-1"
    )


@pytest.fixture
def line(hill, order, oak):
    return OrderLine.objects.create(
        organisation=hill, order=order, species=oak, stock_type="bare_root", quantity=900, unit_price_minor=85
    )


@pytest.fixture
def came(oak, line):
    def made(code="24-200", counted=500, **more):
        told = {"species": oak, "stock_type": "bare_root", "order_line": line} | more
        return Arrived(code=code, counted=counted, **told)

    return made


def receive(actor, order, *arrived, **more):
    told = {"delivered_on": DAY, "note_number": "N7"} | more
    return receiving.receive_delivery(actor=actor, order=order, arrived=arrived, **told)


def test_a_delivery_brings_lots_with_the_price_and_line_of_their_order(actor, order, line, came):
    got = receive(
        actor, order, came(stated=510, lifted_on=DAY - timedelta(days=2), certificate="C9"), carrier="Own van"
    )
    (lot,) = got.made
    assert (lot.delivery.order, lot.order_line, lot.nursery) == (order, line, order.nursery)
    assert (lot.received, lot.stated, lot.unit_cost_minor, lot.certificate) == (500, 510, 85, "C9")
    assert got.delivery.received_by == actor.person
    verbs = HistoryEntry.objects.filter(subject_uid__in=[got.delivery.uid, lot.uid]).order_by("id")
    assert [entry.verb for entry in verbs] == ["delivery.received", "stock_lot.received"]


def test_an_order_comes_in_parts(actor, order, came):
    receive(actor, order, came("a", 500))
    receive(actor, order, came("b", 400), delivered_on=DAY + timedelta(days=9), note_number="N8")
    assert [(row.note_number, row.lots.get().code) for row in order.deliveries.order_by("id")] == [
        ("N7", "a"), ("N8", "b"),
    ]  # fmt: skip


def test_something_else_is_kept_with_the_line_it_came_for(actor, order, line, came):
    birch = factories.species("betula-pubescens")
    lot = receive(actor, order, came(species=birch, stock_type="container")).made[0]
    assert (lot.species, lot.order_line, lot.unit_cost_minor) == (birch, line, None)
    assert HistoryEntry.objects.get(subject_uid=lot.uid).reason == "instead of Quercus robur, bare-root"


def test_the_same_delivery_sent_twice_is_there_once(actor, order, came):
    uid = uuid7()
    first = receive(actor, order, came(), uid=uid, note_number="")
    again = receive(actor, order, came(), uid=uid, note_number="")
    assert (again.delivery, again.made, again.already) == (first.delivery, [], first.made)
    assert first.delivery.uid == uid
    assert (Delivery.objects.count(), StockLot.objects.count()) == (1, 1)


def test_a_form_without_order_and_note_sent_twice_is_there_once(actor, nursery, came):
    told = {"uid": uuid7(), "note_number": "", "nursery": nursery}
    first, again = (receive(actor, None, came(order_line=None), **told) for _ in range(2))
    assert again.delivery == first.delivery and again.already == first.made
    other = receive(actor, None, came("b", order_line=None), **told | {"uid": uuid7()})
    assert other.delivery != first.delivery


def test_a_second_person_adds_their_lots_and_words_to_one_note(actor, order, came):
    first = receive(actor, order, came("a", 500), carrier="Van", note="Two boxes wet.")
    second = receive(actor, order, came("a", 500), came("b", 30), carrier="Lorry", note="Driver late.")
    assert second.delivery == first.delivery
    assert [lot.code for lot in second.made] == ["b"] and [lot.code for lot in second.already] == ["a"]
    delivery = Delivery.objects.get()
    assert delivery.carrier == "Van"
    assert delivery.note == "Two boxes wet.\nDriver late.\nBrought by: Lorry"


def test_a_code_that_stands_for_other_plants_is_refused_where_it_stands(actor, order, came):
    receive(actor, order, came("a", 500))
    with pytest.raises(Refusal, match="Lot a is in already: 500") as caught:
        receive(actor, order, came("b", 30), came("a", 400))
    assert (caught.value.at, caught.value.field) == (1, "code")
    assert StockLot.objects.count() == 1
    with pytest.raises(Refusal, match="stands above") as caught:
        receive(actor, order, came("c", 1), came("c ", 2))
    assert caught.value.at == 1


def test_a_delivery_without_an_order_names_its_nursery(actor, nursery, came):
    told = came(order_line=None)
    with pytest.raises(Refusal) as caught:
        receive(actor, None, told)
    assert caught.value.field == "nursery"
    got = receive(actor, None, told, nursery=nursery)
    assert receive(actor, None, came("b", 1, order_line=None), nursery=nursery).delivery == got.delivery


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"counted": 0}, "counted"),
        ({"code": ""}, "code"),
        ({"lifted_on": DAY + timedelta(days=1)}, "lifted_on"),
        ({"stock_type": "bonsai"}, "stock_type"),
    ],
)
def test_a_lot_that_cannot_be_is_named_and_nothing_is_kept(actor, order, came, told, field):
    with pytest.raises(receiving.LotRefused) as caught:
        receive(actor, order, came("fine"), came(**{"code": "bad"} | told))
    assert (caught.value.at, caught.value.field) == (1, field)
    assert not Delivery.objects.exists() and not StockLot.objects.exists()


def test_a_line_of_another_order_is_refused(actor, hill, project, nursery, order, came):
    other = StockOrder.objects.create(organisation=hill, project=project, nursery=nursery, status="placed")
    with pytest.raises(Refusal, match="another order"):
        receive(actor, other, came())


@pytest.mark.parametrize("status", ["draft", "cancelled"])
def test_nothing_comes_against_an_order_that_was_not_placed(actor, order, came, status):
    StockOrder.objects.filter(pk=order.pk).update(status=status)
    with pytest.raises(Refusal, match="Place it first"):
        receive(actor, order, came())


def test_a_delivery_of_tomorrow_or_of_nothing_is_refused(actor, hill, order, came):
    with pytest.raises(Refusal) as caught:
        receive(actor, order, came(), delivered_on=clocks.today_of(hill) + timedelta(days=1))
    assert caught.value.field == "delivered_on"
    with pytest.raises(Refusal, match="at least one lot"):
        receive(actor, order)


def test_a_stranger_uid_is_not_taken_over(actor, order, came):
    there = factories.organisation("there")
    theirs = Delivery.objects.create(
        organisation=there,
        delivered_on=DAY,
        nursery=factories.lot(there, factories.species("x-y")).nursery,
        uid=uuid4(),
    )
    got = receive(actor, order, came(), uid=theirs.uid)
    assert got.delivery.uid != theirs.uid
    assert got.delivery.organisation_id == actor.organisation.pk


def test_words_of_a_delivery_are_corrected_but_not_into_another_note(actor, order, came):
    receive(actor, order, came("a"))
    second = receive(actor, order, came("b"), note_number="N8").delivery
    with pytest.raises(Refusal) as caught:
        receiving.edit_delivery(actor=actor, delivery=second, note_number="N7")
    assert caught.value.field == "note_number"
    assert (
        receiving.edit_delivery(actor=actor, delivery=second, note_number="N9", carrier="Van").carrier
        == "Van"
    )
