"""A plan's quantities page: enough or not, of whom to buy by when, deliveries, and the drafts it makes."""

from datetime import date

import pytest
from django.urls import reverse

from projects import clocks
from projects.errors import Refusal
from projects.models import HistoryEntry, MixLine, PlantingWindow, StockOffer, StockOrder, SurvivalPrior
from projects.selectors.offers import current_offers
from projects.selectors.plan_buying import days_of_lines, to_buy
from projects.selectors.plan_targets import expected_of, targets_of
from projects.selectors.plans import frame_of
from projects.services import plan_quantities, plans
from tests import factories

TODAY = date(2026, 6, 1)


@pytest.fixture(autouse=True)
def june(monkeypatch):
    monkeypatch.setattr(clocks, "today_of", lambda organisation: TODAY)
    monkeypatch.setattr(clocks, "today_at", lambda site: TODAY)


@pytest.fixture
def birch(db):
    return factories.species("betula-pendula")


@pytest.fixture
def plan(actor, hill, project, block, oak, birch):
    """2 ha at 1000 a hectare; 1 000 spots to the hectare's 2 000; oak at 24:6, birch left to what is foreseen."""
    block.target_stocking_per_ha = 550
    block.save()
    plan = plans.begin_plan(actor=actor, project=project)
    plan.season = factories.season(hill, label="winter", year=2027)
    plan.assurance, plan.cull_share, plan.handling_loss_share, plan.slack_weeks = 0.95, 0.03, 0.02, 2
    plan.save()
    MixLine.objects.create(
        organisation=hill, plan=plan, block=block, species=oak, stock_type="bare_root", quantity=1375,
        survival_mean=0.8, survival_low=0.642, survival_high=0.9204, survival_source="a trial",
    )  # fmt: skip
    return plan


@pytest.fixture
def window(hill, block):
    return PlantingWindow.objects.create(
        organisation=hill, block=block, stock_type="bare_root", opens_on=date(2026, 12, 1), closes_on=date(2027, 2, 26)
    )  # fmt: skip


def offer(nursery, species, price, **fields):
    return StockOffer.objects.create(
        organisation=nursery.organisation, nursery=nursery, species=species, unit_price_minor=price,
        **{"stock_type": "bare_root", **fields},
    )  # fmt: skip


@pytest.fixture
def nurseries(hill):
    from projects.models import Nursery

    make = Nursery.objects.create
    return [
        make(organisation=hill, name="Alto", lead_time_weeks=10),
        make(organisation=hill, name="Pardo", lead_time_weeks=40),
    ]


def address(name, plan):
    return reverse(f"projects:{name}", kwargs={"org": "hill", "uid": plan.uid})


def bought_of(actor, plan):
    frame = frame_of(actor, plan)
    return to_buy(frame, days_of_lines(frame, TODAY), current_offers(actor.organisation, TODAY), TODAY)


def test_the_page_says_how_many_are_enough_and_scales_the_mix(signed_in, ana, actor, plan, block):
    """L5: 1 100 living of oaks at Beta(24, 6), 95 % sure, want about 1 642."""
    browser = signed_in(ana)
    frame = frame_of(actor, plan)
    (row,) = targets_of(frame, expected_of(frame))
    assert (row.target, row.spots, row.found.n_expected) == (1100, 4000, 1375)
    assert abs(row.found.n_assured - 1642) <= 2  # limits were rounded to four places
    text = browser.get(address("plan_quantities", plan)).content.decode()
    assert "1\u202f100 expected alive" in text and "Plant this many" in text
    browser.post(address("plan_enough", plan), {"block": block.uid})
    line = plan.mix_lines.get()
    assert line.quantity == row.found.n_assured
    entry = HistoryEntry.objects.get(subject_uid=plan.uid, verb="plan.mix_edited")
    assert entry.change == {"North slope: Quercus robur, bare-root": [1375, line.quantity]}
    assert "Plant this many" not in browser.get(address("plan_quantities", plan)).content.decode()


def test_ground_that_does_not_hold_them_is_said_and_nothing_changes(signed_in, ana, actor, plan, block):
    block.target_stocking_per_ha = 1900
    block.save()
    browser = signed_in(ana)
    assert "The ground does not hold them." in browser.get(address("plan_quantities", plan)).content.decode()
    answer = browser.post(address("plan_enough", plan), {"block": block.uid}, follow=True)
    assert "has 4\u202f000 planting spots and needs" in answer.content.decode()
    assert plan.mix_lines.get().quantity == 1375


def test_an_approved_plan_is_not_scaled(actor, plan, block):
    plan.approved_at = "2026-06-01T10:00Z"
    plan.save()
    with pytest.raises(Refusal, match="never changes"):
        plan_quantities.plant_enough(actor=actor, plan=plan, block_uid=block.uid)


@pytest.mark.parametrize("block_sent", ["", "nothing", "019aa000-0000-7000-8000-000000000000"])
def test_a_block_that_is_none_changes_nothing(signed_in, ana, plan, block_sent):
    answer = signed_in(ana).post(address("plan_enough", plan), {"block": block_sent})
    assert answer.status_code in (302, 404)
    assert plan.mix_lines.get().quantity == 1375


def test_what_is_missing_is_said(signed_in, ana, plan, block, oak, hill):
    line = plan.mix_lines.get()
    line.stock_type, line.survival_mean = "direct_seed", None
    line.save()
    page = address("plan_quantities", plan)
    browser = signed_in(ana)
    assert "Nothing is known of the survival of sown seed here." in browser.get(page).content.decode()
    SurvivalPrior.objects.create(
        organisation=hill, species=oak, stock_type="direct_seed", mean=0.3, weight_trees=50, source="our acorns"
    )  # fmt: skip
    text = browser.get(page).content.decode()
    assert "our acorns" in text and "Nothing is known" not in text
    block.target_stocking_per_ha = None
    block.save()
    assert "No target stocking is set" in browser.get(page).content.decode()


def test_two_waves_of_one_kind_share_one_survival(actor, plan, block, oak, hill):
    first = plan.mix_lines.get()
    MixLine.objects.create(
        organisation=hill, plan=plan, block=block, species=oak, stock_type="bare_root", quantity=1000, wave=2,
        survival_mean=0.8, survival_low=0.642, survival_high=0.9204,
    )  # fmt: skip
    frame = frame_of(actor, plan)
    (row,) = targets_of(frame, expected_of(frame))
    assert [(line.pk, planted) for line, planted in row.kinds] == [(first.pk, 2375)]


def test_the_order_counts_culls_and_losses_and_goes_to_the_cheapest_first(
    actor, plan, oak, nurseries, window
):
    """L1: 1 375 planted are 1 447 ordered."""
    alto, pardo = nurseries
    cheap, rest = offer(alto, oak, 60, on_offer=1000), offer(pardo, oak, 75, least_quantity=500)
    offer(alto, oak, 10, stock_type="container")
    offer(alto, oak, 5, currency="KES")
    (row,) = bought_of(actor, plan)
    assert (row.planted, row.ordered, row.first_day) == (1375, 1447, date(2027, 1, 1))
    assert [(part.offer, part.quantity) for part in row.parts] == [(cheap, 947), (rest, 500)]
    assert [part.order_by for part in row.parts] == [date(2026, 10, 9), date(2026, 3, 13)]
    assert (row.surplus, row.missing, row.elsewhere) == (0, 0, 1)


def test_a_passed_day_says_what_can_still_be_done(signed_in, ana, actor, plan, oak, nurseries, window):
    _alto, pardo = nurseries
    late = offer(pardo, oak, 75)
    other = offer(pardo, oak, 98, stock_type="container", lead_time_weeks=38)
    offer(pardo, oak, 98, stock_type="wildling", lead_time_weeks=39)
    (row,) = bought_of(actor, plan)
    assert row.order_by == date(2026, 3, 13) < TODAY
    assert row.ways_out == [(other, date(2027, 2, 22))]
    assert row.next_year == date(2027, 3, 13)
    assert late.weeks_to_wait == 40
    text = signed_in(ana).get(address("plan_quantities", plan)).content.decode()
    assert "The day has passed." in text and "Pardo, container-grown" in text


def test_without_a_window_the_season_counts_and_without_both_nothing(actor, plan, oak, nurseries):
    offer(nurseries[0], oak, 60)
    assert bought_of(actor, plan)[0].first_day == date(2027, 1, 1)
    plan.season = None
    plan.save()
    (row,) = bought_of(actor, plan)
    assert (row.first_day, row.order_by) == (None, None)
    assert row.parts[0].quantity == 1447


def test_orders_are_drafted_once_for_each_nursery(
    signed_in, ana, actor, plan, oak, birch, hill, block, nurseries, window
):
    alto, pardo = nurseries
    offer(alto, oak, 60, on_offer=1000)
    offer(pardo, oak, 75)
    offer(pardo, birch, 50)
    other = factories.block(hill, plan.project, block.site, name="South")
    for place, species, number in ((other, oak, 625), (other, birch, 100), (block, birch, 50)):
        MixLine.objects.create(
            organisation=hill, plan=plan, block=place, species=species, stock_type="bare_root", quantity=number
        )  # fmt: skip
    MixLine.objects.create(
        organisation=hill, plan=plan, block=block, species=oak, stock_type="wildling", quantity=7
    )  # fmt: skip
    browser = signed_in(ana)
    browser.post(address("plan_orders", plan))
    browser.post(address("plan_orders", plan))
    orders = {str(row.nursery): row for row in StockOrder.objects.all()}
    assert set(orders) == {"Alto", "Pardo", "None"}
    assert StockOrder.objects.count() == 3
    lines = list(
        orders["Pardo"].lines.values_list("species__slug", "block__name", "quantity", "unit_price_minor")
    )
    assert sum(number for slug, _block, number, _price in lines if slug == "betula-pendula") == 158
    oaks = [
        row for order in orders.values() for row in order.lines.filter(species=oak, stock_type="bare_root")
    ]
    assert sum(row.quantity for row in oaks) == 2104  # 2 000 / 0.97 / 0.98 = 2103.9
    assert sum(row.quantity for row in oaks if row.block == other) == 657
    assert orders["Alto"].order_by == date(2026, 10, 9)
    assert orders["Alto"].needed_by == date(2027, 1, 1)
    assert orders["Alto"].copied_figures["plan"] == str(plan.uid)
    text = browser.get(address("plan_quantities", plan)).content.decode()
    assert "Drafted from this plan" in text and "Draft the orders" not in text
    for row in orders.values():
        row.status = "cancelled"
        row.save()
    assert plan_quantities.draft_orders(actor=actor, plan=plan)[1]


def test_an_empty_plan_orders_nothing(actor, plan):
    plan.mix_lines.all().delete()
    with pytest.raises(Refusal, match="nothing to order"):
        plan_quantities.draft_orders(actor=actor, plan=plan)


def test_deliveries_fit_the_crew_or_say_who_would_do(signed_in, ana, plan, oak, nurseries, window):
    offer(nurseries[0], oak, 60)
    browser = signed_in(ana)
    page = address("plan_quantities", plan)
    found = browser.get(page).context["deliveries"]
    assert (found.plants_a_day, found.crew_days, len(found.rows), found.left_over) == (600, 3, 1, [])
    assert [(row.nursery, row.planted_by) for row in found.rows] == [("Alto", date(2027, 1, 5))]
    plan.crew_people = plan.trees_per_person_day = 1
    plan.save()
    answer = browser.get(page, {"days_a_week": "7", "wait_bare_root": "3"})
    found = answer.context["deliveries"]
    assert found.left_over[0][1] == 1375 - 57  # 1 January to 26 February
    assert (found.people, max(row.quantity for row in found.rows)) == (25, 3)
    assert "25 people would get everything into the ground" in answer.content.decode()
    wrong = browser.get(page, {"days_a_week": "9"})
    assert wrong.status_code == 422 and 'value="9"' in wrong.content.decode()


def test_a_lead_reads_it_but_neither_scales_nor_drafts(signed_in, ben, plan, block):
    browser = signed_in(ben)
    text = browser.get(address("plan_quantities", plan)).content.decode()
    assert "Plant this many" not in text and "Draft the orders" not in text
    for name in ("plan_enough", "plan_orders"):
        assert browser.post(address(name, plan), {"block": block.uid}).status_code == 403


def test_the_page_costs_the_same_however_many_blocks(
    signed_in, ana, hill, plan, block, oak, nurseries, window
):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    offer(nurseries[0], oak, 60)
    browser = signed_in(ana)
    page = address("plan_quantities", plan)

    def queries():
        with CaptureQueriesContext(
            connection,
        ) as seen:
            assert browser.get(page).status_code == 200
        return len(seen)

    queries()
    few = queries()
    for _n in range(19):
        place = factories.block(hill, plan.project, block.site, target_stocking_per_ha=500)
        MixLine.objects.create(
            organisation=hill, plan=plan, block=place, species=oak, stock_type="bare_root", quantity=100,
            survival_mean=0.8, survival_low=0.6, survival_high=0.9,
        )  # fmt: skip
    assert queries() == few
