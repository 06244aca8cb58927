"""Money by season and block: sums that add up, a contingency that shows, a plan's costs that are never doubled."""

from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st

from projects.calc.money_by_season import Line, Money, added_up, converted, cost_per_living
from projects.calc.plan_costs import PlannedPlants, labour_costs, plant_costs
from projects.errors import Refusal
from projects.models import BudgetLine, HistoryEntry, MixLine, Plan
from projects.selectors.expected_living import expected_living
from projects.selectors.money import money_until, project_money
from projects.services import budget, plan_costs
from tests import factories

amounts = st.integers(0, 10**9)
lines = st.tuples(
    st.sampled_from(["stock", "care", "other"]), st.sampled_from([None, 1, 2]), st.sampled_from([None, "a"]),
    amounts, amounts,
)  # fmt: skip
quick = settings(max_examples=25, deadline=None)


def address(name, row):
    return reverse(f"projects:{name}", kwargs={"org": "hill", "uid": row.uid})


# --- arithmetic --------------------------------------------------------------------------------------
@quick
@given(st.lists(lines, max_size=12), st.sampled_from([0.0, 0.05, 0.1, 0.3, 1.0]))
def test_every_way_of_adding_up_comes_to_the_same_total(rows, share):
    rows = [Line(kind, season, block, Money(planned, spent)) for kind, season, block, planned, spent in rows]
    table = added_up(rows, share)
    kinds = [money for kinds in table.by_season.values() for money in kinds.values()]
    assert sum(kinds, Money()) == sum(table.by_block.values(), Money()) == table.total
    assert table.total.planned == sum(row.money.planned for row in rows)
    assert table.left == table.total.planned + table.set_aside - table.total.spent
    assert abs(table.set_aside - table.total.planned * share) <= 0.5
    assert 0 <= table.taken_from_set_aside <= table.set_aside


def test_what_is_over_is_first_taken_from_what_was_set_aside():
    table = added_up([Line("stock", 1, None, Money(1000, 1070))], 0.1)
    assert (table.total.over, table.set_aside, table.taken_from_set_aside, table.left) == (70, 100, 70, 30)
    gone = added_up([Line("stock", 1, None, Money(1000, 1170))], 0.1)
    assert (gone.taken_from_set_aside, gone.left) == (100, -70)


def test_a_contingency_is_a_share():
    with pytest.raises(ValueError, match="share"):
        added_up([], 1.2)


@pytest.mark.parametrize(
    ("minor", "rate", "digits", "expected"),
    [
        (100_00, "0.92", (2, 2), 92_00),
        (5_000, "0.00025", (0, 2), 125),  # a currency without cents into one with them
        (1_25, "4000", (2, 0), 5_000),  # and back
        (1_000, "3.25", (3, 2), 325),  # thousandths into hundredths
        (1, "0.5", (2, 2), 1),  # half a cent is rounded away from zero
    ],
)
def test_a_rate_is_of_whole_units_whatever_the_minor_units_are(minor, rate, digits, expected):
    assert converted(minor, Decimal(rate), *digits) == expected


@quick
@given(
    st.integers(0, 10**9),
    st.tuples(*[st.floats(0, 1e6)] * 3).map(sorted),
)
def test_more_living_trees_make_each_one_cheaper(minor, trees):
    low, living, high = trees
    cost = cost_per_living(minor, living, low, high)
    assert (cost.most is None) == (low == 0)
    known = [amount for amount in (cost.least, cost.value, cost.most) if amount is not None]
    assert known == sorted(known)


def test_limits_out_of_order_are_refused():
    with pytest.raises(ValueError, match="lowest"):
        cost_per_living(100, 5, 6, 7)


def test_person_days_are_rounded_up_in_each_block_and_plants_without_a_price_are_left_out():
    plants = [
        PlannedPlants("a", 1, 101, 110, 50, "EUR"), PlannedPlants("a", 1, 100, 105, None, "EUR"),
        PlannedPlants("b", 1, 1, 2, 30, "USD"), PlannedPlants("a", 2, 100, 100, 50, "EUR"),
    ]  # fmt: skip
    assert [(cost.block, cost.season, cost.currency, cost.minor) for cost in plant_costs(plants)] == [
        ("a", 1, "EUR", 5500), ("b", 1, "USD", 60), ("a", 2, "EUR", 5000),
    ]  # fmt: skip
    days = {
        (cost.block, cost.season): (cost.person_days, cost.minor) for cost in labour_costs(plants, 100, 7)
    }
    assert days == {("a", 1): (3, 21), ("b", 1): (1, 7), ("a", 2): (1, 7)}


# --- the page -----------------------------------------------------------------------------------------
@pytest.fixture
def winter(hill):
    return factories.season(hill, "planting", label="winter 26/27", year=2026)


@pytest.fixture
def spring(hill):
    return factories.season(hill, "planting", label="winter 27/28", year=2027)


def add(actor, project, **values):
    return budget.add_line(actor=actor, project=project, **{"what": "Guards", "currency": "EUR", **values})


def test_the_page_adds_up_by_season_kind_and_block_and_tells_what_is_over(
    signed_in, ana, actor, project, block, winter, spring
):
    add(
        actor, project, kind="stock", season=winter, block=block, planned_minor=1_000_00, spent_minor=1_200_00
    )
    add(actor, project, kind="care", season=spring, planned_minor=500_00)
    add(actor, project, kind="other", planned_minor=50_00, what="Coffee")
    money = project_money(actor, project)
    assert [row.label for row in money.seasons] == ["winter 26/27", "winter 27/28", ""]
    assert [kind.label for kind in money.seasons[0].kinds] == ["plants and seed"]
    assert [(row.label, row.money.planned) for row in money.blocks] == [
        ("North slope", 1_000_00), ("", 550_00),
    ]  # fmt: skip
    page = signed_in(ana).get(address("project_money", project)).content.decode()
    assert "over by EUR\u00a0200.00" in page
    assert "EUR\u00a0155.00" in page  # a tenth of everything planned
    assert "10\u00a0% of everything planned" in page


def test_spending_beyond_everything_is_told_in_words(signed_in, ana, actor, project):
    add(actor, project, planned_minor=100_00, spent_minor=105_00)
    page = signed_in(ana).get(address("project_money", project)).content.decode()
    assert "EUR\u00a05.00 of the money set aside are used" in page
    add(actor, project, spent_minor=20_00)
    page = signed_in(ana).get(address("project_money", project)).content.decode()
    assert "Spending is EUR\u00a015.00 beyond everything planned" in page


def test_a_plan_beyond_the_budget_is_told(signed_in, ana, actor, project):
    project.budget_minor = 100_00
    project.save()
    add(actor, project, planned_minor=95_00)
    page = signed_in(ana).get(address("project_money", project)).content.decode()
    assert "EUR\u00a04.50 more than the project" in page


def test_other_currencies_are_converted_by_their_rate_or_left_out_by_name(signed_in, ana, actor, project):
    rate = {"exchange_rate": Decimal("0.0067"), "exchange_rate_on": date(2026, 1, 5)}
    add(actor, project, what="Seedlings", currency="KES", planned_minor=100_000, **rate)
    add(actor, project, what="Fence wire", currency="USD", planned_minor=999_00)
    money = project_money(actor, project)
    assert money.table.total.planned == 670
    assert [line.what for line in money.left_out] == ["Fence wire"]
    page = signed_in(ana).get(address("project_money", project)).content.decode()
    assert "Fence wire. It is in another currency than EUR" in page
    assert "1 KES = 0.0067 EUR" in page


def test_the_share_set_aside_is_changed_on_its_own_page(signed_in, ana, project):
    where = address("project_contingency", project)
    assert 'value="10"' in signed_in(ana).get(where).content.decode()
    assert signed_in(ana).post(where, {"contingency_share": "12,5"}).status_code == 302
    project.refresh_from_db()
    assert project.contingency_share == 0.125
    answer = signed_in(ana).post(where, {"contingency_share": "a lot"})
    assert (answer.status_code, "Write a percentage" in answer.content.decode()) == (422, True)
    assert "a lot" in answer.content.decode()


def test_a_budget_in_letters_gets_the_message_of_its_field(signed_in, ana, project):
    typed = {"kind": "care", "what": "Weeding", "planned": "three hundred", "spent": "", "currency": "EUR"}
    answer = signed_in(ana).post(address("budget_line_new", project), typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Write an amount such as 12.50" in page
    assert "three hundred" in page
    assert not BudgetLine.objects.exists()


def test_the_page_costs_the_same_for_two_lines_and_for_twenty(
    signed_in, ana, actor, hill, project, site, plan
):
    def cost():
        with CaptureQueriesContext(connection) as queries:
            assert signed_in(ana).get(address("project_money", project)).status_code == 200
        return len(queries)

    def grow(first, last):
        for number in range(first, last):
            season = factories.season(hill, "planting", label=f"year {number}", year=2000 + number)
            block = factories.block(hill, project, site)
            add(actor, project, season=season, block=block, planned_minor=100)
            mix_line(plan, block, factories.species(f"quercus-n{number}"))

    grow(0, 2)
    few = cost()
    grow(2, 20)
    assert cost() == few


# --- a plan's costs ------------------------------------------------------------------------------------
@pytest.fixture
def plan(hill, project, winter):
    return Plan.objects.create(organisation=hill, project=project, version=1, season=winter)


def mix_line(plan, block, species, quantity=1000, **values):
    known = {"survival_mean": 0.8, "survival_low": 0.6, "survival_high": 0.9, "unit_price_minor": 50}
    return MixLine.objects.create(
        organisation=plan.organisation, plan=plan, block=block, species=species, quantity=quantity,
        **{"stock_type": "bare_root", **known, **values},
    )  # fmt: skip


def take(actor, plan, day=80_00, currency="EUR"):
    return plan_costs.take_costs_in(actor=actor, plan=plan, day_cost_minor=day, currency=currency)


def rows_of(project):
    return [
        (line.kind, line.season_id, line.planned_minor, line.spent_minor, line.plan_id)
        for line in project.budget_lines.order_by("kind", "season_id", "id")
    ]


def test_a_plan_becomes_one_line_for_plants_and_one_for_planting_in_each_block_and_season(
    actor, hill, project, site, block, oak, plan, winter, spring
):
    plan.second_season = spring
    plan.save()
    other = factories.block(hill, project, site)
    ash = factories.species("fraxinus-excelsior")
    mix_line(plan, block, oak)
    mix_line(plan, block, ash, quantity=250)
    mix_line(plan, block, ash, quantity=100, wave=2)
    mix_line(plan, other, oak, quantity=10)
    taken = take(actor, plan)
    assert taken.n_lines == 6
    # At 3 % culled and 2 % lost 1,010 oaks are 1,063 to order, of which 1,052 for the first block; 250 ashes are
    # 263; 13 days for 1,250 plants at 100 a day.
    held = {(line.kind, line.block_id, line.season_id): line for line in project.budget_lines.all()}
    assert held["stock", block.pk, winter.pk].planned_minor == (1052 + 263) * 50
    assert held["planting", block.pk, winter.pk].planned_minor == 13 * 80_00
    assert held["stock", block.pk, spring.pk].planned_minor == 106 * 50
    assert held["planting", other.pk, winter.pk].planned_minor == 80_00
    assert held["stock", other.pk, winter.pk].planned_minor == 11 * 50
    assert {line.plan_id for line in held.values()} == {plan.pk}


def test_blocks_share_one_order_instead_of_rounding_up_each(actor, hill, project, site, oak, plan):
    """L1: 1,100 alive at .80 are 1,375 to plant, and 3 % culled and 2 % lost make 1,447 to order."""
    for number in range(25):
        mix_line(plan, factories.block(hill, project, site, name=f"B{number}"), oak, quantity=55)
    take(actor, plan, day=0)
    assert sum(line.planned_minor for line in project.budget_lines.all()) == 1447 * 50
    assert {line.kind for line in project.budget_lines.all()} == {"stock"}  # nobody is paid to plant


def test_pressing_again_replaces_and_what_was_spent_or_written_by_hand_stays(
    actor, project, block, oak, plan
):
    by_hand = add(actor, project, kind="stock", season=plan.season, block=block, planned_minor=7)
    line = mix_line(plan, block, oak)
    take(actor, plan)
    drawn = project.budget_lines.get(kind="stock", plan=plan)
    budget.edit_line(actor=actor, line=drawn, currency="EUR", spent_minor=300)
    before = rows_of(project)
    take(actor, plan)
    assert rows_of(project) == before
    line.quantity = 2000
    line.save()
    take(actor, plan)
    drawn.refresh_from_db()
    by_hand.refresh_from_db()
    assert (drawn.planned_minor, drawn.spent_minor, drawn.kind) == (2104 * 50, 300, "stock")
    assert (by_hand.planned_minor, by_hand.plan) == (7, None)
    assert project.budget_lines.count() == 3


def test_a_line_the_plan_no_longer_holds_goes_unless_money_was_spent_on_it(
    actor, hill, project, site, block, oak, plan
):
    other = factories.block(hill, project, site)
    mix_line(plan, block, oak)
    gone = mix_line(plan, other, oak)
    take(actor, plan)
    paid = project.budget_lines.get(kind="stock", block=other)
    budget.edit_line(actor=actor, line=paid, currency="EUR", spent_minor=5)
    gone.delete()
    taken = take(actor, plan)
    assert [line.pk for line in taken.emptied] == [paid.pk]
    left = project.budget_lines.filter(block=other)
    assert [(line.kind, line.planned_minor, line.spent_minor) for line in left] == [("stock", 0, 5)]
    assert HistoryEntry.objects.filter(verb="budget.taken_away").count() == 1


def test_a_later_version_takes_the_place_of_an_earlier_one_in_its_seasons_only(
    actor, hill, project, block, oak, plan, spring
):
    mix_line(plan, block, oak)
    take(actor, plan)
    second = Plan.objects.create(organisation=hill, project=project, version=2, season=plan.season)
    mix_line(second, block, oak, quantity=10)
    take(actor, second)
    assert {line.plan_id for line in project.budget_lines.all()} == {second.pk}
    assert project.budget_lines.get(kind="stock").planned_minor == 11 * 50
    third = Plan.objects.create(organisation=hill, project=project, version=3, season=spring)
    mix_line(third, block, oak, quantity=10)
    take(actor, third)
    assert project.budget_lines.count() == 4


def test_plants_without_a_price_are_named_and_not_guessed(signed_in, ana, actor, project, block, oak, plan):
    mix_line(plan, block, oak, unit_price_minor=None)
    answer = signed_in(ana).post(
        address("plan_costs", plan), {"day_cost": "80", "currency": "EUR"}, follow=True
    )
    assert "has no price for them: Quercus robur" in answer.content.decode()
    assert [line.kind for line in project.budget_lines.all()] == ["planting"]


def test_a_price_in_another_currency_takes_the_rate_stated_before(actor, project, block, oak, plan):
    mix_line(plan, block, oak, currency="USD")
    take(actor, plan)
    assert project.budget_lines.get(kind="stock").exchange_rate is None
    assert len(project_money(actor, project).left_out) == 1
    rate = {"exchange_rate": Decimal("0.9"), "exchange_rate_on": date(2026, 1, 5)}
    add(actor, project, currency="USD", **rate)
    project.budget_lines.get(kind="stock").delete()
    take(actor, plan)
    assert project.budget_lines.get(kind="stock").exchange_rate == Decimal("0.9")


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"day_cost": "much", "currency": "EUR"}, "amount such as"),
        ({"day_cost": "", "currency": "EUR"}, "required"),
        ({"day_cost": "-4", "currency": "EUR"}, "cannot be negative"),
        ({"day_cost": "80", "currency": "12"}, "three capital letters"),
    ],
)
def test_a_bad_day_cost_is_named_and_nothing_is_written(signed_in, ana, block, oak, plan, typed, words):
    mix_line(plan, block, oak)
    answer = signed_in(ana).post(address("plan_costs", plan), typed)
    assert (answer.status_code, words in answer.content.decode()) == (422, True)
    assert not BudgetLine.objects.exists()


def test_an_empty_plan_has_no_costs(actor, plan):
    with pytest.raises(Refusal, match="plants nothing"):
        take(actor, plan)


# --- for each living tree ---------------------------------------------------------------------------------
def test_planned_money_for_each_tree_expected_to_live(
    signed_in, ana, ben, fred, actor, project, block, oak, plan
):
    mix_line(plan, block, oak)
    add(actor, project, planned_minor=1_000_00)
    living = expected_living(project)
    assert (living.mean, living.limits.low, living.limits.high) == (800, 600, 900)
    page = signed_in(ana).get(address("project_money", project)).content.decode()
    # 1,100 with the tenth set aside: over 800 trees 1.375, over 900 1.2222, over 600 1.8333.
    assert "EUR\u00a01.38" in page
    assert "EUR\u00a01.22 to EUR\u00a01.83" in page
    assert "EUR\u00a01.38" in signed_in(ben).get(address("project_money", project)).content.decode()
    assert "EUR\u00a01.38" not in signed_in(fred).get(address("project_money", project)).content.decode()


def test_an_approved_plan_counts_before_a_newer_draft(hill, project, block, oak, plan):
    mix_line(plan, block, oak)
    newer = Plan.objects.create(organisation=hill, project=project, version=2)
    mix_line(newer, block, oak, quantity=5)
    assert expected_living(project).plan == newer
    plan.approved_at = "2026-01-05T12:00Z"
    plan.save()
    assert expected_living(project).plan == plan


def test_without_a_plan_what_was_planted_is_expected_to_live_as_foreseen(project, cohort):
    living = expected_living(project)
    assert (living.plan, living.trees) == (None, 500)
    assert living.mean == pytest.approx(350)  # 70 %, common practice
    assert 0 < living.limits.low < 350 < living.limits.high < 500


def test_money_until_a_day_counts_seasons_that_had_begun(actor, project, winter, spring):
    add(actor, project, season=winter, spent_minor=5)
    add(actor, project, season=spring, spent_minor=7)
    add(actor, project, spent_minor=1)
    add(actor, project, spent_minor=100, currency="USD")
    lines = list(project.budget_lines.select_related("season"))
    assert money_until(lines, "EUR", date(2026, 1, 1)).spent == 6
    assert money_until(lines, "EUR", date(2025, 12, 31)).spent == 1
    assert money_until(lines, "EUR", date(2027, 6, 1)).spent == 13
