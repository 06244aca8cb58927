"""Stock types side by side, and how much seed: worked rows, the page's figures, and problems at their field."""

from datetime import date

import pytest
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from projects import clocks
from projects.calc.first_water import first_water
from projects.calc.seed_spots import chance_spot_lives
from projects.models import PlantingWindow, StockOffer, SurvivalPrior
from projects.selectors.stock_choices import open_days
from tests import factories

GALLON_PER_INCH = 3.785411784 / 2.54
TODAY = date(2026, 6, 1)


@settings(max_examples=25, deadline=None)
@given(st.floats(0.01, 0.99), st.integers(1, 30), st.floats(0.01, 0.99))
def test_a_spot_is_a_beta_binomial(share, seeds, correlation):
    size = 1 / correlation - 1
    expected = stats.betabinom.sf(0, seeds, share * size, (1 - share) * size)
    assert chance_spot_lives(share, seeds, correlation) == pytest.approx(expected, rel=1e-6)


def test_a_spot_at_both_ends():
    """C5, the formula of nursery manuals, where seeds have nothing to do with one another."""
    assert chance_spot_lives(0.65, 3) == pytest.approx(0.957, abs=5e-4)
    assert chance_spot_lives(0.65, 30, 1.0) == 0.65
    for wrong in ((0.0, 3, 0.1), (0.5, 0, 0.1), (0.5, 3, 1.1)):
        with pytest.raises(ValueError, match=r"must|needs"):
            chance_spot_lives(*wrong)


def test_water_by_rules_that_disagree():
    """J4 in litres, and by hand for 20 weeks: 14 days, then 30 of 60, then the 66 days left over 7."""
    found = first_water(1, 20)
    assert found.daily_then_weekly == pytest.approx(1.5 * GALLON_PER_INCH * (14 + 30 + 66 / 7))
    assert (found.least, found.most) == (found.daily_then_weekly, found.ten_a_week)
    assert found.ten_a_week == pytest.approx(10 * GALLON_PER_INCH * 20)
    assert found.five_a_week == pytest.approx(7.45 * 20, rel=1e-3)
    assert first_water(1, 1).daily_then_weekly == pytest.approx(1.5 * GALLON_PER_INCH * 7)
    assert first_water(0, 20).most == 0


def test_days_of_two_windows_are_counted_once():
    windows = [(date(2026, 5, 1), date(2026, 6, 10)), (date(2026, 6, 8), date(2026, 6, 12))]
    assert open_days(windows, TODAY) == 12


@pytest.fixture
def june(monkeypatch):
    monkeypatch.setattr(clocks, "today_at", lambda site: TODAY)


@pytest.fixture
def priced(hill, block, oak):
    """X4: 5.00 at 60 % and 7.00 at 90 %, and seed of which nothing is known."""
    nursery = factories.lot(hill, oak).nursery
    for stock_type, price, share in (("bare_root", 500, 0.6), ("container", 700, 0.9)):
        StockOffer.objects.create(
            organisation=hill, nursery=nursery, species=oak, stock_type=stock_type, unit_price_minor=price
        )
        SurvivalPrior.objects.create(
            organisation=hill,
            species=oak,
            stock_type=stock_type,
            mean=share,
            weight_trees=5000,
            source="a trial",
        )
    StockOffer.objects.create(
        organisation=hill,
        nursery=nursery,
        species=oak,
        stock_type="direct_seed",
        unit="seed_area",
        unit_price_minor=9,
    )
    PlantingWindow.objects.create(
        organisation=hill,
        block=block,
        stock_type="container",
        opens_on=date(2026, 5, 1),
        closes_on=date(2026, 6, 10),
    )
    return nursery


def compare(browser, block, **asked):
    return browser.get(reverse("projects:stock_compare", kwargs={"org": "hill", "uid": block.uid}), asked)


def test_the_dearer_plant_is_the_cheaper_tree(signed_in, ana, block, oak, priced, june):
    answer = compare(signed_in(ana), block, species=oak.slug)
    rows = answer.context["rows"]
    assert [row.stock_type for row in rows[:2]] == ["container", "bare_root"]
    assert [round(row.cost.expected) for row in rows[:2]] == [778, 833]
    assert rows[0].cost.least < 778 < rows[0].cost.most
    assert answer.context["settled"] and rows[0].window_days == 10
    text = answer.content.decode()
    assert "EUR\xa07.78" in text and "EUR\xa08.33" in text and "is the cheapest even at its worst" in text
    assert "no shared figure" in text and "a trial" in text and "up to about 95\xa0%" in text
    seed = next(row for row in rows if row.stock_type == "direct_seed")
    assert (seed.offer, seed.cost) == (None, None)


def test_planting_is_counted_where_a_days_cost_is_given(signed_in, ana, block, oak, priced, june):
    asked = {"species": oak.slug, "day_cost": "90", "rate_bare_root": "300", "rate_container": "30"}
    rows = {row.stock_type: row for row in compare(signed_in(ana), block, **asked).context["rows"]}
    assert (rows["bare_root"].planting_minor, rows["container"].planting_minor) == (30, 300)
    assert rows["container"].cost.expected == pytest.approx(1000 / 0.9)
    assert rows["bare_root"].cost.expected == pytest.approx(530 / 0.6)


def test_overlapping_ranges_settle_nothing(signed_in, ana, block, oak, priced, june):
    SurvivalPrior.objects.update(weight_trees=10)
    answer = compare(signed_in(ana), block, species=oak.slug)
    assert not answer.context["settled"] and "price alone does not settle it" in answer.content.decode()


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [("species", "nowhere", "valid choice"), ("day_cost", "much", "such as 12.50"), ("day_cost", "-5", "negative"),
     ("weeks", "60", "or less"), ("rate_container", "0", "or more"), ("calliper_container", "x", "number")],
)  # fmt: skip
def test_a_problem_of_the_comparison_is_said_at_its_field(signed_in, ana, block, oak, field, value, words):
    answer = compare(signed_in(ana), block, **{"species": oak.slug, field: value})
    assert answer.status_code == 422
    assert words in answer.context["form"].errors[field][0]


def test_the_comparison_asks_before_it_answers(signed_in, ana, block):
    answer = compare(signed_in(ana), block)
    assert answer.status_code == 200 and not answer.context["rows"]


def seed(browser, **asked):
    return browser.get(reverse("projects:seed_amount", kwargs={"org": "hill"}), asked)


def test_the_examples_of_the_seed_page_are_rows_of_our_checks(signed_in, ben):
    """C7 43.86 kg/ha, C8 2.551 kg, C6 30 trees and 95.4 %, X14 3.1 parents; 1 000 living at 20 % of 300 a kilogram."""
    text = seed(signed_in(ben)).content.decode()
    for words in (
        "43.86 kg of seed",
        "2.551 kg of seed",
        "30 mother trees",
        "95.4\xa0%",
        "As many as 3.1 equal",
        "16.67 kg",
    ):
        assert words in text


def test_pure_live_seed_with_hard_seed(signed_in, ben):
    """C1: germination 92 %, hard 5 %, purity 98 % is 95.06 % pure live."""
    asked = {"what": "sown", "plants_per_m2": "100", "area_m2": "5000", "seeds_per_kg": "50 000", "purity": "98",
             "germination": "92", "hard_seed": "5", "field_establishment": "60"}  # fmt: skip
    found = seed(signed_in(ben), **asked).context["sown"]["found"]
    assert found["pure_live"] == pytest.approx(0.9506, abs=1e-9)
    assert found["kg"] == pytest.approx(100 * 5000 / (50_000 * 0.9506 * 0.6))
    assert found["pure_live_kg"] == pytest.approx(found["kg"] * 0.9506)


def test_selfers_need_more_trees(signed_in, ben):
    found = seed(signed_in(ben), what="mothers", frequency="5", chance="95", selfing="on").context["mothers"]
    assert found["found"]["trees"] == 59


@pytest.mark.parametrize(
    ("what", "field", "value", "words"),
    [
        ("sown", "purity", "0", "more than 0"), ("sown", "purity", "120", "between 0 and 100"),
        ("sown", "hard_seed", "30", "more than all the seed"), ("sown", "area_m2", "0", "or more"),
        ("sown", "seeds_per_kg", "many", "such as 2.5"), ("spots", "seeds_per_spot", "0", "or more"),
        ("spots", "correlation", "2", "or less"), ("living", "living_per_seed", "", "required"),
        ("mothers", "chance", "100", "No number of trees"), ("lots", "contributions", "5; x", "Write numbers"),
        ("lots", "contributions", "0 0", "At least one"), ("lots", "contributions", "5 -1", "negative"),
        ("lots", "contributions", "nan", "negative or endless"),
    ],
)  # fmt: skip
def test_bad_seed_figures_are_said_at_their_field(signed_in, ben, what, field, value, words):
    from projects.forms import seed_amounts as forms

    kinds = (forms.SownForm, forms.SpotsForm, forms.LivingForm, forms.ParentsForm, forms.LotsForm)
    example = next(kind.EXAMPLE for kind in kinds if what == kind.WHAT)
    answer = seed(signed_in(ben), **(example | {"what": what, field: value}))
    assert answer.status_code == 422
    assert words in answer.context[what]["form"].errors[field][0]
    assert answer.context[what]["found"] is None


def test_what_contradicts_itself_is_refused_not_raised(signed_in, ben):
    answer = seed(signed_in(ben), what="mothers", frequency="100", chance="95")
    assert answer.status_code in (200, 422)
