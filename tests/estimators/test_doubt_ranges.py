"""How far a doubtful count can move: every kind by hand, and never beyond what was planted."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitoring.calc.doubt_ranges import Reading, between, line_range
from monitoring.calc.sheet_checks import LineFacts


def facts(alive=14, planted=20, **told):
    values = {"dead_stem": 0, "empty_spot": 0, "not_found": None, "not_assessed": 0, "resprout": 0}
    return LineFacts(planted=planted, alive=alive, **{**values, **told})


@pytest.mark.parametrize(
    ("line", "kind", "low", "high"),
    [
        (facts(23), "over_baseline", 0, 20),
        (facts(19, removed=4), "over_baseline", 0, 16),
        (facts(14, dead_stem=2, not_found=1), "sum_open", 14, 17),
        (facts(14, dead_stem=5, not_found=3), "sum_open", 12, 14),
        (facts(15, earlier_possible=10), "contradicts_earlier", 10, 15),
        (facts(15, earlier_possible=10, resprout=2), "contradicts_earlier", 12, 15),
        (facts(13, planted=10, earlier_possible=4), "contradicts_earlier", 4, 10),
        (facts(12, revived=2, earlier_possible=16), "contradicts_earlier", 10, 12),
    ],
)
def test_each_kind_of_doubt_has_its_lowest_and_highest_reading(line, kind, low, high):
    found = line_range(line, 0, {kind})
    assert (found[0].alive, found[1].alive) == (low, high)


def test_numbers_that_are_not_in_doubt_and_unknown_baselines_have_no_range():
    assert line_range(facts(14), 0, {"late"}) is None
    assert line_range(facts(14, planted=None), 0, {"over_baseline"}) is None


def test_trees_not_found_give_way_to_those_read_as_alive():
    _low, high = line_range(facts(14, not_found=3), 3, {"sum_open"})
    assert (high.alive, high.not_found) == (17, 3)
    _low, high = line_range(facts(23), 4, {"over_baseline"})
    assert (high.alive, high.not_found) == (20, 0)


def test_whole_accounts_are_compared_and_never_mixed():
    oak, ash = frozenset({"oak"}), frozenset({"ash"})
    mine = {oak: Reading(10, 9, 0, 0), ash: Reading(10, 2, 0, 0)}
    yours = {oak: Reading(10, 5, 0, 0), ash: Reading(10, 8, 0, 0)}
    ranges = {next(iter(one.baselines)): one for one in between([mine, yours])}
    assert (ranges["oak"].low.alive, ranges["ash"].low.alive) == (9, 2)
    assert (ranges["oak"].high.alive, ranges["ash"].high.alive) == (5, 8)
    assert between([yours, mine]) == between([mine, yours])


def test_one_sheet_may_name_together_what_the_other_names_apart():
    oak, ash = frozenset({"oak"}), frozenset({"ash"})
    mine = {oak: Reading(10, 9, 0, 0), ash: Reading(10, 2, 1, 0)}
    (one,) = between([mine, {oak | ash: Reading(20, 14, 0, 0)}])
    assert (one.low.numbers, one.high.numbers) == ([11, 1, 0], [14, 0, 0])


def test_an_account_that_assessed_nothing_is_no_end():
    oak = frozenset({"oak"})
    assert between([{oak: Reading(10, 9, 0, 0)}, {oak: Reading(10, 0, 0, 10)}]) == []


@given(
    st.integers(0, 30), st.integers(0, 30), st.integers(0, 8), st.integers(0, 8), st.integers(0, 8),
    st.none() | st.integers(0, 8), st.none() | st.integers(0, 30),
    st.sets(st.sampled_from(["over_baseline", "sum_open", "contradicts_earlier"]), min_size=1),
)  # fmt: skip
def test_a_range_holds_the_count_as_it_enters_and_stays_within_the_planted(
    alive, planted, dead, assessed_not, removed, not_found, earlier, kinds
):
    line = facts(
        alive, planted, dead_stem=dead, not_assessed=assessed_not, removed=removed, not_found=not_found,
        earlier_possible=earlier,
    )  # fmt: skip
    found = line_range(line, not_found or 0, kinds)
    if found is not None:
        low, high = found
        enters = min(alive, low.room)
        assert 0 <= low.alive <= enters <= high.alive <= high.room
        assert 0 <= high.not_found <= max(high.room - high.alive, 0)
