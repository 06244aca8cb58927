"""The scenario itself, before any database: same bytes, balanced books, counts true to their truth."""

import json
from datetime import date, datetime, timedelta
from statistics import mean

import pytest
from shapely.geometry import Point, Polygon

from monitoring.demo import SEED
from monitoring.demo.kimbaru import FARMS, KIMBARU
from monitoring.demo.records import negative_count
from monitoring.demo.serra_blocks import EAST
from monitoring.demo.serra_lots import COLD_OAKS, GAP_LOT, WARM_OAKS, waiting_lot
from monitoring.demo.serra_survey import SERRA
from monitoring.demo.sheets import Sheets, every_sheet
from monitoring.services.visit_body import read_visit
from projects.services.log import Rejected
from tests.demo.truth import compared

PLANS = pytest.mark.parametrize("plan", [SERRA, KIMBARU], ids=lambda plan: plan.slug)
OTHER_SEEDS = range(1, 16)


def left_over(plan, lot):
    """Received less everything written down, the last stock take included."""
    planted = sum(p.quantity for b in plan.blocks for p in b.plantings if p.lot == lot.code)
    moved = sum(quantity for _kind, quantity, _day, _note in lot.movements)
    return lot.received - planted - moved - (lot.takes[-1][1] if lot.takes else 0)


# --- bytes ----------------------------------------------------------------------------------
@PLANS
def test_two_generations_write_the_same_bytes(plan):
    first, second = ([(s.id, s.body, s.personal) for s in every_sheet(plan, SEED)] for _time in range(2))
    assert first == second
    assert len({uid for uid, _body, _personal in first}) == len(first)


@PLANS
def test_another_seed_tells_other_counts_under_the_same_identities(plan):
    ours, others = every_sheet(plan, SEED), every_sheet(plan, SEED + 1)
    assert {s.id for s in ours} & {s.id for s in others}
    assert [s.body for s in ours] != [s.body for s in others]


@PLANS
def test_every_record_is_a_readable_visit(plan):
    for sheet in every_sheet(plan, SEED):
        assert read_visit("visit/1", sheet.body).observed_on == sheet.observed_on


def test_the_refused_record_is_refused_for_its_minus_sign():
    sheet = next(s for s in every_sheet(SERRA, SEED) if s.round is not None)
    with pytest.raises(Rejected) as refused:
        read_visit("visit/1", negative_count(sheet, SERRA.slug).body)
    assert [fault.pointer for fault in refused.value.faults] == ["/lines/0/alive"]


# --- books ----------------------------------------------------------------------------------
def test_every_lot_is_accounted_for_but_the_one_with_a_gap():
    gaps = {lot.code: left_over(plan, lot) for plan in (SERRA, KIMBARU) for lot in plan.lots}
    assert {code: gap for code, gap in gaps.items() if gap} == {GAP_LOT: 55}


@PLANS
def test_a_planting_is_of_the_species_and_stock_type_of_its_lot(plan):
    for block in plan.blocks:
        for planting in block.plantings:
            if planting.lot:
                lot = plan.lot(planting.lot)
                assert (planting.species, planting.stock_type) == (lot.species, lot.stock_type)
                assert lot.received_on <= planting.days[0][0]


def test_the_uncooled_lot_waited_eleven_days_and_the_cold_one_longer():
    warm, cold = SERRA.lot(WARM_OAKS), SERRA.lot(COLD_OAKS)
    first = {
        lot.code: min(p.days[0][0] for b in SERRA.blocks for p in b.plantings if p.lot == lot.code)
        for lot in (warm, cold)
    }
    assert not warm.stores and first[WARM_OAKS] - warm.lifted_on == timedelta(days=11)
    assert first[COLD_OAKS] - cold.lifted_on > timedelta(days=11) and cold.stores[0][0] == "cold_store"


def test_the_waiting_lot_waits_on_any_day():
    for today in (date(2026, 11, 25), date(2027, 1, 31)):
        assert today - waiting_lot(today).lifted_on == timedelta(days=4)


def test_the_scenario_has_its_full_size():
    plantings = [p for block in SERRA.blocks for p in block.plantings]
    assert 45_000 <= sum(p.quantity for p in plantings if p.unit == "tree") <= 47_000
    assert {"bare_root", "container", "balled_burlapped", "direct_seed"} <= {p.stock_type for p in plantings}
    assert (len(SERRA.projects), len(SERRA.sites), len(SERRA.nurseries)) == (4, 3, 5)
    assert sum(p.unit == "seed_spot" for p in plantings) == 2
    assert sum(p.trees["VK-25"] for p in KIMBARU.block(FARMS).farms) == 3200


# --- ground ---------------------------------------------------------------------------------
@PLANS
def test_blocks_lie_inside_their_site_and_apart(plan):
    for site in plan.sites:
        outline = Polygon(site.outline_m)
        shapes = [Polygon(b.corners_m) for b in plan.blocks if b.site == site.name and b.corners_m]
        assert outline.is_valid and all(shape.is_valid and outline.contains(shape) for shape in shapes)
        assert not any(a.intersects(b) for n, a in enumerate(shapes) for b in shapes[n + 1 :])


@PLANS
def test_plots_lie_in_their_block(plan):
    sheets = Sheets(plan, SEED)
    for block in plan.blocks:
        for plot in sheets.drawn[block.name]:
            if block.corners_m and plot.point_m:
                assert Polygon(block.corners_m).distance(Point(plot.point_m)) < 0.1  # rounded to a decimetre


# --- counts ---------------------------------------------------------------------------------
@PLANS
def test_every_line_adds_up_to_what_was_planted(plan):
    for seen in Sheets(plan, SEED).fates.values():
        for line in seen.lines:
            told = line.alive + line.dead_stem + line.empty_spot + line.not_found + line.removed
            assert told == line.planted
            assert sum(line.signs.values()) <= line.dead_stem


def test_survival_rises_only_where_oaks_sprout_again():
    rising = {
        (block.name, planting.species)
        for block in SERRA.blocks
        for planting in block.plantings
        if list(planting.survival.values()) != sorted(planting.survival.values(), reverse=True)
    }
    assert rising == {(EAST, "quercus-suber")}


def test_intervals_cover_the_truth_in_about_the_nominal_share_of_blocks():
    rows = [row for seed in OTHER_SEEDS for plan in (SERRA, KIMBARU) for row in compared(plan, seed)]
    assert len(rows) == 21 * len(OTHER_SEEDS)
    assert (
        0.92 <= mean(row.is_covered for row in rows) <= 0.995
    )  # nominal 0.95; rounds of a block are not independent
    assert abs(mean(row.value - row.truth for row in rows)) < 0.02


def test_the_demos_own_draw_is_no_outlier():
    rows = [row for plan in (SERRA, KIMBARU) for row in compared(plan, SEED)]
    assert sum(row.is_covered for row in rows) >= 0.9 * len(rows)


# --- clocks ---------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("plan", "month", "hours"), [(SERRA, 10, 1), (SERRA, 2, 0), (KIMBARU, 10, 3), (KIMBARU, 2, 3)]
)
def test_a_record_carries_the_clock_of_its_site(plan, month, hours):
    moments = [datetime.fromisoformat(json.loads(s.body)["captured_at"]) for s in every_sheet(plan, SEED)]
    offsets = {m.utcoffset() for m in moments if m.month == month and m.day < 25}
    assert offsets == {timedelta(hours=hours)}
