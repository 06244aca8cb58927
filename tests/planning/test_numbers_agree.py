"""Figures that several pages tell of one plan agree, and count the same trees in the same unit."""

from datetime import date, timedelta
from itertools import product

import pytest
from django.urls import reverse
from django.utils import timezone

from projects import models as p
from projects.calc import seed
from projects.calc.mix_rules import LOT_SIZE, ON_OFFER
from projects.calc.planting_windows import FROST_HEAVE, REASONS
from projects.selectors import plan_buying, plan_sums
from projects.selectors.carbon import project_carbon
from projects.selectors.expected_living import expected_living
from projects.selectors.foreseen_survival import foreseen_survival
from projects.selectors.mix_choices import usable
from projects.selectors.mix_page import MixFacts
from projects.selectors.mix_rules import PlanRules
from projects.selectors.plan_content import content_of
from projects.selectors.plan_verdict import verdict_of
from projects.selectors.plan_windows import best_week, years_of
from projects.selectors.plans import frame_of
from projects.selectors.stock_choices import Wishes, is_cheapest_for_sure, stock_choices
from projects.services import plan_costs
from tests import factories
from tests.planning.plan_rows import Planned, mixed

CARBON = {"years": 10, "forest": "planted", "growth_low": None, "growth_high": None}


@pytest.fixture
def planned(db):
    return Planned()


def frame(planned):
    planned.plan.refresh_from_db()
    return frame_of(planned.actor, planned.plan)


def living_of_plan(planned):
    """Mean living trees as the plan's papers and as the pages of money and value tell them."""
    found = frame(planned)
    sums = plan_sums.sums_of(planned.actor, found)
    return plan_sums.living_in(found, sums)["mean"], expected_living(planned.project).mean


# --- living trees ---------------------------------------------------------------------------------------
def test_papers_and_money_expect_the_same_trees(planned):
    papers, money = living_of_plan(planned)
    assert papers == pytest.approx(600 * 0.8) == money


def test_lines_of_one_kind_with_other_survivals_are_each_counted_at_their_own(planned):
    p.MixLine.objects.filter(pk=planned.lines[0].pk).update(
        survival_mean=0.5, survival_low=0.3, survival_high=0.7
    )
    papers, money = living_of_plan(planned)
    assert papers == pytest.approx(300 * 0.5 + 200 * 0.8 + 100 * 0.8) == money


def test_sown_spots_with_a_stated_survival_count_on_every_page(planned):
    unknown = {"survival_mean": None, "survival_low": None, "survival_high": None}
    line = mixed(planned.plan, planned.blocks[0], quantity=50, stock_type="direct_seed", **unknown)
    living = expected_living(planned.project)
    assert (living.trees, living.left_out) == (600, 50)
    p.SurvivalPrior.objects.create(
        organisation=planned.org, species=line.species, stock_type="direct_seed", mean=0.4, weight_trees=20,
        source="our acorns",
    )  # fmt: skip
    papers, money = living_of_plan(planned)
    assert papers == pytest.approx(600 * 0.8 + 50 * 0.4) == money
    assert expected_living(planned.project).left_out == 0


def test_what_is_stated_of_every_stock_type_says_nothing_of_seed(planned):
    oak = planned.lines[0].species
    p.SurvivalPrior.objects.create(
        organisation=planned.org, stock_type="", mean=0.9, weight_trees=50, source="hope"
    )
    found = foreseen_survival(planned.project, [(oak.pk, "direct_seed"), (oak.pk, "container")])
    assert found[oak.pk, "direct_seed"].is_missing
    assert found[oak.pk, "container"].mean == pytest.approx(0.9)


def test_seed_spots_planted_without_a_plan_are_named_as_left_out(hill, project, block, oak):
    lot = factories.lot(hill, oak, unit="seed_spot", stock_type="direct_seed")
    factories.cohort(block, lot, factories.season(hill), planted=70)
    living = expected_living(project)
    assert (living.trees, living.left_out) == (0, 70)


# --- ground -----------------------------------------------------------------------------------------------
def test_carbon_counts_no_ground_the_plan_leaves_alone(planned):
    planned.site.ecological_zone = "temperate_oceanic"
    planned.site.save()
    (before,) = project_carbon(planned.actor, planned.project, expected_living(planned.project), CARBON)
    factories.block(planned.org, planned.project, planned.site, name="North", net_area_ha=20)
    (after,) = project_carbon(planned.actor, planned.project, expected_living(planned.project), CARBON)
    assert before.area_ha == after.area_ha == 1.0
    assert before.co2 == after.co2


def test_spots_stated_by_hand_hold_on_every_page(planned):
    east = planned.blocks[0]
    p.Plan.objects.update(mix_rules={"spots": {str(east.uid): 123}})
    assert {each.block.name: each.spots for each in frame(planned).used}["East"] == 123
    row = next(each for each in content_of(planned.actor, planned.plan)["blocks"] if each["name"] == "East")
    assert (row["spots"], row["per_ha"]) == (123, None)


def test_trees_of_holdings_are_the_spots_of_their_block(planned):
    west = planned.blocks[1]
    p.Block.objects.filter(pk=west.pk).update(layout="holdings", pattern="irregular")
    for label, trees in (("one", 40), ("two", 60)):
        p.Holding.objects.create(organisation=planned.org, block=west, label=label, trees_received=trees)
    assert {each.block.name: each.spots for each in frame(planned).used}["West"] == 100


# --- the second wave --------------------------------------------------------------------------------------
def test_a_second_wave_without_a_season_has_no_days_and_no_season_of_money(planned):
    p.Plan.objects.update(season=planned.season)
    planned.plan.refresh_from_db()
    line = mixed(planned.plan, planned.blocks[0], "fagus-sylvatica", 80, wave=2)
    found = frame(planned)
    days = plan_buying.days_of_lines(found, timezone.now().date())
    assert days[line.pk] is None and days[planned.lines[0].pk] is not None
    rows = plan_costs.planned_plants(planned.plan, list(planned.plan.mix_lines.all()))
    assert {row.season for row in rows if row.to_plant == 80} == {None}
    assert {row.season for row in rows if row.to_plant != 80} == {planned.season.pk}


def test_costs_drawn_without_a_season_give_way_to_those_of_a_later_version(planned):
    def take(plan):
        return plan_costs.take_costs_in(actor=planned.actor, plan=plan, day_cost_minor=0, currency="EUR")

    p.Plan.objects.update(season=None)
    planned.plan.refresh_from_db()
    take(planned.plan)
    newer = p.Plan.objects.create(
        organisation=planned.org, project=planned.project, version=2, season=planned.season
    )  # fmt: skip
    mixed(newer, planned.blocks[0], quantity=10)
    take(newer)
    assert {line.plan_id for line in planned.project.budget_lines.all()} == {newer.pk}


# --- seed -------------------------------------------------------------------------------------------------
def test_germination_and_hard_seed_may_add_up_to_all_of_it():
    for germination, hard in product(range(1, 101), range(100)):
        if germination + hard == 100:
            assert seed.pure_live_share(1, germination / 100, hard / 100) == pytest.approx(1)
    with pytest.raises(ValueError, match="together"):
        seed.pure_live_share(1, 0.93, 0.08)


# --- windows ----------------------------------------------------------------------------------------------
def container_year(planned):
    found = next(each for each in frame(planned).used if each.block.name == "East")
    return years_of(found, list(p.SoilSample.objects.all()), {"container"})["container"]


def test_frost_heave_closes_days_of_a_plan_as_it_does_on_the_page_of_windows(planned):
    planned.site.climate_normals = {
        "mean_minimum_c": [1, 1, 2, 4, 7, 10, 12, 12, 10, 7, 4, 2],
        "mean_maximum_c": [7, 7, 9, 12, 16, 18, 20, 20, 17, 13, 10, 8],
        "rain_mm": [90, 70, 70, 55, 55, 60, 60, 75, 80, 95, 95, 95],
    }
    planned.site.save()
    assert container_year(planned).open.all()
    window = p.PlantingWindow(opens_on=date(2027, 3, 1), closes_on=date(2027, 4, 30))
    assert best_week(window, container_year(planned)) is None  # every week is as good
    p.SoilSample.objects.create(
        organisation=planned.org, site=planned.site, block=planned.blocks[0], taken_on=date(2026, 1, 5), label="S1",
        texture="fine", drainage="poor",
    )  # fmt: skip
    heaved = container_year(planned)
    assert REASONS.index(FROST_HEAVE) in set(heaved.reason)
    assert best_week(window, heaved) is not None


def test_a_window_that_is_open_all_year_names_no_best_week_and_no_last_day(signed_in, ana, site, block):
    site.climate_normals = {"mean_minimum_c": [20] * 12, "mean_maximum_c": [30] * 12, "rain_mm": [250] * 12}
    site.climate_source, site.boundary = "a gauge", factories.SQUARE
    site.save()
    address = reverse("projects:block_windows", kwargs={"org": "hill", "uid": block.uid})
    page = signed_in(ana).get(address)
    row = next(each for each in page.context["year"].rows if each.stock_type == "container")
    assert [each.window.days for each in row.found] == [365]
    text = page.content.decode()
    assert "no week is better" in text and "open all year" in text
    assert "latest day with time to root: 31" not in text
    drawn = next(each for each in page.context["year"].ribbons[0].rows if each.label == row.label)
    assert drawn.best == []


# --- money ------------------------------------------------------------------------------------------------
def test_a_price_in_another_currency_is_added_to_no_planting_and_compared_with_nothing(hill, block, oak, lot):
    for stock_type, price, currency in (("bare_root", 50, "EUR"), ("container", 5_000, "UGX")):
        p.StockOffer.objects.create(
            organisation=hill, nursery=lot.nursery, species=oak, stock_type=stock_type, unit_price_minor=price,
            currency=currency,
        )  # fmt: skip
    rows = stock_choices(block, oak, Wishes(90_00, {}, {}, 20), date(2026, 6, 1))
    found = {row.stock_type: row for row in rows}
    assert found["container"].offer.currency == "UGX" and found["container"].cost is None
    assert found["bare_root"].cost.expected == pytest.approx((50 + 90) / 0.7)
    assert rows[0].stock_type == "bare_root" and not is_cheapest_for_sure(rows)


def offered(planned, price, **fields):
    nursery, _made = p.Nursery.objects.get_or_create(organisation=planned.org, name="Alto", lead_time_weeks=4)
    return p.StockOffer.objects.create(
        organisation=planned.org, nursery=nursery, species=planned.lines[0].species, unit_price_minor=price,
        **{"stock_type": "bare_root", **fields},
    )  # fmt: skip


def test_a_price_for_thousands_does_not_keep_a_small_plan_from_the_price_for_a_few(planned):
    thousands, few = offered(planned, 30, least_quantity=5000), offered(planned, 60)
    abroad = offered(planned, 1, currency="UGX")
    kind = (few.species_id, "bare_root")
    assert usable([abroad, thousands, few], "EUR", 800, PlanRules())[kind] == few
    assert usable([abroad, thousands, few], "EUR", 13_000, PlanRules())[kind] == thousands  # 40 % are 5,200
    assert usable([abroad, thousands], "EUR", 800, PlanRules())[kind] == thousands


def test_a_mix_by_hand_may_take_what_all_sellers_have_together(planned):
    offered(planned, 30, on_offer=300, least_quantity=100)
    offered(planned, 60, on_offer=400, least_quantity=200)
    offered(planned, 10, on_offer=5, unit="seed_area", stock_type="direct_seed")
    found = MixFacts(planned.plan, frame(planned))
    assert found.limits == {(planned.lines[0].species_id, "bare_root"): (700, 100)}
    assert not [rule for rule in found.page().broken if rule.kind in (ON_OFFER, LOT_SIZE)]
    p.MixLine.objects.filter(pk=planned.lines[0].pk).update(quantity=600)  # 800 planted are 842 to buy
    found = MixFacts(planned.plan, frame(planned))
    assert [rule.kind for rule in found.page().broken if rule.kind in (ON_OFFER, LOT_SIZE)] == [ON_OFFER]


# --- agreements -------------------------------------------------------------------------------------------
def test_an_agreement_that_ends_before_the_second_wave_is_told(planned):
    p.Consent.objects.filter(kind="tenure").update(expires_on=planned.season.ends_on + timedelta(days=400))
    p.Plan.objects.update(season=planned.season)

    def told():
        found = verdict_of(planned.actor, frame(planned)).warnings
        return [each.words for each in found if "right to the land" in each.words]

    assert told() == []
    years = timedelta(days=3 * 365)
    later = p.Season.objects.create(
        organisation=planned.org, kind="planting", label="Three years on", starts_on=planned.season.starts_on + years,
        ends_on=planned.season.ends_on + years,
    )  # fmt: skip
    p.Plan.objects.update(second_season=later)
    assert len(told()) == 1
