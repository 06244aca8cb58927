"""What to order, and by when; and the draft order that one click makes."""

import re
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from monitoring.models import ReplacementNeed
from monitoring.selectors.needs import need_page
from monitoring.services.orders_from_needs import draft_from_needs
from projects.errors import Refusal
from projects.models import HistoryEntry, OrderLine, StockOrder
from tests.results.conftest import address, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def page(signed_in, ana):
    return signed_in(ana)


def need_of(block) -> ReplacementNeed:
    return ReplacementNeed.objects.get(block=block, species__isnull=False)


def test_a_need_shows_expected_assured_why_by_when_and_what_it_costs(page, hillside):
    text = words(page.get(address("need_list")))
    need = need_of(hillside.blocks[1])
    assert need.n_assured > need.n_expected > 0
    assert f"{need.n_expected} {need.n_assured}" in text
    assert "Order by Mon 16 Nov 2026" in text  # ten weeks and some slack before the window opens
    assert "8 February to 14 March 2027" in text
    assert re.search(r"About \d+ trees live \(\d+ to \d+\); 400 are wanted", text)
    assert "for the expected number" in text
    assert "These counts rest on 61 dead stems seen, not on trees that vanished." in text
    assert "bitten 6 100 %" in text
    assert text.index("Before refilling: why they died") < text.index("About")
    assert "if the trees not found live" not in text  # every dead tree was seen
    assert re.search(
        r"\d+ % \(\d+ to (&gt;)?\d+ %\) as seen of this species and stock here"
        r" at this time of the year, 2 plantings in 12 plots",
        text,
    )


def test_a_block_that_needs_nothing_is_named_without_an_order(page, hillside):
    text = words(page.get(address("need_list")))
    assert "Blocks without an order to make Block 01 : no replacements needed" in text


def test_one_click_drafts_an_order_that_copies_its_figures(page, hillside):
    block = hillside.blocks[1]
    answer = page.post(address("need_order"), {"block": block.uid})
    order, line, need = StockOrder.objects.get(), OrderLine.objects.get(), need_of(block)
    assert answer.url == f"/o/hill/order/{order.uid}/"
    assert (line.quantity, line.species, line.stock_type, line.block) == (
        need.n_assured, need.species, "bare_root", block,
    )  # fmt: skip
    assert (line.unit_price_minor, line.currency) == (95, "EUR")
    assert (order.order_by, order.needed_by) == (need.order_by, need.window_opens_on)
    assert order.copied_figures["needs"][0]["n_expected"] == need.n_expected
    assert HistoryEntry.objects.filter(verb="stock_order.made", subject_uid=order.uid).count() == 1


def test_asking_twice_for_the_same_figures_gives_the_same_draft(page, hillside):
    block = hillside.blocks[1]
    first = page.post(address("need_order"), {"block": block.uid})
    assert page.post(address("need_order"), {"block": block.uid}).url == first.url
    assert StockOrder.objects.count() == 1
    text = words(page.get(address("need_list")))
    assert "under way (draft)" in text
    assert "Make a draft order" not in text


def test_new_counts_leave_the_order_as_it_is_and_offer_a_new_one(page, hillside):
    block = hillside.blocks[1]
    page.post(address("need_order"), {"block": block.uid})
    before = OrderLine.objects.get().quantity
    later = hillside.baselines[6]
    from projects.services import log
    from tests.field_log.visits import correction, item, line, visit_body

    root = visit_body(hillside.plots[6], hillside.survey_round, [line(later, 2, dead_stem=18)])
    body, new_id = correction(root | {"visit": str(hillside.plots[6].visits.get().root)})
    log.append_items(hillside.actor, [item(body, id=new_id)])
    hillside.work()
    assert OrderLine.objects.get().quantity == before
    text = words(page.get(address("need_list")))
    assert "The figures have changed since it was drafted" in text
    assert "Make a draft order" in text


def test_a_cancelled_order_does_not_stand_in_the_way(page, hillside, actor):
    from projects.services.orders import cancel_order

    block = hillside.blocks[1]
    order = draft_from_needs(actor=actor, block=block)
    cancel_order(actor=actor, order=order, reason="another nursery")
    assert draft_from_needs(actor=actor, block=block) != order


def test_a_block_in_need_of_nothing_is_refused_with_a_reason(page, hillside, actor):
    with pytest.raises(Refusal, match="needs no order"):
        draft_from_needs(actor=actor, block=hillside.blocks[0])
    answer = page.post(address("need_order"), {"block": hillside.blocks[0].uid}, follow=True)
    assert "needs no order" in words(answer)
    assert not StockOrder.objects.exists()


@pytest.mark.parametrize("sent", [{}, {"block": ""}])
def test_no_block_named_is_said_so(page, hillside, sent):
    assert "Choose the block" in words(page.post(address("need_order"), sent, follow=True))


def test_a_lead_may_read_needs_but_not_order(signed_in, ben, hillside):
    client = signed_in(ben)
    text = words(client.get(address("need_list")))
    assert "Order by" in text
    assert "Make a draft order" not in text
    assert client.post(address("need_order"), {"block": hillside.blocks[1].uid}).status_code == 403


def test_another_organisation_meets_404_and_reads_nothing(signed_in, olaf, hillside):
    client = signed_in(olaf)
    assert client.get(address("need_list")).status_code == 404
    text = words(client.get(address("need_list").replace("/hill/", "/other/")))
    assert "Block 02" not in text
    assert "Nothing to order" in text
    sent = {"block": hillside.blocks[1].uid}
    assert client.post(address("need_order").replace("/hill/", "/other/"), sent).status_code == 404


def test_needs_ask_as_often_for_twenty_blocks_as_for_two(make_hillside, actor):
    asked = []
    for number in (2, 20):
        made = make_hillside(number, 2, name=f"Group {number}")
        made.send([10, 8] * number, dead_stem=10)
        made.work()
        with CaptureQueriesContext(connection) as seen:
            assert len(need_page(actor).to_order) >= number
        asked.append(len(seen))
    assert asked[0] == asked[1] <= 10


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_people_clicking_at_once_make_one_order(hillside, actor):
    if connection.vendor != "postgresql":
        pytest.skip("needs PostgreSQL")

    def click(_number):
        try:
            return draft_from_needs(actor=actor, block=hillside.blocks[1]).pk
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as people:
        assert len(set(people.map(click, range(4)))) == 1
    assert StockOrder.objects.count() == 1
