"""Random histories of lots against a model that moves plants about one night and one act at a time.

The model knows what the records cannot: plants that vanish unseen. A ledger has to report exactly those that a count
could have shown, and over a family of lots everything received has to be somewhere.
"""

from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects.calc.ledger import OUTWARD, Arrival, Count, Event, lot_ledger
from projects.calc.lot_clock import Past, Span, family_clock
from projects.errors import Refusal
from projects.identifiers import uuid7
from projects.models import LotMovement, PlantingDay, StockLot
from projects.selectors.ledgers import clocks_of, ledgers_of
from projects.selectors.lot_family import family
from projects.services import giving_out, lot_splits, movements, planting, receiving
from projects.services.receiving import Arrived
from tests import factories

START = date(2024, 2, 1)


@dataclass
class Yard:
    """What is truly there: plants of each lot, and how many nights each group of them spent out of store."""

    received: list[int] = field(default_factory=list)
    here: list[int] = field(default_factory=list)
    nights: list[set[int]] = field(default_factory=list)  # of the groups in a lot, nights out so far
    stored: list[bool] = field(default_factory=list)
    unseen: list[int] = field(default_factory=list)  # vanished and not yet missed by a count
    missed: list[int] = field(default_factory=list)

    def add(self, number, nights=frozenset({0}), stored=False, own=True):
        self.received.append(number if own else 0)
        self.here.append(number)
        self.nights.append(set(nights))
        self.stored.append(stored)
        self.unseen.append(0)
        self.missed.append(0)
        return len(self.here) - 1

    def sleep(self):
        for at, groups in enumerate(self.nights):
            if not self.stored[at]:
                self.nights[at] = {nights + 1 for nights in groups}

    def count(self, at):
        """A count sees what is there; what vanished before it is missed from now on."""
        self.missed[at] += self.unseen[at]
        self.unseen[at] = 0
        return self.here[at]


acts = st.lists(
    st.tuples(
        st.sampled_from(
            ["receive", "split", "merge", "over", "out", "vanish", "count", "night", "store", "night", "out"]
        ),
        st.integers(0, 30), st.integers(0, 30), st.sampled_from(OUTWARD), st.floats(0, 1),
    ),
    min_size=20,
    max_size=45,
)  # fmt: skip


@dataclass
class Records:
    """What people wrote down of one lot."""

    begun: date
    events: list[Event] = field(default_factory=list)
    arrivals: list[Arrival] = field(default_factory=list)
    counts: list[Count] = field(default_factory=list)
    spans: list[Span] = field(default_factory=list)
    came: list[tuple[int, date]] = field(default_factory=list)


def play(told):
    """Act a history out in the yard, and write its records as people would."""
    yard, records, day = Yard(), [Records(START)], START
    yard.add(500)
    for act, first, second, kind, share in told:
        one, other = first % len(records), second % len(records)
        some = int(share * yard.here[one])
        if act == "receive":
            records.append(Records(day))
            yard.add(1 + int(500 * share))
        elif act == "split" and some:
            child = yard.add(some, yard.nights[one], yard.stored[one], own=False)
            records.append(Records(day, arrivals=[Arrival(some, day)], came=[(one, day)]))
            if yard.stored[one]:
                records[child].spans.append(Span(day))
            records[one].events.append(Event("moved_on", some, day))
            yard.here[one] -= some
        elif act == "merge" and one != other and some and yard.here[other]:
            rest = yard.here[other]
            stored = yard.stored[one] and yard.stored[other]
            child = yard.add(some + rest, yard.nights[one] | yard.nights[other], stored, own=False)
            records.append(
                Records(
                    day, arrivals=[Arrival(some, day), Arrival(rest, day)], came=[(one, day), (other, day)]
                )
            )
            if stored:
                records[child].spans.append(Span(day))
            for lot, number in ((one, some), (other, rest)):
                records[lot].events.append(Event("moved_on", number, day))
                yard.here[lot] -= number
        elif act == "over" and one < other and some:  # into a lot that is there already, never back up
            records[one].events.append(Event("moved_on", some, day))
            records[other].arrivals.append(Arrival(some, day))
            records[other].came.append((one, day))
            yard.here[one] -= some
            yard.here[other] += some
            yard.nights[other] |= yard.nights[one]
        elif act == "out" and some:
            records[one].events.append(Event(kind, some, day))
            yard.here[one] -= some
        elif act == "vanish":
            yard.here[one] -= some
            yard.unseen[one] += some
        elif act == "count":
            records[one].counts.append(Count(day, yard.count(one)))
            day += timedelta(days=1)  # a count is of the end of its day
            yard.sleep()
        elif act == "night":
            day += timedelta(days=1)
            yard.sleep()
        elif act == "store":
            spans = records[one].spans
            if yard.stored[one]:
                spans[-1] = Span(spans[-1].from_on, day)
            else:
                spans.append(Span(day))
            yard.stored[one] = not yard.stored[one]
    return yard, records, day


@given(acts)
def test_each_ledger_shows_what_a_count_missed_and_a_family_adds_up(told):
    yard, records, _day = play(told)
    ledgers = [
        lot_ledger(yard.received[at], row.events, row.counts, row.arrivals) for at, row in enumerate(records)
    ]
    for at, ledger in enumerate(ledgers):
        assert ledger.gap == yard.missed[at]
        assert ledger.at_hand == yard.here[at] + yard.unseen[at]
        placed = sum(getattr(ledger, kind) for kind in OUTWARD)
        assert ledger.received == placed + ledger.at_hand + ledger.gap
    went_over = sum(ledger.came_over for ledger in ledgers)
    placed = sum(getattr(ledger, kind) for ledger in ledgers for kind in OUTWARD) - went_over
    assert sum(yard.received) == placed + sum(ledger.at_hand + ledger.gap for ledger in ledgers)


@given(acts)
def test_each_clock_is_that_of_the_plants_that_slept_out_longest(told):
    yard, records, day = play(told)
    pasts = {
        at: Past(
            yard.received[at] > 0, row.begun if yard.received[at] else None, tuple(row.spans), tuple(row.came)
        )
        for at, row in enumerate(records)
    }
    for at, row in enumerate(records):
        clock = family_clock(pasts, at, on=day, limit_days=7)
        assert clock.days_out == max(yard.nights[at])
        assert clock.in_store == yard.stored[at]
        for parent, moved_on in row.came:
            assert clock.days_out >= family_clock(pasts, parent, on=moved_on, limit_days=7).days_out


def test_lots_that_came_of_each_other_have_no_clock_and_end():
    ring = {1: Past(False, None, (), ((2, START),)), 2: Past(False, None, (), ((1, START),))}
    assert family_clock(ring, 1, on=START, limit_days=7) is None


class Books:
    """Random acts of people through the services, and beside them what each lot should hold."""

    def __init__(self, seed, actor, block, holdings, oak, nursery):
        self.random, self.actor, self.block, self.holdings = Random(seed), actor, block, holdings
        self.oak, self.nursery = oak, nursery
        self.lots, self.left, self.own, self.undo = [], {}, {}, []

    def receive(self):
        number, code = self.random.randint(1, 300), f"r{len(self.lots)}"
        arrived = [Arrived(code, number, self.oak, "bare_root", lifted_on=START)]
        got = receiving.receive_delivery(
            actor=self.actor, nursery=self.nursery, delivered_on=START, arrived=arrived, note_number=code
        )
        self._new(got.made[0], number, number)

    def _new(self, lot, number, own):
        self.lots.append(lot)
        self.left[lot.pk], self.own[lot.pk] = number, own

    def pick(self):
        lot = self.random.choice(self.lots)
        here = max(0, self.left[lot.pk])
        return lot, self.random.randint(1, max(1, here))

    def split(self):
        lot, number = self.pick()
        code = f"s{len(self.lots)}"
        child = lot_splits.split_lot(actor=self.actor, lot=lot, quantity=number, moved_on=START, code=code)
        self.left[lot.pk] -= number
        self._new(child, number, 0)

    def merge(self):
        (one, some), (other, rest) = self.pick(), self.pick()
        child = lot_splits.merge_lots(
            actor=self.actor, parts=[(one, some), (other, rest)], moved_on=START, code=f"m{len(self.lots)}"
        )
        self.left[one.pk] -= some
        self.left[other.pk] -= rest
        self._new(child, some + rest, 0)

    def plant(self):
        lot, number = self.pick()
        number += self.random.choice([0, 0, 7])  # now and then more than there is
        day = planting.plant(actor=self.actor, block=self.block, lot=lot, planted_on=START, quantity=number)
        self.left[lot.pk] -= number
        self.undo.append((lot, number, planting.void_planting_day, {"day": day}))

    def move(self):
        lot, number = self.pick()
        kind = self.random.choice(["culled", "returned", "lost", "moved_on"])
        row = movements.move(actor=self.actor, lot=lot, kind=kind, quantity=number, moved_on=START)
        self.left[lot.pk] -= number
        self.undo.append((lot, number, movements.void_movement, {"movement": row}))

    def give(self):
        lot, number = self.pick()
        shares = [(self.holdings[0], number), (self.holdings[1], 0)]
        giving_out.give_out(
            actor=self.actor,
            lot=lot,
            block=self.holdings[0].block,
            moved_on=START,
            shares=shares,
            form=uuid7(),
        )
        self.left[lot.pk] -= number

    def void(self):
        if self.undo:
            lot, number, act, what = self.undo.pop(self.random.randrange(len(self.undo)))
            act(actor=self.actor, reason="By mistake.", **what)
            self.left[lot.pk] += number

    def unsplit(self):
        steps = list(LotMovement.objects.filter(to_lot__isnull=False, voided_at__isnull=True).order_by("id"))
        if not steps:
            return
        step = self.random.choice(steps)
        movements.void_movement(actor=self.actor, movement=step, reason="By mistake.")
        self.left[step.lot_id] += step.quantity
        self.left[step.to_lot_id] -= step.quantity


@pytest.mark.parametrize("seed", range(2))
def test_the_books_kept_by_the_services_balance_whatever_people_do(
    seed, actor, hill, project, site, block, oak, nursery
):
    factories.season(hill, "planting", year=2024)
    farms = factories.block(hill, project, site, name="Farms", layout="holdings")
    holdings = [
        farms.holdings.create(organisation=hill, label=f"Farm {n}", trees_received=0) for n in range(2)
    ]
    books = Books(seed, actor, block, holdings, oak, nursery)
    books.receive()
    acts = [
        books.receive, books.split, books.split, books.merge, books.plant, books.move, books.give, books.void,
        books.unsplit,
    ]  # fmt: skip
    for _ in range(28):
        try:
            books.random.choice(acts)()
        except Refusal:
            continue
    lots = list(StockLot.objects.all())
    ledgers = ledgers_of(lots)
    for lot in lots:
        ledger, left = ledgers[lot.pk], books.left[lot.pk]
        assert (ledger.at_hand, ledger.gap) == (max(0, left), min(0, left))
        assert ledger.received - ledger.came_over == books.own[lot.pk]
    out = sum(PlantingDay.objects.filter(voided_at=None).values_list("quantity", flat=True)) + sum(
        LotMovement.objects.filter(voided_at=None, to_lot=None).values_list("quantity", flat=True)
    )
    assert sum(books.own.values()) == out + sum(books.left.values())
    kin, clocks = family(lots), clocks_of(lots)
    for lot in lots:
        assert lot.pk not in kin.ancestors(lot.pk)
        assert clocks.on(lot, START + timedelta(days=4)).days_out == 4
