"""Which planting windows close soon with something left to plant in them."""

from datetime import date, timedelta

import pytest
from django.utils import timezone

from projects.models import (
    LotMovement,
    MixLine,
    OrderLine,
    Plan,
    PlantingDay,
    PlantingWindow,
    StockLot,
    StockOrder,
)
from projects.selectors.closing_windows import closing_windows
from projects.selectors.season_windows import later
from projects.services.windows import COMPUTED
from tests import factories

pytestmark = pytest.mark.django_db
WITHIN = timedelta(days=21)
CLOSES = date(2027, 1, 10)
TODAY = date(2026, 12, 28)


@pytest.fixture
def window(hill, block):
    return PlantingWindow.objects.create(
        organisation=hill, block=block, stock_type="bare_root", opens_on=date(2026, 11, 15), closes_on=CLOSES
    )


@pytest.fixture
def plan(hill, project):
    season = factories.season(hill, label="winter", year=2026)
    type(season).objects.filter(pk=season.pk).update(starts_on=date(2026, 10, 1), ends_on=date(2027, 4, 1))
    season.refresh_from_db()
    return Plan.objects.create(
        organisation=hill, project=project, version=1, approved_at=timezone.now(), season=season
    )


def asked(plan, block, oak, quantity=100, **fields):
    values = {"stock_type": "bare_root", "wave": 1, **fields}
    return MixLine.objects.create(
        organisation=plan.organisation, plan=plan, block=block, species=oak, quantity=quantity, **values
    )


def ordered(hill, project, block, oak, status="placed", quantity=60):
    order = StockOrder.objects.create(organisation=hill, project=project, status=status)
    return OrderLine.objects.create(
        organisation=hill, order=order, block=block, species=oak, stock_type="bare_root", quantity=quantity
    )


def found(hill, today=TODAY):
    return [
        (each.window.closes_on, each.planned, each.ordered, each.on_hand)
        for each in closing_windows(hill, today, WITHIN)
    ]


def test_a_window_with_nothing_to_plant_is_nobodys_care(hill, window):
    assert found(hill) == []


@pytest.mark.parametrize(
    ("today", "is_near"),
    [(date(2026, 12, 19), False), (date(2026, 12, 20), True), (CLOSES, True), (date(2027, 1, 11), False)],
)
def test_it_is_near_from_three_weeks_before_until_its_last_day(
    hill, window, plan, block, oak, today, is_near
):
    asked(plan, block, oak)
    assert bool(found(hill, today)) == is_near
    assert found(hill, today + timedelta(days=365)) == []  # stated by hand, it holds for its own dates


def test_one_worked_out_from_the_climate_comes_round_every_year_over_new_year_too(
    hill, window, plan, block, oak
):
    PlantingWindow.objects.update(opens_on=date(2024, 11, 15), closes_on=date(2025, 1, 10), source=COMPUTED)
    asked(plan, block, oak)
    assert found(hill) == [(CLOSES, 100, 0, 0)]  # it is December, and it closes next year
    assert found(hill, date(2027, 1, 2)) == [(CLOSES, 100, 0, 0)]


def test_what_was_planted_since_the_season_began_is_taken_off_the_plan(hill, window, plan, block, oak, lot):
    asked(plan, block, oak)
    cohort = factories.cohort(block, lot, plan.season, planted=30, planted_on=date(2026, 10, 20))
    PlantingDay.objects.create(
        organisation=hill, block=block, cohort=cohort, lot=lot, planted_on=date(2026, 9, 20), quantity=50
    )
    voided = PlantingDay.objects.create(
        organisation=hill, block=block, cohort=cohort, lot=lot, planted_on=date(2026, 12, 1), quantity=7
    )
    PlantingDay.objects.filter(pk=voided.pk).update(voided_at=timezone.now())
    assert found(hill) == [(CLOSES, 70, 0, 0)]


def test_only_the_latest_approved_plan_and_the_wave_of_this_season_count(
    hill, window, plan, project, block, oak
):
    asked(plan, block, oak, 100)
    asked(plan, block, factories.species("betula-pendula"), 5, wave=2)  # goes in with a later season
    later = {"organisation": hill, "project": project, "season": plan.season}
    draft = Plan.objects.create(**later, version=3)
    asked(draft, block, oak, 900)
    assert found(hill) == [(CLOSES, 100, 0, 0)]
    newer = Plan.objects.create(**later, version=2, approved_at=timezone.now())
    asked(newer, block, oak, 40)
    asked(newer, block, oak, 300, stock_type="container")  # another stock type has another window
    assert found(hill) == [(CLOSES, 40, 0, 0)]
    Plan.objects.filter(pk=newer.pk).update(season=factories.season(hill, label="spring", year=2028))
    assert found(hill) == []


def test_stock_on_order_and_on_hand_is_told_apart(hill, window, project, block, oak):
    line = ordered(hill, project, block, oak)
    ordered(hill, project, block, oak, status="draft")
    ordered(hill, project, block, oak, status="cancelled")
    assert found(hill) == [(CLOSES, 0, 60, 0)]
    factories.lot(hill, oak, received=45, order_line=line)
    factories.lot(hill, oak, received=500)  # nobody said for which block
    assert found(hill) == [(CLOSES, 0, 15, 45)]
    OrderLine.objects.filter(pk=line.pk).update(confirmed_quantity=45)
    assert found(hill) == [(CLOSES, 0, 0, 45)]
    back = {"organisation": hill, "lot": StockLot.objects.get(order_line=line), "moved_on": TODAY}
    LotMovement.objects.create(**back, kind="culled", quantity=5)
    LotMovement.objects.create(**back, kind="returned", quantity=30)
    assert found(hill) == [(CLOSES, 0, 30, 10)]  # sent back is owed again, culled is not


def test_a_block_or_project_put_away_waits_for_nothing(hill, window, plan, project, block, oak):
    asked(plan, block, oak)
    for row in (block, project):
        type(row).objects.filter(pk=row.pk).update(archived_at=timezone.now())
        assert found(hill) == []
        type(row).objects.filter(pk=row.pk).update(archived_at=None)
    assert found(hill)


def test_however_many_windows_are_near_the_questions_are_the_same_few(
    hill, window, plan, project, site, block, oak, django_assert_max_num_queries
):
    for _n in range(6):
        more = factories.block(hill, project, site)
        PlantingWindow.objects.create(
            organisation=hill, block=more, stock_type="bare_root", opens_on=TODAY, closes_on=CLOSES
        )
        asked(plan, more, oak)
        factories.lot(hill, oak, order_line=ordered(hill, project, more, oak))
    with django_assert_max_num_queries(14):
        assert len(found(hill)) == 6


def test_a_window_that_ends_on_a_leap_day_keeps_it_where_there_is_one():
    leap = date(2028, 2, 29)
    assert [later(leap, years) for years in (0, 1, 4)] == [leap, date(2029, 2, 28), date(2032, 2, 29)]
