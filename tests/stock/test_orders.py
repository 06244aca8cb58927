"""Orders: drafted, changed, placed once, called off with a reason."""

from datetime import date

import pytest
from django.urls import reverse

from projects.errors import Refusal
from projects.models import HistoryEntry, Reminder, StockLot, StockOrder
from projects.services import orders


@pytest.fixture
def order(actor, project, oak, block):
    return orders.draft_order(
        actor=actor, project=project, lines=[orders.Line(oak, "bare_root", 640, block=block, unit_price_minor=85)],
        order_by=date(2026, 11, 27), needed_by=date(2027, 2, 8), reason="Expected 560, assured 640.",
        copied_figures={"n_assured": 640},
    )  # fmt: skip


@pytest.fixture
def page(order):
    return reverse("projects:order_detail", kwargs={"org": "hill", "uid": order.uid})


def test_a_draft_reminds_of_its_latest_order_date(order):
    reminder = Reminder.objects.get(kind="order_by")
    assert (reminder.due_on, reminder.subject_uid) == (date(2026, 11, 27), order.uid)
    assert reminder.facts["what"] == "640 Quercus robur"


def test_an_order_without_lines_or_of_nothing_is_refused(actor, project, oak):
    bad = {
        "lines": [],
        "quantity": [orders.Line(oak, "bare_root", 0)],
        "stock_type": [orders.Line(oak, "twig", 5)],
    }
    for field, lines in bad.items():
        with pytest.raises(Refusal) as caught:
            orders.draft_order(actor=actor, project=project, lines=lines)
        assert caught.value.field == field
    assert not StockOrder.objects.exists()


def test_the_page_shows_what_to_order_and_what_it_costs(signed_in, ana, page):
    text = signed_in(ana).get(page).content.decode()
    assert "EUR\xa0544.00" in text
    assert "What to order, and by when" in text


def test_an_order_is_placed_once_with_a_nursery(signed_in, ana, actor, order, page, nursery):
    browser = signed_in(ana)
    assert "Choose the nursery" in browser.post(page, {"place": "yes"}, follow=True).content.decode()
    fields = {"nursery": nursery.pk, "order_by": "2026-11-20", "needed_by": "2027-02-08"}
    browser.post(f"{page}edit/", fields)
    browser.post(page, {"place": "yes"})
    order.refresh_from_db()
    assert (order.status, order.nursery, order.order_by) == ("placed", nursery, date(2026, 11, 20))
    assert not Reminder.objects.filter(kind="order_by").exists()
    with pytest.raises(Refusal, match="only a draft"):
        orders.place_order(actor=actor, order=order)
    verbs = HistoryEntry.objects.filter(subject_uid=order.uid).order_by("id").values_list("verb", flat=True)
    assert list(verbs) == ["stock_order.made", "stock_order.edited", "stock_order.placed"]


def test_a_draft_with_dates_the_wrong_way_round_is_refused(signed_in, ana, page):
    answer = signed_in(ana).post(f"{page}edit/", {"order_by": "2027-03-01", "needed_by": "2027-02-08"})
    assert answer.status_code == 422
    assert "before the day the plants are needed" in answer.context["form"].errors["order_by"][0]


def test_an_order_is_called_off_with_a_reason(signed_in, ana, order, page):
    browser = signed_in(ana)
    assert (
        "why the order is called off" in browser.post(page, {"cancel": "yes"}, follow=True).content.decode()
    )
    browser.post(page, {"cancel": "yes", "reason": "found plants nearby"})
    order.refresh_from_db()
    assert order.status == "cancelled"


def test_a_lead_reads_an_order_but_does_not_place_it(signed_in, ben, page):
    browser = signed_in(ben)
    assert browser.get(page).status_code == 200
    assert browser.post(page, {"place": "yes"}).status_code == 403


def test_what_comes_is_received_against_its_order(signed_in, ana, actor, order, nursery, lot_fields):
    orders.edit_order(actor=actor, order=order, nursery=nursery)
    orders.place_order(actor=actor, order=order)
    url = reverse("projects:lot_new", kwargs={"org": "hill"})
    signed_in(ana).post(url, lot_fields | {"order": order.uid})
    assert StockLot.objects.get().delivery.order == order
