"""A phone's records and the desk at the same ground and lots in the same moment: nobody waits crosswise."""

import json
import time
from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from projects import clocks
from projects.models import CrewDay, OrderLine, PlantingDay, PlantingWindow, StockOrder, Walk
from projects.services import chain, editing, log, movements, planting
from projects.services import crew_day_closing as closing
from projects.services import reminder_rows as rows
from tests import factories
from tests.field_log.test_at_once import together, words
from tests.stock.crew_rows import crew_day, evening, with_lot

pytestmark = pytest.mark.django_db(transaction=True)
PAUSE_S = 0.15  # long enough for the other thread to take its first lock


@pytest.fixture
def winter(transactional_db, hill, block):
    return factories.season(hill, "planting", year=2024)


def walk_item(block):
    now = timezone.now()
    told = {
        "block": str(block.uid),
        "walked_on": now.date().isoformat(),
        "recorded_at": now.isoformat(),
        "signs": [],
    }
    body = json.dumps(told)
    return log.Item(uuid4(), "walk", "walk/1", chain.sha256_text(body), body)


def slow_after(monkeypatch, module, name, applies):
    """Let a function pause after its work where `applies` says so of what it was called with."""
    real = getattr(module, name)

    def paused(*args, **options):
        found = real(*args, **options)
        if applies(*args):
            time.sleep(PAUSE_S)
        return found

    monkeypatch.setattr(module, name, paused)


@pytest.fixture
def pausing_at_the_block(monkeypatch):
    slow_after(monkeypatch, editing, "held", lambda row: row._meta.model_name == "block")
    slow_after(monkeypatch, chain, "locked_head", lambda organisation: True)


@pytest.mark.usefixtures("pausing_at_the_block")
def test_a_walk_comes_in_while_a_planting_day_of_its_block_is_entered(actor, block, lot, winter):
    planted, walked = together(
        lambda: planting.plant(actor=actor, block=block, lot=lot, planted_on=date(2024, 2, 10), quantity=5),
        lambda: log.append_items(actor, [walk_item(block)]),
    )
    assert isinstance(planted, PlantingDay), planted
    assert words([walked]) == ["stored"]
    assert Walk.objects.count() == 1


@pytest.mark.usefixtures("pausing_at_the_block")
def test_a_walk_comes_in_while_a_crew_day_of_its_block_is_closed(actor, hill, block, lot, oak, winter):
    day = crew_day(actor, block)
    rows_ = [with_lot(actor, day, lot), with_lot(actor, day, factories.lot(hill, oak))]
    told = [evening(rows_[0], lost=2), evening(rows_[1], planted=5)]
    closed, walked = together(
        lambda: closing.close_day(actor=actor, crew_day=day, lots=told),
        lambda: log.append_items(actor, [walk_item(block)]),
    )
    assert isinstance(closed, CrewDay), closed
    assert words([walked]) == ["stored"]


@pytest.fixture
def waited_for(hill, project, block, oak):
    """Two lots ordered for a block whose window closes soon, so that what becomes of either is told of it."""
    today = clocks.today_of(hill)
    PlantingWindow.objects.create(
        organisation=hill, block=block, stock_type="bare_root", opens_on=date(2023, 11, 1),
        closes_on=today + timedelta(days=5),
    )  # fmt: skip
    order = StockOrder.objects.create(organisation=hill, project=project, status="placed")
    line = OrderLine.objects.create(
        organisation=hill, order=order, block=block, species=oak, stock_type="bare_root", quantity=3000
    )
    lots = [factories.lot(hill, oak, stock_type="bare_root", lifted_on=date(2024, 1, 30)) for _n in range(2)]
    for one in lots:
        type(one).objects.filter(pk=one.pk).update(order_line=line)
        one.refresh_from_db()
    return lots


def test_lots_of_one_window_are_planted_and_moved_at_once(
    actor, hill, block, winter, waited_for, monkeypatch
):
    first, second = waited_for
    rows.renew(hill)
    day = crew_day(actor, block)
    taken = [with_lot(actor, day, first), with_lot(actor, day, second)]
    slow_after(monkeypatch, rows, "_write", lambda *args: True)

    def lose(one):
        return lambda: movements.move(
            actor=actor, lot=one, kind="lost", quantity=3, moved_on=date(2024, 2, 10)
        )

    answers = together(
        lambda: closing.close_day(actor=actor, crew_day=day, lots=[evening(row, planted=5) for row in taken]),
        lambda: planting.plant(actor=actor, block=block, lot=first, planted_on=date(2024, 2, 9), quantity=5),
        lose(first),
        lose(second),
    )
    assert [one for one in answers if isinstance(one, Exception)] == []
