"""How far an order has come: parts that came, what is owed, how late, and whose word the day is."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects.calc.order_progress import Came, kept, line_progress, shared_out
from projects.models import Delivery, LotMovement, OrderLine, StockLot, StockOrder
from projects.selectors.order_progress import late_orders, standing_of, standings_of, with_lines
from projects.services import lot_splits
from tests import factories

DUE, TODAY = date(2027, 2, 8), date(2027, 2, 10)


def progress(asked=640, confirmed=None, came=(), *, status="placed", due=DUE, today=TODAY):
    return line_progress(asked, confirmed, came, status=status, due=due, today=today)


@pytest.mark.parametrize(
    ("asked", "confirmed", "came", "status", "to_come", "over", "state", "late_days"),
    [
        (640, None, [], "draft", 640, 0, "not_placed", 0),
        (640, None, [], "placed", 640, 0, "waiting", 2),
        (640, 600, [400], "confirmed", 200, 0, "partly", 2),
        (640, 600, [400, 200], "confirmed", 0, 0, "arrived", 0),
        (640, 600, [400, 240], "confirmed", 0, 40, "over", 0),
        (640, 0, [], "confirmed", 0, 0, "not_sent", 0),
        (640, 600, [400], "closed", 200, 0, "short", 0),
        (640, None, [], "cancelled", 640, 0, "short", 0),
    ],
)
def test_a_line_says_what_is_owed_and_in_what_state_it_is(
    asked, confirmed, came, status, to_come, over, state, late_days
):
    found = progress(asked, confirmed, [Came(DUE, number) for number in came], status=status)
    assert (found.to_come, found.over, found.state, found.late_days) == (to_come, over, state, late_days)


def test_the_day_itself_is_not_late_and_an_order_without_a_day_never_is():
    assert progress(today=DUE).late_days == 0
    assert progress(today=DUE + timedelta(days=1)).late_days == 1
    assert progress(due=None).late_days == 0


def test_what_was_sent_back_is_owed_again():
    found = progress(100, None, [Came(DUE, 100, returned=30)])
    assert (found.arrived, found.returned, found.to_come, found.state) == (70, 30, 30, "partly")
    assert found.whole_on is None
    shares = shared_out([Came(DUE, 350, returned=80)], {1: 300, 2: 100})
    assert shares == {1: [Came(DUE, 300, 30)], 2: [Came(DUE, 50, 50)]}  # off the line it filled last


def test_numbers_that_cannot_be_are_refused():
    for asked, confirmed, came in ((0, None, []), (5, -1, []), (5, None, [Came(DUE, -2)])):
        with pytest.raises(ValueError, match="at least 1"):
            progress(asked, confirmed, came)


parts = st.lists(
    st.builds(
        lambda day, kept_, back: Came(DUE + timedelta(days=day), kept_ + back, back),
        st.integers(-9, 9), st.integers(0, 500), st.integers(0, 80),
    ),
    max_size=6,
)  # fmt: skip


@given(parts, st.dictionaries(st.integers(1, 9), st.integers(-5, 600), min_size=1, max_size=4))
def test_sharing_parts_over_lines_loses_and_invents_none(came, room):
    found = shared_out(came, room)
    shares = [part for line in room for part in found[line]]
    assert sum(part.kept for part in shares) == sum(part.kept for part in came)
    assert sum(part.returned for part in shares) == sum(part.returned for part in came)
    *first, _last = room
    assert all(sum(part.kept for part in found[line]) <= max(0, room[line]) for line in first)


@given(parts, st.integers(1, 900), st.none() | st.integers(0, 900))
def test_asked_arrived_and_owed_always_add_up(came, asked, confirmed):
    found = progress(asked, confirmed, came)
    assert found.arrived + found.to_come - found.over == found.expected
    assert 0 in (found.to_come, found.over)
    assert (found.whole_on is not None) == (found.expected > 0 and found.to_come == 0)


def test_an_order_was_kept_late_or_not_yet_known():
    early, late = Came(DUE - timedelta(days=3), 60), Came(DUE + timedelta(days=4), 40)
    whole = [progress(100, None, [early, late])]
    assert kept(whole, status="closed", due=DUE, today=TODAY).late_days == 4
    only_extra_is_late = [progress(60, None, [early, late])]
    assert kept(only_extra_is_late, status="placed", due=DUE, today=TODAY).is_in_time
    owed = [progress(100, None, [early])]
    assert kept(owed, status="placed", due=DUE, today=DUE) is None
    still = kept(owed, status="placed", due=DUE, today=TODAY)
    assert (still.is_whole, still.late_days, still.missing) == (False, 2, 40)
    given_up = kept(owed, status="closed", due=DUE, today=TODAY)
    assert (given_up.is_whole, given_up.late_days, given_up.missing) == (False, 0, 40)
    assert kept([progress(100, 0, [])], status="closed", due=DUE, today=TODAY) is None
    assert kept(whole, status="cancelled", due=DUE, today=TODAY) is None


@pytest.fixture
def order(hill, project, oak, block):
    row = StockOrder.objects.create(
        organisation=hill, project=project, status="placed", needed_by=DUE, promised_on=date(2027, 2, 5)
    )
    for quantity in (300, 100):
        OrderLine.objects.create(
            organisation=hill, order=row, species=oak, stock_type="bare_root", quantity=quantity
        )
    return row


def lot_of(order, species, code, **fields):
    nursery = (
        fields.pop("nursery", None) or factories.lot(order.organisation, species, code=f"n{code}").nursery
    )
    return StockLot.objects.create(
        organisation=order.organisation, code=code, nursery=nursery, species=species, unit="tree",
        received_on=date(2027, 2, 4), **({"stock_type": "bare_root", "received": 100} | fields),
    )  # fmt: skip


def test_lots_count_for_their_line_and_the_others_of_a_delivery_for_lines_that_want_them(order, oak, hill):
    _first, second = order.lines.all()
    named = lot_of(order, oak, "1", order_line=second, received=60)
    delivery = Delivery.objects.create(
        organisation=hill, order=order, nursery=named.nursery, delivered_on=date(2027, 2, 4)
    )
    lot_of(order, oak, "2", delivery=delivery, received=320, nursery=named.nursery)
    birch = factories.species("betula-pendula")
    stranger = lot_of(order, birch, "3", delivery=delivery, nursery=named.nursery)
    split = lot_of(order, oak, "4", delivery=delivery, received=0, nursery=named.nursery)
    standing = standing_of(order, TODAY)
    assert [row.progress.arrived for row in standing.lines] == [300, 80]
    assert (standing.to_come, standing.late_days, standing.is_promise) == (20, 5, True)
    assert standing.unasked == (stranger,)
    assert split not in [came.lot for row in standing.lines for came in row.lots]
    LotMovement.objects.create(
        organisation=hill, lot=named, kind="returned", quantity=10, moved_on=date(2027, 2, 6)
    )
    LotMovement.objects.create(
        organisation=hill, lot=named, kind="culled", quantity=10, moved_on=date(2027, 2, 6)
    )
    assert standing_of(order, TODAY).to_come == 30  # sent back is owed again, culled is not


def test_what_was_split_off_before_it_went_back_is_owed_again_too(actor, order, oak, hill):
    """Unfit plants are put into a lot of their own and that one goes back: it never came in as a lot itself."""
    second = order.lines.last()
    named = lot_of(order, oak, "1", order_line=second, received=60)
    again = lot_of(order, oak, "2", order_line=second, received=40, nursery=named.nursery)
    delivery = Delivery.objects.create(
        organisation=hill, order=order, nursery=named.nursery, delivered_on=date(2027, 2, 4)
    )
    loose = lot_of(order, oak, "3", delivery=delivery, received=300, nursery=named.nursery)
    StockLot.objects.update(received_on=date(2024, 2, 4))
    day = {"moved_on": date(2024, 2, 6)}
    assert standing_of(order, TODAY).to_come == 0
    for lot, quantity in ((named, 25), (loose, 80)):
        lot.refresh_from_db()
        split = lot_splits.split_lot(actor=actor, lot=lot, quantity=quantity, code=f"{lot.code}-bad", **day)
        deeper = lot_splits.split_lot(actor=actor, lot=split, quantity=5, code=f"{lot.code}-worse", **day)
        for part, plants in ((split, quantity - 5), (deeper, 5)):
            LotMovement.objects.create(organisation=hill, lot=part, kind="returned", quantity=plants, **day)
    standing = standing_of(order, TODAY)
    assert [(row.progress.arrived, row.progress.returned) for row in standing.lines] == [(220, 80), (75, 25)]
    assert (standing.to_come, standing.is_late) == (105, True)
    LotMovement.objects.create(organisation=hill, lot=again, kind="returned", quantity=40, **day)
    assert standing_of(order, TODAY).lines[1].progress.arrived == 35  # taken off the other lot of the line


def test_a_substitute_counts_and_says_that_somebody_must_agree(order, hill):
    line = order.lines.first()
    birch = factories.species("betula-pendula")
    lot_of(order, birch, "9", order_line=line, received=50)
    row = standing_of(order, TODAY).lines[0]
    assert (row.progress.arrived, row.lots[0].fit.verdict, row.lots[0].needs_a_word) == (50, "ask", True)


def test_late_orders_are_those_past_their_promise_with_something_owed(order, hill, oak, project):
    def late(today=TODAY):
        return [(row.order.pk, row.due_on, row.to_come) for row in late_orders(hill, today)]

    assert late() == [(order.pk, date(2027, 2, 5), 400)]
    assert late(date(2027, 2, 5)) == []
    StockOrder.objects.filter(pk=order.pk).update(promised_on=None)
    assert late(DUE) == []
    assert late() == [(order.pk, DUE, 400)]
    StockOrder.objects.filter(pk=order.pk).update(status="draft")
    assert late() == []
    StockOrder.objects.filter(pk=order.pk).update(status="confirmed", promised_on=date(2027, 3, 1))
    assert late() == []  # needed by then, and promised for later: the promise is what it is held to


def test_many_orders_are_read_in_as_many_queries_as_one(order, hill, project, oak, django_assert_num_queries):
    for n in range(3):
        row = StockOrder.objects.create(organisation=hill, project=project, status="placed")
        line = OrderLine.objects.create(
            organisation=hill, order=row, species=oak, stock_type="bare_root", quantity=9
        )
        lot_of(row, oak, f"q{n}", order_line=line)
    with django_assert_num_queries(6):
        rows = standings_of(with_lines(StockOrder.objects.filter(organisation=hill)), TODAY)
        assert [row.to_come for row in rows] == [0, 0, 0, 400]
