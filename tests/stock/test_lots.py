"""Lots: received, corrected, moved, counted, stored, put away; each refusal names its field."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from projects import clocks
from projects.errors import Refusal
from projects.models import (
    Delivery,
    HistoryEntry,
    LotMovement,
    LotStorage,
    PlantingDay,
    StockLot,
    StockOrder,
    StockTake,
)
from projects.selectors.ledgers import ledger_of
from projects.services import lots, movements, nurseries
from species.models import RangeStatus
from tests import factories


def acts(subject):
    return list(
        HistoryEntry.objects.filter(subject_uid=subject.uid).order_by("id").values_list("verb", flat=True)
    )


def address(name, row=None):
    return reverse(f"projects:{name}", kwargs={"org": "hill"} | ({"uid": row.uid} if row else {}))


def test_a_lot_is_received_with_its_cost_in_minor_units(signed_in, ana, lot_fields):
    answer = signed_in(ana).post(address("lot_new"), lot_fields)
    lot = StockLot.objects.get(code="24-200")
    assert answer["Location"] == address("lot_detail", lot)
    assert (lot.received, lot.unit_cost_minor, lot.currency) == (900, 85, "EUR")
    assert acts(lot) == ["stock_lot.received"]


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("received", "nine hundred", "whole number"),
        ("received", "0", "Write 1 or more."),
        ("received", "-5", "Write 1 or more."),
        ("received", "99999999999", "or less."),
        ("received_on", "soon", "year-month-day"),
        ("received_on", "2999-01-01", "not come yet"),
        ("lifted_on", "2024-02-02", "lifted before it is received"),
        ("unit", "seed_spot", "every other stock type in trees"),
        ("species", "999999", "valid choice"),
        ("stock_type", "bonsai", "not one of the available"),
        ("unit_cost", "cheap", "such as 12.50"),
        ("code", "", "required"),
        ("code", "x\x00y", "Null characters"),
    ],
)
def test_a_bad_lot_field_is_named_and_nothing_is_written(signed_in, ana, lot_fields, field, value, words):
    answer = signed_in(ana).post(address("lot_new"), lot_fields | {field: value})
    assert answer.status_code == 422
    assert words in " ".join(answer.context["form"].errors[field])
    assert not StockLot.objects.exists()


def test_a_lot_joins_the_delivery_of_its_day_though_there_were_two_with_notes(
    signed_in, ana, hill, project, lot_fields
):
    order = StockOrder.objects.create(
        organisation=hill, project=project, nursery_id=lot_fields["nursery"], status="placed"
    )
    came = [
        Delivery.objects.create(
            organisation=hill, order=order, nursery=order.nursery, note_number=note,
            delivered_on=lot_fields["received_on"],
        )
        for note in ("N8", "N7")
    ]  # fmt: skip
    answer = signed_in(ana).post(address("lot_new"), lot_fields | {"order": order.uid})
    assert answer.status_code == 302
    assert StockLot.objects.get().delivery == came[1]
    assert Delivery.objects.count() == 2


def test_a_code_is_used_once(signed_in, ana, lot_fields):
    browser = signed_in(ana)
    browser.post(address("lot_new"), lot_fields)
    answer = browser.post(address("lot_new"), lot_fields)
    assert "24-200" in answer.context["form"].errors["code"][0]
    assert StockLot.objects.count() == 1


def test_a_planted_lot_keeps_its_species(actor, lot, cohort):
    from tests import factories

    with pytest.raises(Refusal) as caught:
        lots.edit_lot(actor=actor, lot=lot, species=factories.species("betula-pubescens"))
    assert caught.value.field == "species"
    with pytest.raises(Refusal) as caught:
        lots.edit_lot(actor=actor, lot=lot, received_on=date(2024, 3, 1))
    assert caught.value.field == "received_on"
    assert lots.edit_lot(actor=actor, lot=lot, received=1100).received == 1100


@pytest.mark.parametrize("kind", ["given_out", "moved_on", "culled", "returned", "lost"])
def test_plants_leave_a_lot_and_the_movement_can_be_taken_back(signed_in, ana, lot, kind):
    browser = signed_in(ana)
    browser.post(address("lot_move", lot), {"kind": kind, "quantity": "40", "moved_on": "2024-02-05"})
    movement = LotMovement.objects.get()
    assert getattr(ledger_of(lot), kind) == 40
    without = browser.post(address("movement_void", movement), {}, follow=True)
    assert "why this is taken back" in without.content.decode()
    browser.post(address("movement_void", movement), {"reason": "typed twice"})
    assert getattr(ledger_of(lot), kind) == 0
    assert acts(movement) == ["lot_movement.moved", "lot_movement.cancelled"]


def test_more_than_is_on_hand_is_kept_and_shown_as_a_gap(signed_in, ana, lot):
    browser = signed_in(ana)
    fields = {"kind": "lost", "quantity": "1200", "moved_on": "2024-02-05"}
    page = browser.post(address("lot_move", lot), fields, follow=True).content.decode()
    assert "200 more have now left the lot than it received" in page
    assert "More left than came." in page
    assert ledger_of(lot).gap == -200


@pytest.mark.parametrize(
    ("name", "fields", "field", "words"),
    [
        ("lot_move", {"kind": "lost", "quantity": "5", "moved_on": "2024-01-01"}, "moved_on", "came on"),
        ("lot_move", {"kind": "lost", "quantity": "5", "moved_on": "2999-01-01"}, "moved_on", "not come yet"),
        (
            "lot_move",
            {"kind": "lost", "quantity": "many", "moved_on": "2024-02-05"},
            "quantity",
            "whole number",
        ),
        ("lot_move", {"kind": "eaten", "quantity": "5", "moved_on": "2024-02-05"}, "kind", "not one of"),
        ("lot_count", {"counted_on": "2024-01-01", "on_hand": "5"}, "counted_on", "came on"),
        ("lot_count", {"counted_on": "2024-02-05", "on_hand": "-1"}, "on_hand", "Write 0 or more."),
        ("lot_store", {"kind": "cold_store", "from_on": "2024-01-01"}, "from_on", "cannot be stored before"),
        (
            "lot_store",
            {"kind": "cold_store", "from_on": "2024-02-05", "until_on": "2024-02-01"},
            "until_on",
            "on or after",
        ),
    ],
)
def test_an_impossible_movement_is_refused_with_its_field(signed_in, ana, lot, name, fields, field, words):
    answer = signed_in(ana).post(address(name, lot), fields)
    assert answer.status_code == 422
    assert words in " ".join(answer.context["form"].errors[field])
    assert not (LotMovement.objects.exists() or StockTake.objects.exists() or LotStorage.objects.exists())


def test_a_stock_take_shows_the_gap_it_finds(signed_in, ana, lot):
    fields = {"counted_on": "2024-02-05", "on_hand": "990", "note": "two of us"}
    page = signed_in(ana).post(address("lot_count", lot), fields, follow=True).content.decode()
    assert "10 plants of this lot are nowhere in the records" in page
    assert ledger_of(lot).gap == 10


def test_a_lot_goes_into_store_once_and_comes_out(signed_in, ana, actor, lot):
    browser = signed_in(ana)
    browser.post(address("lot_store", lot), {"kind": "heeled_in", "from_on": "2024-02-02"})
    with pytest.raises(Refusal, match="in store already"):
        movements.begin_storage(actor=actor, lot=lot, kind="cold_store", from_on=date(2024, 2, 3))
    browser.post(address("lot_store", lot), {"until_on": "2024-02-09"})
    storage = LotStorage.objects.get()
    assert (storage.from_on, storage.until_on) == (date(2024, 2, 2), date(2024, 2, 9))
    assert acts(storage) == ["lot_storage.made", "lot_storage.edited"]


def test_a_lot_with_plants_left_is_not_put_away(actor, lot):
    with pytest.raises(Refusal, match="still on hand"):
        lots.archive_lot(actor=actor, lot=lot)
    movements.count_stock(actor=actor, lot=lot, counted_on=date(2024, 3, 1), on_hand=0)
    assert lots.archive_lot(actor=actor, lot=lot).archived_at
    assert lots.restore_lot(actor=actor, lot=lot).archived_at is None


def test_a_lot_of_another_organisation_cannot_be_moved(actor, other, oak):
    from tests import factories

    with pytest.raises(Refusal) as caught:
        movements.move(
            actor=actor, lot=factories.lot(other, oak), kind="lost", quantity=1, moved_on=date(2024, 2, 5)
        )
    assert caught.value.code == "not_ours"


def test_a_nursery_is_kept_corrected_put_away_and_brought_back(signed_in, ana, actor):
    browser = signed_in(ana)
    bad = browser.post(address("nursery_new"), {"name": "Alto", "lead_time_weeks": "ten"})
    assert "whole number" in bad.context["form"].errors["lead_time_weeks"][0]
    far = browser.post(address("nursery_new"), {"name": "Alto", "lead_time_weeks": "900"})
    assert "weeks, not days" in far.context["form"].errors["lead_time_weeks"][0]
    browser.post(address("nursery_new"), {"name": "Alto", "lead_time_weeks": "10"})
    from projects.models import Nursery

    nursery = Nursery.objects.get()
    nurseries.edit_nursery(actor=actor, nursery=nursery, lead_time_weeks=12)
    browser.post(address("nursery_archive", nursery))
    browser.post(address("nursery_archive", nursery), {"restore": "yes"})
    assert acts(nursery) == ["nursery.made", "nursery.edited", "nursery.archived", "nursery.restored"]


def test_the_page_of_a_lot_out_of_store_says_how_long(signed_in, ana, hill, lot):
    today = clocks.today_of(hill)
    StockLot.objects.filter(pk=lot.pk).update(lifted_on=today - timedelta(days=5))
    page = signed_in(ana).get(address("lot_detail", lot)).content.decode()
    assert "5 days out of store" in page
    assert "plant by" in page


@pytest.mark.parametrize("days", [(date(2024, 2, 10),), (date(2024, 2, 10), date(2024, 2, 14))])
def test_a_lot_planted_to_the_last_runs_no_clock_but_says_how_long_it_had_waited(
    signed_in, ana, hill, lot, cohort, days
):
    StockLot.objects.filter(pk=lot.pk).update(lifted_on=date(2024, 1, 30), received=500 + 100 * len(days[1:]))
    for day in days[1:]:
        PlantingDay.objects.create(
            organisation=hill, block=cohort.block, cohort=cohort, lot=lot, planted_on=day, quantity=100
        )
    LotStorage.objects.create(
        organisation=hill, lot=lot, kind="cold_store", from_on=date(2024, 2, 1), until_on=date(2024, 2, 5)
    )
    words = {1: "7 days out of store when planted", 2: "7 to 11 days out of store when planted"}[len(days)]
    for page in (address("lot_detail", lot), address("stock")):
        seen = signed_in(ana).get(page).content.decode()
        assert words in seen
        assert "Out of store since lifting" not in seen
        assert ("past the 7 it can wait" in seen) is (len(days) == 2)
    assert "Put it in store" not in signed_in(ana).get(address("lot_detail", lot)).content.decode()


def test_a_lot_moved_on_unplanted_says_that_no_clock_runs(signed_in, ana, actor, lot):
    StockLot.objects.filter(pk=lot.pk).update(lifted_on=date(2024, 1, 30))
    lot.refresh_from_db()
    movements.move(actor=actor, lot=lot, kind="moved_on", quantity=1000, moved_on=date(2024, 2, 3))
    page = signed_in(ana).get(address("lot_detail", lot)).content.decode()
    assert "Nothing of it is on hand, so no clock runs." in page
    assert "days out of store" not in page


def test_stock_of_an_invasive_species_is_refused_where_the_organisation_plants(
    signed_in, ana, site, lot_fields
):
    wattle = factories.species("acacia-dealbata")
    RangeStatus.objects.create(species=wattle, country_code="PT", status="invasive", source="common practice")
    answer = signed_in(ana).post("/o/hill/lot/new/", {**lot_fields, "species": wattle.pk})
    assert answer.status_code == 422
    assert "Acacia dealbata is invasive in PT" in answer.content.decode()
    assert not StockLot.objects.filter(code="24-200").exists()
