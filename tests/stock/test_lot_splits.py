"""Lots split and merged keep their parents: numbers, clock, store and papers."""

from datetime import date

import pytest

from projects import access
from projects.errors import Refusal
from projects.models import CrewDay, CrewDayLot, Delivery, LotMovement, OrderLine, StockLot, StockOrder
from projects.selectors.ledgers import clocks_of, ledger_of, standings
from projects.selectors.lot_family import family
from projects.services import lot_checks, lot_splits, lots, movements
from projects.services.planting import ordered_to_replace
from tests import factories

DAY = date(2024, 2, 10)


@pytest.fixture
def stored(hill, oak, lot):
    """The lot, lifted on 30 January and in cold store from 2 to 8 February: 5 nights out by the 10th."""
    StockLot.objects.filter(pk=lot.pk).update(lifted_on=date(2024, 1, 30))
    lot.refresh_from_db()
    lot.storages.create(
        organisation=hill, kind="cold_store", from_on=date(2024, 2, 2), until_on=date(2024, 2, 8)
    )
    return lot


def split(actor, lot, quantity=300, **more):
    told = {"moved_on": DAY, "code": lot_splits.suggested_code(lot)} | more
    return lot_splits.split_lot(actor=actor, lot=lot, quantity=quantity, **told)


def out(lot, day):
    clock = clocks_of([lot]).on(lot, day)
    return None if clock is None else clock.days_out


def test_a_split_takes_plants_along_with_their_clock_and_origin(actor, stored):
    child = split(actor, stored)
    assert child.code == "24-117-a"
    assert (child.received, ledger_of(child).received, ledger_of(child).came_over) == (0, 300, 300)
    assert (ledger_of(stored).moved_on, ledger_of(stored).at_hand) == (300, 700)
    assert (child.nursery, child.species, child.lifted_on) == (
        stored.nursery,
        stored.species,
        stored.lifted_on,
    )
    assert (out(stored, date(2024, 2, 12)), out(child, date(2024, 2, 12))) == (7, 7)
    assert split(actor, child, 100).code == "24-117-a-a"
    assert split(actor, stored, 1).code == "24-117-b"


def test_a_parent_corrected_later_makes_its_children_as_old(actor, hill, stored):
    grandchild = split(actor, split(actor, stored), 100)
    lots.edit_lot(actor=actor, lot=stored, lifted_on=date(2024, 1, 27))
    grandchild.refresh_from_db()
    assert grandchild.lifted_on == date(2024, 1, 27)
    assert out(grandchild, DAY) == 8
    stored.storages.all().delete()
    assert out(grandchild, DAY) == 14


def test_what_happens_to_the_parent_later_does_not_touch_the_child(actor, stored):
    child = split(actor, stored)
    movements.begin_storage(
        actor=actor, lot=stored, kind="heeled_in", from_on=DAY, until_on=date(2024, 2, 20)
    )
    assert (out(stored, date(2024, 2, 20)), out(child, date(2024, 2, 20))) == (5, 15)


def test_plants_split_off_in_store_are_still_in_store(actor, stored):
    stored.storages.update(until_on=None)
    child = split(actor, stored)
    (span,) = child.storages.all()
    assert (span.kind, span.from_on, span.until_on) == ("cold_store", DAY, None)
    assert standings([child], date(2024, 2, 20))[0].clock.in_store
    assert out(child, date(2024, 2, 20)) == 3


@pytest.fixture
def fresh(hill, stored, oak):
    """A lot of the same nursery and species, lifted on 6 February: 4 nights out by the 10th."""
    return factories.lot(
        hill,
        oak,
        nursery=stored.nursery,
        lifted_on=date(2024, 2, 6),
        received_on=date(2024, 2, 7),
        received=500,
    )


def test_a_merge_is_as_old_as_its_longest_waiting_plants(actor, stored, fresh):
    child = lot_splits.merge_lots(actor=actor, parts=[(fresh, 500), (stored, 200)], moved_on=DAY, code="M")
    assert child.lifted_on == date(2024, 1, 30)
    assert (out(stored, DAY), out(fresh, DAY), out(child, DAY)) == (5, 4, 5)
    assert ledger_of(child).received == 700
    assert set(family([child]).roots(child.pk)) == {stored.pk, fresh.pk}
    assert family([fresh]).descendants(fresh.pk) == [child.pk]


def test_the_page_of_a_merge_says_whose_days_it_tells(signed_in, ana, actor, stored, fresh):
    merged = lot_splits.merge_lots(actor=actor, parts=[(fresh, 50), (stored, 20)], moved_on=DAY, code="M")
    for lot, is_told in ((merged, True), (split(actor, stored), False), (stored, False)):
        page = signed_in(ana).get(f"/o/hill/lot/{lot.uid}/").content.decode()
        assert ("the days are those of the plants that were out longest" in page) is is_told


@pytest.mark.parametrize("both", [False, True])
def test_a_merge_is_in_store_only_where_all_its_plants_were(actor, hill, stored, fresh, both):
    stored.storages.update(until_on=None)
    if both:
        span = {"from_on": date(2024, 2, 9), "until_on": date(2024, 2, 14)}
        fresh.storages.create(organisation=hill, kind="heeled_in", **span)
    child = lot_splits.merge_lots(actor=actor, parts=[(fresh, 5), (stored, 5)], moved_on=DAY, code="M")
    assert [span.until_on for span in child.storages.all()] == ([date(2024, 2, 14)] if both else [])


def test_a_merge_with_plants_of_unknown_lifting_has_no_clock(actor, stored, fresh):
    StockLot.objects.filter(pk=fresh.pk).update(lifted_on=None)
    child = lot_splits.merge_lots(actor=actor, parts=[(fresh, 5), (stored, 5)], moved_on=DAY, code="M")
    assert child.lifted_on is None
    assert out(child, DAY) is None


def test_only_what_all_parents_share_is_kept_of_them(actor, hill, stored, fresh):
    StockLot.objects.filter(pk=stored.pk).update(provenance="Alto", certificate="C1", unit_cost_minor=50)
    StockLot.objects.filter(pk=fresh.pk).update(provenance="Alto", certificate="C2", unit_cost_minor=80)
    child = lot_splits.merge_lots(actor=actor, parts=[(fresh, 100), (stored, 200)], moved_on=DAY, code="M")
    assert (child.provenance, child.certificate, child.unit_cost_minor) == ("Alto", "", 60)


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"quantity": 0}, "quantity"),
        ({"quantity": 1001}, "quantity"),
        ({"moved_on": date(2024, 1, 31)}, "moved_on"),
        ({"moved_on": date(2999, 1, 1)}, "moved_on"),
        ({"code": "24-117"}, "code"),
        ({"code": " "}, "code"),
    ],
)
def test_a_split_that_cannot_be_is_refused_where_it_is_wrong(actor, stored, told, field):
    with pytest.raises(Refusal) as caught:
        split(actor, stored, **told)
    assert caught.value.field == field
    assert StockLot.objects.count() == 1 and not LotMovement.objects.exists()


@pytest.mark.parametrize(
    "differs", [{"stock_type": "container"}, {"nursery": None}, {"archived_at": "2024-03-01T00:00Z"}]
)
def test_lots_that_differ_stay_apart(actor, hill, oak, stored, differs):
    other = factories.lot(hill, oak, **{"nursery": stored.nursery} | differs)
    with pytest.raises(Refusal) as caught:
        lot_splits.merge_lots(actor=actor, parts=[(stored, 5), (other, 5)], moved_on=DAY, code="M")
    assert caught.value.field == "lots"
    with pytest.raises(Refusal):
        lot_splits.merge_lots(actor=actor, parts=[(stored, 5), (stored, 5)], moved_on=DAY, code="M")


def test_a_split_is_taken_back_while_nothing_left_the_child(actor, block, stored):
    child = split(actor, stored)
    step = child.came_over.get()
    culled = movements.move(actor=actor, lot=child, kind="culled", quantity=3, moved_on=DAY)
    with pytest.raises(Refusal, match="Plants have left lot 24-117-a"):
        movements.void_movement(actor=actor, movement=step, reason="Never split.")
    movements.void_movement(actor=actor, movement=culled, reason="Not culled.")
    movements.void_movement(actor=actor, movement=step, reason="Never split.")
    child.refresh_from_db()
    assert child.archived_at is not None
    assert (ledger_of(stored).at_hand, ledger_of(child).received) == (1000, 0)
    assert family([stored]).descendants(stored.pk) == []


def test_a_lot_with_kin_keeps_its_species_and_a_child_its_lifting_day(actor, stored):
    child = split(actor, stored)
    for lot in (stored, child):
        with pytest.raises(Refusal) as caught:
            lots.edit_lot(actor=actor, lot=lot, species=factories.species("betula-pubescens"))
        assert caught.value.field == "species"
    with pytest.raises(Refusal) as caught:
        lots.edit_lot(actor=actor, lot=child, lifted_on=DAY)
    assert caught.value.field == "lifted_on"
    assert lots.edit_lot(actor=actor, lot=child, received=0, note="Box 7").note == "Box 7"


def test_what_came_over_after_a_count_is_added_to_it(actor, hill, stored):
    child = split(actor, stored, 100)
    movements.count_stock(actor=actor, lot=child, counted_on=date(2024, 2, 11), on_hand=98)
    LotMovement.objects.create(
        organisation=hill, lot=stored, kind="moved_on", quantity=50, moved_on=date(2024, 2, 12), to_lot=child
    )
    ledger = ledger_of(child)
    assert (ledger.received, ledger.on_hand, ledger.gap) == (150, 148, 2)


def test_a_family_is_read_with_a_query_a_generation(actor, stored, django_assert_num_queries):
    child = split(actor, stored)
    for _ in range(3):
        split(actor, child, 10)
    with django_assert_num_queries(4):  # up: none above; down: children, grandchildren, none below
        kin = family([stored])
    assert len(kin.descendants(stored.pk)) == 4
    assert sum(step.quantity for step in kin.parents[child.pk]) == 300


@pytest.mark.parametrize(
    "others", [["hold"], ["accept", "hold"], ["hold", "reject"], ["reject", "accept"], []]
)
def test_what_was_held_or_rejected_stays_so_under_another_code(actor, stored, fresh, others):
    """The last look at each parent counts, the gravest of them goes along."""
    for verdict in others:
        told = {"root_condition": "moist", "because": "as seen"}
        lot_checks.add_check(actor=actor, lot=stored, point="arrival", verdict=verdict, **told)
    lot_checks.add_check(
        actor=actor, lot=fresh, point="arrival", verdict="accept", root_condition="moist", because="x"
    )
    child = lot_splits.merge_lots(actor=actor, parts=[(fresh, 5), (stored, 5)], moved_on=DAY, code="M")
    wanted = others[-1] if others and others[-1] != "accept" else ""
    assert standings([child], DAY)[0].verdict == wanted
    if wanted:
        assert child.checks.get().because == "as lot 24-117: as seen"


def test_a_lot_split_off_replaces_what_its_order_names(actor, hill, project, block, cohort, stored, fresh):
    """Split off, and put together with another of the same order; not where only one of two was ordered for it."""
    order = StockOrder.objects.create(
        organisation=hill,
        project=project,
        copied_figures={"block": str(block.uid), "replaces": {"": str(cohort.uid)}},
    )
    for n, lot in enumerate((stored, fresh)):
        lot.delivery = Delivery.objects.create(
            organisation=hill, order=order, nursery=lot.nursery, delivered_on=DAY, note_number=str(n)
        )
        lot.save()
    child = split(actor, stored)
    both = lot_splits.merge_lots(actor=actor, parts=[(child, 5), (fresh, 5)], moved_on=DAY, code="M")
    assert both.delivery is None
    for lot in (stored, child, both):
        assert ordered_to_replace(block, lot) == cohort
    fresh.delivery = None
    fresh.save()
    assert ordered_to_replace(block, both) is None


def test_a_lead_of_one_project_sees_what_was_put_together_from_its_lots(actor, hill, project, stored, fresh):
    order = StockOrder.objects.create(organisation=hill, project=project)
    stored.delivery = Delivery.objects.create(
        organisation=hill, order=order, nursery=stored.nursery, delivered_on=DAY
    )
    stored.save()
    lead = access.member_actor(factories.member(hill, "field_lead", projects=[project]))
    child = lot_splits.merge_lots(actor=actor, parts=[(stored, 5), (fresh, 5)], moved_on=DAY, code="M")
    assert set(access.visible_lots(lead)) == {stored, child}


def test_a_lead_of_one_project_sees_what_came_for_its_orders_without_a_delivery(
    actor, hill, project, stored, fresh
):
    order = StockOrder.objects.create(organisation=hill, project=project)
    stored.order_line = OrderLine.objects.create(
        organisation=hill, order=order, species=stored.species, stock_type=stored.stock_type, quantity=100
    )
    stored.save()
    lead = access.member_actor(factories.member(hill, "field_lead", projects=[project]))
    assert set(access.visible_lots(lead)) == {stored}


def test_a_lead_of_one_project_sees_what_a_crew_of_theirs_takes_along(hill, project, block, stored, fresh):
    day = CrewDay.objects.create(organisation=hill, block=block, day=DAY)
    CrewDayLot.objects.create(organisation=hill, crew_day=day, lot=fresh, planned=5)
    lead = access.member_actor(factories.member(hill, "field_lead", projects=[project]))
    assert set(access.visible_lots(lead)) == {fresh}
