"""The steps of an order: placed, confirmed, closed, called off, opened again; and its lines while it is a draft."""

from datetime import date

import pytest

from projects import clocks
from projects.errors import Refusal
from projects.models import HistoryEntry, OrderLine, StockLot, StockOrder
from projects.selectors.order_progress import standing_of
from projects.services import nurseries, offers, order_lines, orders, sites
from species.models import RangeStatus
from tests import factories

TODAY = date(2026, 11, 20)


@pytest.fixture(autouse=True)
def today(monkeypatch):
    monkeypatch.setattr(clocks, "today_of", lambda _organisation: TODAY)


@pytest.fixture
def birch(db):
    return factories.species("betula-pendula")


@pytest.fixture
def order(actor, project, oak, birch, block, nursery):
    lines = [orders.Line(oak, "bare_root", 640, block=block), orders.Line(birch, "container", 90)]
    return orders.draft_order(
        actor=actor, project=project, nursery=nursery, lines=lines, needed_by=date(2027, 2, 8)
    )


@pytest.fixture
def placed(actor, order):
    return orders.place_order(actor=actor, order=order)


@pytest.fixture
def wattle(actor, site):
    """A species that is invasive where the organisation has a site."""
    sites.edit_site(actor=actor, site=site, country_code="PT")
    row = factories.species("acacia-dealbata", scientific_name="Acacia dealbata")
    RangeStatus.objects.create(
        species=row, country_code="PT", status="invasive", source="a list of the country"
    )
    return row


def came(order, line, quantity, code="L1"):
    return StockLot.objects.create(
        organisation=order.organisation, code=code, nursery=order.nursery, order_line=line, species=line.species,
        stock_type=line.stock_type, received_on=TODAY, received=quantity,
    )  # fmt: skip


def verbs(order):
    return list(
        HistoryEntry.objects.filter(subject_uid=order.uid).order_by("id").values_list("verb", flat=True)
    )


def test_the_latest_order_date_is_counted_back_by_the_nurserys_weeks(order):
    assert order.order_by == date(2026, 11, 30)  # ten weeks before


def test_a_nursery_confirms_a_day_its_number_and_what_it_will_send(actor, placed):
    oaks, birches = placed.lines.all()
    confirmed = orders.confirm_order(
        actor=actor, order=placed, promised_on=date(2027, 2, 1), nursery_reference="N-44",
        quantities={oaks.pk: 600, birches.pk: 0},
    )  # fmt: skip
    assert (confirmed.status, confirmed.confirmed_on) == ("confirmed", TODAY)
    assert (confirmed.promised_on, confirmed.nursery_reference) == (date(2027, 2, 1), "N-44")
    assert [line.confirmed_quantity for line in placed.lines.all()] == [600, 0]
    again = orders.confirm_order(actor=actor, order=confirmed, promised_on=date(2027, 2, 20))
    assert again.promised_on == date(2027, 2, 20)
    assert [line.confirmed_quantity for line in placed.lines.all()] == [600, 0]
    last = HistoryEntry.objects.filter(subject_uid=placed.uid).order_by("-id").first()
    assert last.change["promised_on"] == ["2027-02-01", "2027-02-20"]
    assert "status" not in last.change


@pytest.mark.parametrize(
    ("field", "values"),
    [
        ("confirmed_on", {"confirmed_on": date(2026, 11, 21)}),
        ("confirmed_on", {"confirmed_on": date(2026, 11, 19)}),
        ("promised_on", {"promised_on": date(2026, 11, 19)}),
    ],
)
def test_an_answer_on_a_day_that_cannot_be_is_refused(actor, placed, field, values):
    with pytest.raises(Refusal) as caught:
        orders.confirm_order(actor=actor, order=placed, **values)
    assert caught.value.field == field
    assert StockOrder.objects.get().status == "placed"


def test_a_negative_number_is_refused_on_its_line(actor, placed):
    line = placed.lines.first()
    with pytest.raises(Refusal) as caught:
        orders.confirm_order(actor=actor, order=placed, quantities={line.pk: -1})
    assert caught.value.field == f"line-{line.pk}"


def test_two_people_confirm_and_the_second_sees_both_versions(actor, placed):
    version = orders.seen(placed)
    stale = StockOrder.objects.get(pk=placed.pk)
    line = placed.lines.first()
    orders.confirm_order(actor=actor, order=placed, quantities={line.pk: 500}, version=version)
    with pytest.raises(Refusal, match="changed this order meanwhile"):
        orders.confirm_order(actor=actor, order=stale, quantities={line.pk: 640}, version=version)
    fresh = StockOrder.objects.get(pk=placed.pk)
    with pytest.raises(Refusal) as caught:
        orders.confirm_order(actor=actor, order=fresh, quantities={line.pk: 640}, version=version)
    assert caught.value.code == "changed_meanwhile"
    assert caught.value.stored[f"line-{line.pk}"] == 500
    assert placed.lines.first().confirmed_quantity == 500


def test_an_order_with_all_its_plants_closes_without_a_reason(actor, placed):
    for line in placed.lines.all():
        came(placed, line, line.quantity, code=f"L{line.pk}")
    closed = orders.close_order(actor=actor, order=placed)
    assert (closed.status, closed.closed_on) == ("closed", TODAY)
    back = orders.reopen_order(actor=actor, order=closed, reason="a box was forgotten")
    assert (back.status, back.closed_on) == ("placed", None)


def test_an_order_with_something_missing_closes_only_with_a_reason(actor, placed):
    came(placed, placed.lines.first(), 640)
    with pytest.raises(Refusal, match="why the rest will not come") as caught:
        orders.close_order(actor=actor, order=placed)
    assert caught.value.field == "reason"
    stale = StockOrder.objects.get(pk=placed.pk)
    orders.close_order(actor=actor, order=placed, reason="frost took the birches")
    with pytest.raises(Refusal, match="meanwhile"):
        orders.close_order(actor=actor, order=stale, reason="pressed twice")
    assert verbs(placed) == ["stock_order.made", "stock_order.placed", "stock_order.closed"]


def test_a_draft_is_neither_confirmed_nor_closed(actor, order):
    for act in (orders.confirm_order, orders.close_order):
        with pytest.raises(Refusal) as caught:
            act(actor=actor, order=order)
        assert caught.value.code == "not_under_way"


@pytest.mark.parametrize("was", ["draft", "placed", "confirmed"])
def test_what_was_called_off_or_closed_is_opened_again_as_it_stood(actor, order, was):
    if was != "draft":
        order = orders.place_order(actor=actor, order=order)
    if was == "confirmed":
        order = orders.confirm_order(actor=actor, order=order)
    gone = orders.cancel_order(actor=actor, order=order, reason="a mistake")
    with pytest.raises(Refusal, match="why the order is opened again"):
        orders.reopen_order(actor=actor, order=gone, reason="")
    back = orders.reopen_order(actor=actor, order=gone, reason="it was the other order")
    assert (back.status, back.closed_on) == (was, None)
    with pytest.raises(Refusal, match="open already"):
        orders.reopen_order(actor=actor, order=back, reason="twice")


def test_an_order_is_not_placed_with_nobody_to_send_it_to_or_an_empty_list(actor, order, nursery):
    line = order.lines.first()
    order_lines.change_line(actor=actor, line=line, substitution="listed")
    with pytest.raises(Refusal, match="list what may come instead"):
        orders.place_order(actor=actor, order=order)
    order_lines.change_line(actor=actor, line=line, substitution="none")
    type(nursery).objects.update(archived_at="2026-11-01T00:00Z")
    with pytest.raises(Refusal, match="put away"):
        orders.place_order(actor=actor, order=order)


def test_a_line_is_changed_and_history_says_in_what(actor, order, birch, oak):
    line = order.lines.first()
    changed = order_lines.change_line(
        actor=actor,
        line=line,
        quantity=700,
        substitution="listed",
        substitutes=[(oak, "container"), (birch, "")],
    )
    assert [(row.species, row.stock_type, row.rank) for row in changed.substitutes.all()] == [
        (oak, "container", 1), (birch, "", 2),
    ]  # fmt: skip
    entry = HistoryEntry.objects.filter(verb="stock_order.line_changed").get()
    assert entry.change["Quercus robur, bare-root: quantity"] == [640, 700]
    assert "Betula pendula" in entry.change["Quercus robur, bare-root: substitutes"][1]
    order_lines.change_line(actor=actor, line=line, quantity=700)
    assert HistoryEntry.objects.filter(verb="stock_order.line_changed").count() == 1


@pytest.mark.parametrize(
    ("field", "values"),
    [
        ("quantity", {"quantity": 0}),
        ("stock_type", {"stock_type": "twig"}),
        ("unit_price", {"unit_price_minor": -5}),
        ("currency", {"currency": "euro"}),
        ("substitution", {"substitution": "perhaps"}),
    ],
)
def test_a_line_that_cannot_be_meant_is_refused(actor, order, oak, field, values):
    fields = {"species": oak, "stock_type": "bare_root", "quantity": 5} | values
    with pytest.raises(Refusal) as caught:
        order_lines.add_line(actor=actor, order=order, **fields)
    assert caught.value.field == field
    with pytest.raises(Refusal):
        order_lines.change_line(actor=actor, line=order.lines.first(), **values)
    assert OrderLine.objects.count() == 2


def test_a_block_of_another_project_is_refused(actor, order, oak, hill, site):
    elsewhere = factories.block(hill, factories.project(hill, name="Other"), site, name="Elsewhere")
    with pytest.raises(Refusal) as caught:
        order_lines.add_line(
            actor=actor, order=order, species=oak, stock_type="bare_root", quantity=5, block=elsewhere
        )
    assert caught.value.field == "block"


def test_the_list_of_substitutes_has_rules_of_its_own(actor, order, oak, birch, wattle):
    line = order.lines.first()

    def refused(**values):
        with pytest.raises(Refusal) as caught:
            order_lines.change_line(actor=actor, line=line, **values)
        assert caught.value.field == "substitution"
        return caught.value.message

    assert "counts only with the rule" in refused(substitutes=[(birch, "")])
    assert "twice" in refused(substitution="listed", substitutes=[(birch, ""), (birch, "")])
    assert "what the line asks for" in refused(substitution="listed", substitutes=[(oak, "bare_root")])
    assert "invasive" in refused(substitution="listed", substitutes=[(wattle, "")])


def test_an_invasive_species_is_refused_in_a_draft_a_line_and_when_it_is_placed(
    actor, order, project, wattle, birch
):
    fields = {"species": wattle, "stock_type": "container", "quantity": 5}
    for act in (
        lambda: orders.draft_order(actor=actor, project=project, lines=[orders.Line(**fields)]),
        lambda: order_lines.add_line(actor=actor, order=order, **fields),
        lambda: order_lines.change_line(actor=actor, line=order.lines.first(), species=wattle),
    ):
        with pytest.raises(Refusal, match="invasive in PT"):
            act()
    RangeStatus.objects.create(species=birch, country_code="PT", status="invasive", source="a newer list")
    with pytest.raises(Refusal, match="Betula pendula is invasive"):
        orders.place_order(actor=actor, order=order)


def test_the_last_line_stays_and_lines_of_a_placed_order_stand(actor, order):
    oaks, birches = order.lines.all()
    order_lines.remove_line(actor=actor, line=birches)
    with pytest.raises(Refusal, match="at least one thing"):
        order_lines.remove_line(actor=actor, line=oaks)
    orders.place_order(actor=actor, order=order)
    more = {"species": oaks.species, "stock_type": "bare_root", "quantity": 1}
    for act in (
        lambda: order_lines.change_line(actor=actor, line=oaks, quantity=1),
        lambda: order_lines.remove_line(actor=actor, line=oaks),
        lambda: order_lines.add_line(actor=actor, order=order, **more),
    ):
        with pytest.raises(Refusal, match="only a draft"):
            act()
    assert order.lines.get().quantity == 640


def test_a_line_somebody_changed_meanwhile_shows_both(actor, order):
    line = order.lines.first()
    version = order_lines.seen_line(line)
    order_lines.change_line(actor=actor, line=line, quantity=700)
    with pytest.raises(Refusal) as caught:
        order_lines.change_line(actor=actor, line=line, quantity=650, version=version)
    assert caught.value.stored == {"quantity": 700}


def test_a_rate_of_exchange_stands_with_its_day(actor, order):
    for values in (
        {"exchange_rate": 1},
        {"exchange_rate_on": TODAY},
        {"exchange_rate": 0, "exchange_rate_on": TODAY},
    ):
        with pytest.raises(Refusal):
            orders.edit_order(actor=actor, order=order, **values)
    with pytest.raises(Refusal, match="deposit"):
        orders.edit_order(actor=actor, order=order, deposit_minor=-1)


def test_something_else_that_came_is_agreed_to_with_a_reason_and_the_rule_stays(actor, placed, birch):
    oaks, birches = placed.lines.all()
    lot = came(placed, oaks, 50)
    StockLot.objects.filter(pk=lot.pk).update(species=birch)
    lot.refresh_from_db()
    with pytest.raises(Refusal, match="did not come for this line"):
        order_lines.agree_to(actor=actor, line=birches, lot=lot, reason="same use")
    with pytest.raises(Refusal, match="why it will do"):
        order_lines.agree_to(actor=actor, line=oaks, lot=lot, reason="  ")
    for _twice in range(2):
        order_lines.agree_to(actor=actor, line=oaks, lot=lot, reason="a nurse tree will do there")
    oaks.refresh_from_db()
    assert [(row.species, row.stock_type) for row in oaks.substitutes.all()] == [(birch, "bare_root")]
    assert oaks.substitution == "ask"
    assert verbs(placed).count("stock_order.substitute_agreed") == 1
    [row] = standing_of(placed, TODAY).lines[0].lots
    assert (row.fit.verdict, row.can_be_agreed) == ("allowed", False)
    orders.cancel_order(actor=actor, order=placed, reason="a test")
    with pytest.raises(Refusal, match="placed and not closed"):
        order_lines.agree_to(actor=actor, line=oaks, lot=lot, reason="too late")


def test_a_price_that_is_not_typed_is_the_cheapest_that_fits_on_the_nurserys_own_list(
    actor, order, nursery, oak
):
    elsewhere = nurseries.make_nursery(actor=actor, name="Baixo", lead_time_weeks=4)

    def offer(price, of=nursery, **fields):
        values = {"species": oak, "stock_type": "bare_root", "currency": "EUR"} | fields
        offers.make_offer(actor=actor, nursery=of, unit_price_minor=price, **values)

    offer(62, least_quantity=5000)
    offer(70)
    offer(50, age_code="2+1")
    offer(40, currency="USD")
    offer(10, of=elsewhere)
    offer(20, stock_type="container")
    offer(15, valid_until=date(2026, 11, 19))
    asked = {"species": oak, "stock_type": "bare_root", "quantity": 1200, "age_code": "1+1"}
    line = order_lines.add_line(actor=actor, order=order, **asked)
    assert (line.unit_price_minor, line.currency) == (70, "EUR")
    typed = order_lines.add_line(actor=actor, order=order, **asked, unit_price_minor=99)
    assert typed.unit_price_minor == 99
    many = order_lines.change_line(actor=actor, line=line, quantity=5000, unit_price_minor=None)
    assert many.unit_price_minor == 62
