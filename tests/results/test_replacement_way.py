"""From a shortfall to trees in the ground: choices and gaps, a draft, a delivery, a planting of its own."""

import re
from datetime import date

import pytest

from monitoring.models import ReplacementNeed
from monitoring.services import dirty, reminders
from monitoring.services.orders_from_needs import draft_from_needs
from projects import clocks
from projects.errors import Refusal
from projects.models import (
    Cohort,
    Delivery,
    OrderLine,
    PlantingWindow,
    Reminder,
    StockLot,
    StockOrder,
    SurvivalPrior,
)
from projects.services import lots, orders, planting, seasons
from tests import factories
from tests.results.conftest import address, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def in_containers(hill, hillside, oak):
    """Oaks in containers: dearer, never planted here but well spoken of, with a window in the second block."""
    SurvivalPrior.objects.create(
        organisation=hill, stock_type="container", mean=0.85, weight_trees=40, source="nursery leaflet"
    )
    factories.lot(
        hill, oak, code="26-C", stock_type="container", unit_cost_minor=210, currency="EUR", received=10
    )
    PlantingWindow.objects.create(
        organisation=hill, block=hillside.blocks[1], stock_type="container", opens_on=date(2027, 3, 20),
        closes_on=date(2027, 5, 15),
    )  # fmt: skip
    dirty.mark_block(hillside.blocks[1])
    hillside.work()
    return hillside.blocks[1]


def block_page(block) -> str:
    return f"/o/hill/block/{block.uid}/"


def test_the_page_sets_the_choices_side_by_side(signed_in, ana, in_containers):
    text = words(signed_in(ana).get(address("need_list")))
    need = ReplacementNeed.objects.get(block=in_containers, species__isnull=False)
    same, other = need.facts["choices"]
    assert "the same again, bare-root" in text
    assert "container-grown instead" in text
    assert f"{other['n_assured']} {other['n_expected']} on average" in text
    mean = same["survival"]["value"]
    assert f"EUR {95 / mean / 100:.2f} EUR 0.95 to EUR" in text  # 95 cents a plant, dearer the fewer live
    assert "85 % (73 to 94 %) nursery leaflet" in text  # Beta(34, 6)
    assert other["n_assured"] < same["n_assured"]
    assert "Few plantings were seen" in text
    assert "plant nothing, accept fewer trees" in text
    assert re.search(
        r"about \d+ \(\d+ to \d+\) trees alive at the age of the check where 400 are wanted", text
    )
    said = re.search(
        r"The draft order comes to (\d+) trees. If the living were known exactly, (\d+) would do:"
        r" more plots could save up to (\d+) trees",
        text,
    )
    ordered, known, saved = map(int, said.groups())
    assert ordered == need.n_assured
    assert ordered - known == saved > 0


def test_a_price_nobody_paid_yet_is_not_invented(signed_in, ana, in_containers):
    StockLot.objects.filter(stock_type="container").update(unit_cost_minor=None)
    text = words(signed_in(ana).get(address("need_list")))
    assert "no price on record –" in text


def test_one_click_orders_the_stock_that_was_chosen(signed_in, ana, in_containers):
    sent = {"block": in_containers.uid, "stock_type": "container"}
    signed_in(ana).post(address("need_order"), sent)
    order, line = StockOrder.objects.get(), OrderLine.objects.get()
    need = ReplacementNeed.objects.get(block=in_containers, species__isnull=False)
    chosen = need.facts["choices"][1]
    assert (line.stock_type, line.quantity, line.unit_price_minor) == ("container", chosen["n_assured"], 210)
    assert (order.order_by.isoformat(), order.needed_by.isoformat()) == (
        chosen["order_by"],
        chosen["opens_on"],
    )
    assert order.copied_figures["needs"][0]["stock_type"] == "container"


def test_stock_that_is_not_offered_is_refused(actor, in_containers, signed_in, ana):
    with pytest.raises(Refusal, match="not offered"):
        draft_from_needs(actor=actor, block=in_containers, stock_type="wildling")
    sent = {"block": in_containers.uid, "stock_type": "<b>"}
    assert "not offered" in words(signed_in(ana).post(address("need_order"), sent, follow=True))
    assert not StockOrder.objects.exists()


def test_from_the_draft_to_a_new_planting_that_replaces_and_asks_for_its_baseline(
    actor, hill, oak, hillside, monkeypatch
):
    block = hillside.blocks[1]
    first = block.cohorts.get()
    order = draft_from_needs(actor=actor, block=block)
    assert order.copied_figures["replaces"] == {oak.slug: str(first.uid), "": str(first.uid)}
    orders.place_order(
        actor=actor, order=orders.edit_order(actor=actor, order=order, nursery=first.lot.nursery)
    )
    seasons.make_season(
        actor=actor,
        kind="planting",
        label="winter 2026/27",
        starts_on=date(2026, 10, 1),
        ends_on=date(2027, 4, 30),
    )
    monkeypatch.setattr(clocks, "today_of", lambda organisation: date(2027, 2, 20))
    monkeypatch.setattr(clocks, "today_at", lambda site: date(2027, 2, 20))
    lot = lots.receive_lot(
        actor=actor, order=order, code="27-1", nursery=first.lot.nursery, species=oak, stock_type="bare_root",
        unit="tree", received=400, received_on=date(2027, 2, 15), currency="EUR",
    )  # fmt: skip
    elsewhere = planting.plant(
        actor=actor, block=hillside.blocks[0], lot=lot, planted_on=date(2027, 2, 16), quantity=50
    )
    day = planting.plant(actor=actor, block=block, lot=lot, planted_on=date(2027, 2, 16), quantity=300)
    again = planting.plant(actor=actor, block=block, lot=lot, planted_on=date(2027, 2, 17), quantity=40)
    assert (day.cohort.replaces, elsewhere.cohort.replaces) == (first, None)
    assert again.cohort == day.cohort != first
    hillside.work()
    assert ReplacementNeed.objects.get(block=block, species=None).reason == "replanted_since_count"
    reminders.renew(hill)
    asked = Reminder.objects.get(kind="baseline_visit")
    assert (asked.subject_uid, asked.due_on) == (day.cohort.uid, date(2027, 3, 17))
    assert asked.facts == {"block": "Block 02", "cohort": day.cohort.label, "trees": 340}
    factories.baseline(hillside.plots[6], oak, 7, cohort=day.cohort)
    reminders.renew(hill)
    assert not Reminder.objects.filter(kind="baseline_visit").exists()


def test_the_reminder_of_a_baseline_is_read_on_the_home_page(signed_in, ana, hill, hillside):
    first = hillside.blocks[1].cohorts.get()
    lot = factories.lot(hill, first.species, code="25-R")
    season = factories.season(hill, "planting", year=2025)
    factories.cohort(
        hillside.blocks[1], lot, season, planted=340, planted_on=date(2026, 2, 10), replaces=first
    )
    reminders.renew(hill)
    text = words(signed_in(ana).get("/o/hill/"))
    assert "Count the new trees into the plots of Block 02" in text
    assert "340 replacements went in" in text


def test_a_lot_ordered_for_another_block_is_a_first_planting_here(actor, hillside, hill, oak):
    order = StockOrder.objects.create(
        organisation=hill, project=hillside.project, copied_figures={"block": str(hillside.blocks[0].uid)}
    )
    lot = factories.lot(hill, oak, code="26-9", received_on=date(2024, 2, 1))
    lot.delivery = Delivery.objects.create(
        organisation=hill, order=order, nursery=lot.nursery, delivered_on=date(2024, 2, 1)
    )
    lot.save()
    for block in hillside.blocks:
        day = planting.plant(actor=actor, block=block, lot=lot, planted_on=date(2024, 2, 20), quantity=5)
        assert day.cohort.replaces is None
    assert Cohort.objects.filter(lot=lot).count() == 2


# --- gaps ----------------------------------------------------------------------------------
@pytest.fixture
def with_gaps(hillside):
    """The second block is held to 1,100 living trees a hectare: 10.99 in a plot; four of six hold fewer."""
    block = hillside.blocks[1]
    block.target_stocking_per_ha = 1100
    block.save()
    hillside.plots[8].latitude, hillside.plots[8].longitude = 41.5, -7.25
    hillside.plots[8].save()
    dirty.mark_block(block)
    hillside.work()
    return hillside


def test_plots_below_the_target_are_named_the_emptiest_first(signed_in, ana, with_gaps):
    text = words(signed_in(ana).get(address("need_list")))
    assert re.search(r"4 of 6 plots hold fewer living trees .*: 67 % \(\d+ to \d+ %\) of such plots", text)
    assert "2-3 6 of 11, 2-6 8 of 11, 2-1 9 of 11, 2-4 10 of 11" in text


def test_the_block_shows_where_they_are_to_those_who_may_see_plots(signed_in, ana, vera, with_gaps):
    where = block_page(with_gaps.blocks[1])
    html = signed_in(ana).get(where).content.decode()
    assert '"coordinates": [-7.25, 41.5]' in html
    assert "Dark rings are plots below the target" in html
    seen = signed_in(vera).get(where)
    assert "41.5" not in seen.content.decode()
    assert "2-3" not in words(seen)
