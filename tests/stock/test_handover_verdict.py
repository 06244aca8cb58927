"""What readings suggest: each limit at its edge, the gravest reason wins, and words for every reason."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects.calc.handover_verdict import Limits, Readings, suggest
from projects.calc.plant_measures import dickson_of_sample, spread, sturdiness_spread
from projects.handover_words import WORDS, because, reason_words
from projects.models import RootCondition, StockType

FINE = Readings("bare_root", 900, "moist")


def verdict(**readings):
    return suggest(replace(FINE, **readings), Limits()).verdict


@pytest.mark.parametrize(
    ("readings", "wanted"),
    [
        ({}, "accept"),
        ({"root_condition": "drying"}, "hold"),
        ({"root_condition": "dry"}, "reject"),
        ({"root_condition": "spoilt"}, "reject"),
        ({"root_condition": "frozen"}, "hold"),
        ({"root_condition": "not_seen", "box_temperature_c": 1.0}, "hold"),
        ({"root_condition": "not_seen", "box_temperature_c": 1.0, "stock_type": "container"}, "accept"),
        ({"box_temperature_c": 2.2}, "accept"),  # 36 °F, US Forest Service field handling pages
        ({"box_temperature_c": 2.3}, "hold"),
        ({"box_temperature_c": 12.0, "stock_type": "container"}, "accept"),
        ({"box_temperature_c": 4.4, "point": "field_store"}, "accept"),  # 40 °F, the same pages
        ({"box_temperature_c": 4.5, "point": "field_store"}, "hold"),
        ({"box_temperature_c": 12.0, "point": "crew"}, "accept"),
        ({"box_temperature_c": 30.1, "point": "crew"}, "hold"),  # a closed van in the sun
        ({"box_temperature_c": 30.0, "stock_type": "balled_burlapped"}, "accept"),
        ({"box_temperature_c": 45.0, "stock_type": "container"}, "hold"),
        ({"box_temperature_c": -0.1}, "hold"),
        ({"box_temperature_c": -4.0, "stock_type": "container"}, "hold"),
        ({"minutes_exposed": 5}, "accept"),
        ({"minutes_exposed": 6}, "hold"),
        ({"minutes_exposed": 60, "stock_type": "container"}, "accept"),
        ({"sample_size": 67, "sample_bad": 6}, "accept"),
        ({"sample_size": 67, "sample_bad": 7}, "reject"),
        ({"sample_size": 20, "sample_bad": 1}, "hold"),
        ({"sample_size": 20, "sample_bad": 1, "accept_up_to": 1}, "accept"),
        ({"days_out": 7, "limit_days": 7}, "accept"),
        ({"days_out": 8, "limit_days": 7}, "hold"),
        ({"days_out": 80}, "accept"),
        ({"sample_size": 20, "sample_bad": 1, "root_condition": "dry"}, "reject"),
        ({"sample_size": 1000, "sample_bad": 0}, "accept"),  # more than the records say there are
    ],
)
def test_each_limit_at_its_edge(readings, wanted):
    assert verdict(**readings) == wanted


def test_where_nothing_was_looked_at_nothing_is_suggested():
    assert suggest(Readings("bare_root", 900), Limits()).verdict == ""
    assert suggest(Readings("container", 900), Limits()).verdict == ""


def test_an_unknown_condition_is_a_mistake():
    with pytest.raises(ValueError, match="Unknown condition"):
        verdict(root_condition="lovely")


readings = st.builds(
    Readings,
    stock_type=st.sampled_from(StockType.values), lot_size=st.integers(60, 2000),
    root_condition=st.sampled_from(RootCondition.values),
    box_temperature_c=st.none() | st.floats(-20, 60), minutes_exposed=st.none() | st.integers(0, 60),
    sample_size=st.none() | st.integers(50, 60), sample_bad=st.none() | st.integers(0, 50),
    days_out=st.none() | st.integers(0, 40), limit_days=st.none() | st.just(7),
)  # fmt: skip


@given(readings)
def test_every_reason_has_words_and_the_gravest_decides(told):
    found = suggest(told, Limits())
    for reason in found.reasons:
        words = reason_words(reason)
        assert "%" not in words.replace("\u00a0%", "") and len(words) > 5
    assert len(because(found)) <= 300
    if found.verdict:
        assert found.verdict == (found.grave[0].verdict if found.grave else "accept")


def test_no_words_are_left_over():
    codes = {f"roots_{name}" for name in RootCondition.values} | {
        f"sample_{name}" for name in ("accept", "hold", "reject")
    }
    codes |= {
        "box_warm",
        "box_hot",
        "box_icy",
        "box_frozen",
        "box_fine",
        "open_long",
        "open_short",
        "waited_long",
    }
    assert set(WORDS) == codes


@given(st.lists(st.floats(0.1, 1000), min_size=1, max_size=30))
def test_a_spread_lies_in_order(measures):
    found = spread(measures)
    told = [found.lowest, found.lower_quarter, found.median, found.upper_quarter, found.highest]
    assert all(one <= other * (1 + 1e-12) for one, other in pairwise(told))
    assert (found.n, found.deviation is None) == (len(measures), len(measures) == 1)


def test_sturdiness_is_taken_plant_by_plant():
    assert sturdiness_spread([30, 60], [5, 5]).mean == 9
    assert sturdiness_spread([30, 60], [5, 10]).deviation == 0
    for wrong in (([30], [5, 5]), ([], []), ([30], [0])):
        with pytest.raises(ValueError, match=r"order|least one|above 0"):
            sturdiness_spread(*wrong)
    assert dickson_of_sample([30], [5], 3.5, 1.5) == pytest.approx(0.6)
