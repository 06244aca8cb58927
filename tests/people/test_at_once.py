"""Two people press at the same moment, each on a connection of their own."""

import threading
from datetime import date

import pytest
from django.db import connection

from projects.errors import Refusal
from projects.models import Cohort, Membership, PlantingDay, StockOrder
from projects.services import orders, people, planting
from tests import factories

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.skipif(connection.vendor != "postgresql", reason="needs PostgreSQL: row locks are its own"),
    pytest.mark.django_db(transaction=True),
]


def at_once(*acts):
    """Run acts in threads that start together; return what each gave, a refusal's code among them."""
    gate, given = threading.Barrier(len(acts)), [None] * len(acts)

    def run(place, act):
        gate.wait()
        try:
            given[place] = act()
        except Refusal as refusal:
            given[place] = refusal.code
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return given


def test_two_managers_who_let_each_other_go_leave_one(hill, ana, actor):
    bea = factories.member(hill, "manager")
    given = at_once(
        lambda: people.end_membership(actor=actor, membership=bea),
        lambda: people.end_membership(actor=actor, membership=ana),
    )
    assert given.count("last_manager") == 1
    assert Membership.objects.filter(organisation=hill, role="manager", ended_at__isnull=True).count() == 1


def test_two_first_planting_days_become_one_cohort(hill, actor, block, lot):
    factories.season(hill, year=2024)

    def plant():
        return planting.plant(actor=actor, block=block, lot=lot, planted_on=date(2024, 2, 10), quantity=10)

    at_once(*[plant] * 4)
    assert (Cohort.objects.count(), PlantingDay.objects.count()) == (1, 4)


def test_an_order_pressed_twice_is_placed_once(actor, project, oak, lot):
    order = orders.draft_order(
        actor=actor, project=project, nursery=lot.nursery, lines=[orders.Line(oak, "bare_root", 5)]
    )
    given = at_once(*[lambda: orders.place_order(actor=actor, order=StockOrder.objects.get(pk=order.pk))] * 3)
    assert sum(isinstance(each, StockOrder) for each in given) == 1
    assert {each for each in given if isinstance(each, str)} <= {"not_a_draft", "changed_meanwhile"}


def test_a_nurserys_answer_written_by_two_people_is_written_once(actor, project, oak, lot):
    order = orders.place_order(
        actor=actor,
        order=orders.draft_order(
            actor=actor, project=project, nursery=lot.nursery, lines=[orders.Line(oak, "bare_root", 5)]
        ),
    )
    line = order.lines.get()
    seen = [(StockOrder.objects.get(pk=order.pk), number) for number in (3, 4)]
    given = at_once(
        *[lambda row=row, n=n: orders.confirm_order(actor=actor, order=row, quantities={line.pk: n}) for row, n in seen]
    )  # fmt: skip
    assert given.count("changed_meanwhile") == 1
    [kept] = [number for (_row, number), each in zip(seen, given, strict=True) if each != "changed_meanwhile"]
    line.refresh_from_db()
    assert line.confirmed_quantity == kept


def test_an_order_closed_by_two_people_is_closed_once(actor, project, oak, lot):
    draft = orders.draft_order(
        actor=actor, project=project, nursery=lot.nursery, lines=[orders.Line(oak, "bare_root", 5)]
    )
    order = orders.place_order(actor=actor, order=draft)
    rows = [StockOrder.objects.get(pk=order.pk) for _n in range(3)]
    given = at_once(
        *[lambda row=row: orders.close_order(actor=actor, order=row, reason="frost") for row in rows]
    )
    assert given.count("changed_meanwhile") == 2
