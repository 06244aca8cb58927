"""Young natural trees per hectare against printed arithmetic and another library (check rows A4, X13)."""

import pytest
from statsmodels.stats.weightstats import DescrStatsW

from projects.calc import regeneration
from tests.published.rows import checks


@checks("A4")
def test_a_circle_of_five_metres_and_the_count_that_3100_per_hectare_asks_for():
    """A4: 78.54 m², × 127.3; 3,100/ha are 24.3 stems (method of Elliott et al. 2013; arithmetic)."""
    assert regeneration.circle_area_m2(5) == pytest.approx(78.54, abs=0.005)
    (one,) = regeneration.trees_per_ha([1], [5])
    assert one == pytest.approx(127.3, abs=0.05)
    assert 3100 / one == pytest.approx(24.3, abs=0.05)


@checks("X13")
def test_a_mean_of_9_4_against_3100_leaves_1903_to_plant():
    """X13 (arithmetic): ten circles of 5 m with a mean of 9.4."""
    counts = [9, 10, 8, 11, 9, 10, 9, 10, 8, 10]
    assert sum(counts) / len(counts) == 9.4
    found = regeneration.density(counts, [5] * 10)
    told = regeneration.advice(found, 3100, shortfall_is_costly=False, is_held_back=False)
    assert round(told.to_plant_by_mean) == 1903
    assert told.course == "plant"
    assert told.to_plant_by_lower > told.to_plant_by_mean


@pytest.mark.parametrize("counts", [[3, 9, 14, 0, 7], [1, 2], [0, 0, 0, 40]])
def test_the_interval_is_that_of_statsmodels(counts):
    """DescrStatsW.tconfint_mean of statsmodels; only the stop at 0 is ours."""
    found = regeneration.density(counts, [5] * len(counts), level=0.9)
    lower, upper = DescrStatsW(regeneration.trees_per_ha(counts, [5] * len(counts))).tconfint_mean(alpha=0.1)
    assert found.lower == pytest.approx(max(0, lower), rel=1e-9)
    assert found.upper == pytest.approx(upper, rel=1e-9)


def test_circles_of_different_size_are_brought_to_the_hectare_first():
    found = regeneration.density([10, 40], [5, 10])
    assert found.value == pytest.approx(10 / 78.5398163 * 10_000)


@pytest.mark.parametrize(
    ("counts", "reason"), [([], "no_circles"), ([12], "one_circle"), ([4, 4, 4], "all_circles_alike")]
)
def test_where_no_interval_can_be_had_the_reason_stands(counts, reason):
    found = regeneration.density(counts, [5] * len(counts))
    assert (found.lower, found.upper, found.reason) == (None, None, reason)


def advised(counts, wanted, costly=False, held_back=False):
    found = regeneration.density(counts, [5] * len(counts))
    return regeneration.advice(found, wanted, shortfall_is_costly=costly, is_held_back=held_back)


def test_enough_is_left_alone_or_assisted_and_too_few_enriched_or_planted():
    counts = [18, 22, 20, 20]  # 2,546 to the hectare
    assert advised(counts, 2000).course == "leave"
    assert advised(counts, 2000, held_back=True).course == "assist"
    assert advised(counts, 5000).course == "enrich"
    assert advised(counts, 5200).course == "plant"


def test_a_costly_shortfall_rests_on_the_lower_limit():
    counts = [5, 35, 20, 20]
    by_mean, by_lower = advised(counts, 2400), advised(counts, 2400, costly=True)
    assert (by_mean.course, by_lower.course) == ("leave", "plant")
    assert (by_mean.uses_lower, by_lower.uses_lower) == (False, True)
    assert by_mean.is_settled is False
    assert by_mean.to_plant_by_mean == 0
    assert by_lower.to_plant_by_lower > 1000


def test_an_interval_on_one_side_of_the_wanted_number_is_settled():
    counts = [18, 22, 20, 20]
    assert advised(counts, 2000).is_settled
    assert advised(counts, 4000).is_settled
    assert not advised(counts, 2500).is_settled


def test_without_a_limit_a_costly_shortfall_asks_for_more_circles_unless_nothing_grew():
    assert advised([12], 500, costly=True).course == "count_more_circles"
    assert advised([4, 4, 4], 500, costly=True).course == "count_more_circles"
    assert advised([0, 0, 0], 500, costly=True).course == "plant"
    assert advised([0, 0, 0], 500, costly=True).to_plant_by_lower == 500
    assert advised([], 500) is None


@pytest.mark.parametrize("wanted", [0, -3, float("nan")])
def test_a_wanted_number_must_be_above_0(wanted):
    with pytest.raises(ValueError, match="wanted_per_ha"):
        advised([3, 4], wanted)


def test_counts_and_radii_that_cannot_be_are_refused():
    with pytest.raises(ValueError, match="radius_m"):
        regeneration.density([1], [0])
    with pytest.raises(ValueError, match="count"):
        regeneration.density([-1], [5])
    with pytest.raises(ValueError, match="every circle"):
        regeneration.density([1, 2], [5])
