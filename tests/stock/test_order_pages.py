"""Pages of orders: written by hand, changed, confirmed, closed; the list, the nursery's record, the sheet."""

import csv
import io
from datetime import date

import pytest
from django.urls import reverse

from projects import clocks
from projects.documents.order_sheet import COLUMNS, order_pages
from projects.models import Delivery, OrderLine, StockLot, StockOrder
from projects.selectors.order_progress import standing_of
from projects.services import offers, order_lines, orders, papers
from tests import factories

TODAY = date(2027, 2, 10)


@pytest.fixture(autouse=True)
def today(monkeypatch):
    monkeypatch.setattr(clocks, "today_of", lambda _organisation: TODAY)


@pytest.fixture
def order(actor, project, oak, block, nursery):
    """Placed and late by two days."""
    row = orders.draft_order(
        actor=actor, project=project, nursery=nursery, needed_by=date(2027, 2, 8),
        lines=[
            orders.Line(oak, "bare_root", 640, block=block, unit_price_minor=85, provenance="=HYPERLINK(1)"),
            orders.Line(oak, "container", 60, note="@home"),
        ],
    )  # fmt: skip
    StockOrder.objects.filter(pk=row.pk).update(
        status="placed", ordered_on=date(2026, 11, 20), reference="A-7"
    )
    row.refresh_from_db()
    return row


def at(name, row=None):
    return reverse(f"projects:{name}", args=["hill", *([row.uid] if row else [])])


def came(order, line, quantity, code, **fields):
    values = {
        "received_on": date(2027, 2, 5),
        "stock_type": line.stock_type,
        "species": line.species,
    } | fields
    return StockLot.objects.create(
        organisation=order.organisation, code=code, nursery=order.nursery, order_line=line, received=quantity,
        **values,
    )  # fmt: skip


def test_an_order_is_written_by_hand_with_the_price_of_the_list(
    signed_in, ana, actor, project, block, oak, nursery
):
    offers.make_offer(
        actor=actor, nursery=nursery, species=oak, stock_type="bare_root", unit_price_minor=62, currency="EUR"
    )
    sent = {
        "project": project.uid, "nursery": nursery.uid, "needed_by": "2028-02-08", "order_by": "", "deliver_to": "Barn",
        "reason": "the hedge", "species": oak.pk, "stock_type": "bare_root", "quantity": "1 200", "block": block.pk,
        "currency": "eur", "substitution": "listed", "instead_1": oak.pk, "instead_1_as": "container",
    }  # fmt: skip
    browser = signed_in(ana)
    assert browser.get(at("order_new")).status_code == 200
    answer = browser.post(at("order_new"), sent)
    order = StockOrder.objects.get()
    assert answer.url == at("order_detail", order)
    assert (order.status, order.order_by, order.deliver_to) == ("draft", date(2027, 11, 30), "Barn")
    line = order.lines.get()
    assert (line.quantity, line.unit_price_minor, line.currency) == (1200, 62, "EUR")
    assert [(row.species, row.stock_type) for row in line.substitutes.all()] == [(oak, "container")]


def test_a_refused_order_keeps_what_was_typed_and_says_where(signed_in, ana, project, oak, hill, site):
    elsewhere = factories.block(hill, factories.project(hill, name="Other"), site, name="Elsewhere")
    sent = {
        "project": project.uid, "species": oak.pk, "stock_type": "bare_root", "quantity": "40", "block": elsewhere.pk,
        "currency": "EUR", "substitution": "ask", "reason": "the long hedge",
    }  # fmt: skip
    answer = signed_in(ana).post(at("order_new"), sent)
    assert answer.status_code == 422
    assert "another project" in answer.context["form"].errors["block"][0]
    assert "the long hedge" in answer.content.decode()
    assert not StockOrder.objects.exists()


def test_lines_of_a_draft_are_added_changed_and_taken_out(signed_in, ana, actor, project, oak):
    order = orders.draft_order(actor=actor, project=project, lines=[orders.Line(oak, "bare_root", 5)])
    browser = signed_in(ana)
    sent = {
        "species": oak.pk,
        "stock_type": "container",
        "quantity": "7",
        "currency": "EUR",
        "substitution": "none",
    }
    browser.post(at("order_line_new", order), sent | {"unit_price": "1,25"})
    line = order.lines.get(stock_type="container")
    assert (line.unit_price_minor, line.substitution) == (125, "none")
    page = browser.get(at("order_line_edit", line))
    assert 'value="1.25"' in page.content.decode()
    version = page.context["form"].initial["version"]
    order_lines.change_line(actor=actor, line=line, quantity=8)
    stale = browser.post(at("order_line_edit", line), sent | {"quantity": "9", "version": version})
    assert stale.status_code == 422
    assert "Somebody else changed this" in stale.content.decode()
    version = stale.context["form"].data["version"]
    browser.post(at("order_line_edit", line), sent | {"quantity": "9", "version": version})
    line.refresh_from_db()
    assert line.quantity == 9
    browser.post(at("order_line_remove", line))
    assert not OrderLine.objects.filter(pk=line.pk).exists()


def test_a_substitute_without_its_species_is_asked_for(signed_in, ana, order, oak):
    StockOrder.objects.filter(pk=order.pk).update(status="draft")
    sent = {
        "species": oak.pk, "stock_type": "container", "quantity": "7", "currency": "EUR", "substitution": "listed",
        "instead_1_as": "container",
    }  # fmt: skip
    answer = signed_in(ana).post(at("order_line_new", order), sent)
    assert "Choose the species too" in answer.context["form"].errors["instead_1"][0]


def test_the_page_tells_what_came_what_is_late_and_what_needs_a_word(signed_in, ana, ben, order):
    first, second = order.lines.all()
    birch = factories.species("betula-pendula")
    came(order, first, 400, "L-1")
    came(order, second, 60, "L-2", species=birch)
    text = signed_in(ana).get(at("order_detail", order)).content.decode()
    assert "were due on 8 February 2027, 2 days ago" in text
    assert "240: a part has come" in text
    assert "something else: it needs your word" in text
    assert "Close it, though something is missing" in text
    lot = StockLot.objects.get(code="L-2")
    sent = {"lot": lot.uid, "reason": "birch will do"}
    for wrong in (sent | {"lot": "nonsense"}, sent | {"lot": StockLot.objects.get(code="L-1").uid}):
        answer = signed_in(ana).post(at("order_line_agree", second), wrong, follow=True)
        assert "did not come for this line" in answer.content.decode()
    text = signed_in(ana).post(at("order_line_agree", second), sent, follow=True).content.decode()
    assert "instead, as the rule allows" in text
    assert "it needs your word" not in text
    reader = signed_in(ben).get(at("order_detail", order)).content.decode()
    assert "240: a part has come" in reader
    assert "Call the order off" not in reader
    assert "Close it" not in reader


def test_an_order_that_has_all_is_offered_for_closing_and_not_closed_by_itself(signed_in, ana, order):
    for line in order.lines.all():
        came(order, line, line.quantity, f"L-{line.pk}")
    browser = signed_in(ana)
    assert (
        "If nothing was forgotten, close the order" in browser.get(at("order_detail", order)).content.decode()
    )
    order.refresh_from_db()
    assert order.status == "placed"
    browser.post(at("order_close", order), {"reason": ""})
    order.refresh_from_db()
    assert (order.status, order.closed_on) == ("closed", TODAY)
    browser.post(at("order_reopen", order), {"reason": "a box was forgotten"})
    order.refresh_from_db()
    assert order.status == "placed"


def test_closing_with_something_missing_asks_why_and_the_page_keeps_it(signed_in, ana, order):
    browser = signed_in(ana)
    refused = browser.post(at("order_close", order), {"reason": ""})
    assert refused.status_code == 422
    assert "why the rest will not come" in refused.context["form"].errors["reason"][0]
    browser.post(at("order_close", order), {"reason": "frost in the nursery"})
    text = browser.get(at("order_detail", order)).content.decode()
    assert "frost in the nursery" in text
    assert "640 never came" in text.replace("\u202f", "")


def test_the_nurserys_answer_is_written_line_by_line(signed_in, ana, order):
    browser, (first, second) = signed_in(ana), order.lines.all()
    page = browser.get(at("order_confirm", order))
    assert page.context["form"].initial["promised_on"] == date(2027, 2, 8)
    sent = {
        "version": page.context["form"].initial["version"], "confirmed_on": "2027-02-09", "promised_on": "2027-02-20",
        "nursery_reference": "N-44", f"line-{first.pk}": "600", f"line-{second.pk}": "",
    }  # fmt: skip
    assert browser.post(at("order_confirm", order), sent).status_code == 302
    order.refresh_from_db()
    assert (order.status, order.promised_on) == ("confirmed", date(2027, 2, 20))
    assert [line.confirmed_quantity for line in order.lines.all()] == [600, None]
    text = browser.get(at("order_detail", order)).content.decode()
    assert "40 fewer than asked" in text
    assert "after the day it is needed" in text
    again = browser.post(at("order_confirm", order), sent | {f"line-{first.pk}": "1"})
    assert again.status_code == 422  # the page was opened before the answer was written
    assert [line.confirmed_quantity for line in order.lines.all()] == [600, None]


def test_the_list_shows_what_is_open_late_or_all(signed_in, ana, ben, order, actor, project, oak):
    draft = orders.draft_order(actor=actor, project=project, lines=[orders.Line(oak, "bare_root", 5)])
    done = orders.draft_order(actor=actor, project=project, lines=[orders.Line(oak, "bare_root", 6)])
    orders.cancel_order(actor=actor, order=done, reason="not needed")

    def shown(show=""):
        page = signed_in(ben).get(at("order_list"), {"show": show})
        return {row.order for row in page.context["rows"]}

    assert shown() == {order, draft}
    assert shown("late") == {order}
    assert shown("all") == {order, draft, done}
    assert "2 days late" in signed_in(ana).get(at("order_list")).content.decode()


def test_the_list_asks_the_same_questions_for_one_order_as_for_many(
    signed_in, ana, order, actor, project, oak, django_assert_num_queries, django_assert_max_num_queries
):
    came(order, order.lines.first(), 400, "L-1")
    browser = signed_in(ana)
    with django_assert_max_num_queries(40) as first:
        browser.get(at("order_list"))
    for n in range(4):
        more = orders.draft_order(actor=actor, project=project, lines=[orders.Line(oak, "bare_root", n + 1)])
        came(order, more.lines.get(), 1, f"M-{n}")
    with django_assert_num_queries(len(first.captured_queries)):
        browser.get(at("order_list"))


def test_a_nurserys_page_says_how_it_kept_its_days(signed_in, ana, order, nursery, hill, project, oak):
    def finished(quantity, when, code):
        row = StockOrder.objects.create(
            organisation=hill, project=project, nursery=nursery, status="closed", promised_on=date(2026, 2, 1)
        )
        line = OrderLine.objects.create(
            organisation=hill, order=row, species=oak, stock_type="bare_root", quantity=100
        )
        came(row, line, quantity, code, received_on=when)

    finished(100, date(2026, 1, 30), "a")
    finished(100, date(2026, 2, 9), "b")
    finished(70, date(2026, 1, 30), "c")
    StockOrder.objects.create(organisation=hill, project=project, nursery=nursery, reference="not sent yet")
    text = signed_in(ana).get(at("nursery_detail", nursery)).content.decode()
    assert "Of 4 orders that were due, 1 came whole and in time." in text
    assert "2 were late, by 8 days at most." in text  # the one still out by two days is late too
    assert "1 was closed with something missing." in text
    assert "not sent yet" not in text


def test_the_order_sheet_tells_the_nursery_what_it_needs_and_nothing_else(order, actor, oak):
    line = order.lines.last()
    StockOrder.objects.filter(pk=order.pk).update(
        terms="Deposit returned if late.", reason="half of the first planting died"
    )
    birch = factories.species("betula-pendula")
    OrderLine.objects.filter(pk=line.pk).update(substitution="listed")
    line.substitutes.create(organisation=order.organisation, species=birch, stock_type="container")
    pages = order_pages(standing_of(order, TODAY))
    text = str(pages["items"])
    assert "Only, in this order: Betula pendula, container-grown" in text
    assert "Deposit returned if late." in text
    assert (
        "EUR\xa0544.00" in pages["items"][[item["k"] for item in pages["items"]].index("table")]["total"][-1]
    )
    assert "1 line has no price yet and is not in the sum." in text
    assert "half of the first planting died" not in text
    assert not pages["is_draft"]


def test_the_order_sheet_is_a_pdf(signed_in, ben, order):
    answer = signed_in(ben).get(at("order_pdf", order))
    assert answer["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-")
    assert "order-a-7-" in answer["Content-Disposition"]


def test_the_table_of_lines_holds_no_formula(signed_in, ben, order):
    came(order, order.lines.first(), 400, "L-1")
    answer = signed_in(ben).get(at("order_csv", order))
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert tuple(rows[0]) == COLUMNS
    assert [row["asked"] for row in rows] == ["640", "60"]
    assert rows[0]["provenance"] == "'=HYPERLINK(1)"
    assert rows[1]["note"] == "'@home"
    assert (rows[0]["unit_price"], rows[0]["arrived"], rows[0]["still_to_come"]) == ("0.85", "400", "240")
    assert (rows[0]["needed_by"], rows[0]["days_late"]) == ("2027-02-08", "2")


def test_papers_of_the_order_its_deliveries_and_its_lots_stand_on_its_page(
    signed_in, ana, actor, order, hill
):
    delivery = Delivery.objects.create(
        organisation=hill, order=order, nursery=order.nursery, delivered_on=date(2027, 2, 5)
    )
    lot = came(order, order.lines.first(), 400, "L-1")
    for number, subject in enumerate((order, delivery, lot)):
        papers.attach(
            actor=actor, subject=subject, upload=b"%PDF-1", kind="seed_certificate", number=f"C-{number}"
        )
    text = signed_in(ana).get(at("order_detail", order)).content.decode()
    assert all(f"C-{number}" in text for number in range(3))
    assert "delivery of 5 February 2027" in text
    assert "lot L-1" in text
