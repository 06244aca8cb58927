"""What the rules of a planting day say: the judgement itself, and the two usual sets.

The limits of the temperate set are printed, in °F, mph and inches, on the planting pages of the USDA Forest
Service (favourable: humidity above 50 %, wind below 10 mph, air 35 to 50 °F, soil above 40 °F at 6 to 8 inches;
no planting in colder soil, nor in water-logged or frozen soil; consider stopping above 80 °F).
"""

import dataclasses
import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects import day_rule_words as words
from projects.calc.day_rules import (
    ABOVE,
    BELOW,
    GO,
    QUIET,
    SCALES,
    SPEAKS,
    STOP,
    THINK,
    YES,
    Rule,
    from_us,
    judge,
    to_us,
)
from projects.usual_day_rules import CONIFERS, SETS, TEMPERATE, WARM

COLD_SOIL = Rule("soil", "soil_c", BELOW, 4.44, STOP)
HOT_AIR = Rule("hot", "air_c", ABOVE, 26.67, THINK)
THUNDER = Rule("thunder", "thunder", YES, None, STOP)
STORM = Rule("storm", "other", YES, None, STOP)
DUST = Rule("dust", "other", YES, None, THINK)
ALL = [COLD_SOIL, HOT_AIR, THUNDER, STORM, DUST]
FINE = {"soil_c": 8.0, "air_c": 9.0, "thunder": False, "storm": False, "dust": False}


def test_only_a_morning_on_which_everything_was_looked_at_and_is_quiet_is_a_go():
    assert judge(ALL, FINE).verdict == GO
    for left_out in FINE:
        answer = judge(ALL, {key: value for key, value in FINE.items() if key != left_out})
        assert answer.verdict == THINK
        assert [said.rule.reads for said in answer.not_looked_at] == [left_out]
        assert judge(ALL, FINE | {left_out: None}).verdict == THINK


def test_without_rules_nothing_is_known_to_be_fine():
    assert judge([], FINE).verdict == THINK


def test_one_rule_that_stops_outweighs_everything_else():
    answer = judge(ALL, FINE | {"thunder": True, "air_c": 30.0})
    assert answer.verdict == STOP
    assert [said.rule.key for said in answer.stops] == ["thunder"]
    assert [said.rule.key for said in answer.thinks] == ["hot"]
    assert judge(ALL, {"thunder": True}).verdict == STOP


def test_thunder_stops_and_is_never_read_from_another_rule():
    answer = judge(ALL, FINE | {"storm": True})
    assert [said.rule.key for said in answer.stops] == ["storm"]
    assert judge(ALL, FINE | {"dust": True}).verdict == THINK
    assert judge([STORM], {"other": False}).verdict == THINK


@pytest.mark.parametrize(
    ("rule", "reading", "verdict"),
    [
        (COLD_SOIL, 4.43, STOP), (COLD_SOIL, 4.44, GO), (COLD_SOIL, 4.45, GO),
        (HOT_AIR, 26.68, THINK), (HOT_AIR, 26.67, GO), (HOT_AIR, -3.0, GO),
    ],
)  # fmt: skip
def test_a_reading_at_the_limit_is_on_the_good_side(rule, reading, verdict):
    assert judge([rule], {rule.measure: reading}).verdict == verdict


@pytest.mark.parametrize("reading", [math.nan, math.inf, True])
def test_what_is_no_temperature_is_refused(reading):
    with pytest.raises(ValueError, match="soil_c"):
        judge([COLD_SOIL], {"soil_c": reading})


def test_a_number_is_no_yes():
    with pytest.raises(ValueError, match="thunder"):
        judge([THUNDER], {"thunder": 1.0})


ORDER = {GO: 0, THINK: 1, STOP: 2}
KINDS = [Rule("", "air_c", ABOVE, 20, THINK), Rule("", "air_c", BELOW, 2, STOP), STORM, DUST]
READINGS = {"air_c": (None, 1.0, 10.0, 25.0), "other": (None, False, True)}


@pytest.mark.parametrize("kinds", list(itertools.product(KINDS, repeat=3)))
def test_more_rules_never_soften_the_answer_and_every_rule_has_its_say(kinds):
    """Every list of three rules of four kinds, with every reading of each."""
    rules = [dataclasses.replace(kind, key=str(n)) for n, kind in enumerate(kinds)]
    keys = sorted({rule.reads for rule in rules})
    for values in itertools.product(*(READINGS.get(key, READINGS["other"]) for key in keys)):
        readings = dict(zip(keys, values, strict=True))
        answer = judge(rules, readings)
        assert [said.rule for said in answer.said] == rules
        assert (answer.verdict == GO) == all(said.state == QUIET for said in answer.said)
        assert (answer.verdict == STOP) == any(
            said.state == SPEAKS and said.rule.effect == STOP for said in answer.said
        )
        assert ORDER[judge(rules[:-1], readings).verdict] <= ORDER[answer.verdict]
    assert judge(rules, {}).verdict == THINK


@given(st.sampled_from(sorted(SCALES)), st.data())
def test_a_number_typed_in_us_units_comes_back_as_typed(measure, data):
    scale = SCALES[measure]
    low, high = to_us(measure, scale.least), to_us(measure, scale.most)
    typed = round(data.draw(st.floats(low, high)), 1)
    assert to_us(measure, from_us(measure, typed)) == pytest.approx(typed, abs=1e-9)


def limits(measure, side):
    return [line.limit for line in TEMPERATE if (line.measure, line.side) == (measure, side)]


@pytest.mark.parametrize(
    ("measure", "side", "printed"),
    [
        ("soil_c", "below", [40]), ("air_c", "above", [80, 50]), ("air_c", "below", [35]),
        ("wind_m_per_s", "above", [10]), ("humidity_percent", "below", [50]), ("frozen_soil_cm", "above", [0.5]),
    ],
)  # fmt: skip
def test_the_temperate_set_says_what_its_source_prints(measure, side, printed):
    assert [to_us(measure, limit) for limit in limits(measure, side)] == printed


def test_a_favourable_morning_of_the_source_is_a_go_and_its_stops_stop():
    """45 °F, 60 %, 5 mph and soil of 45 °F are favourable; soil of 38 °F is not to be planted in."""
    rules = [
        Rule(str(n), line.measure, line.side, line.limit, line.effect) for n, line in enumerate(TEMPERATE)
    ]
    morning = {
        "air_c": 7.2, "humidity_percent": 60.0, "wind_m_per_s": 2.2, "soil_c": 7.2, "frozen_soil_cm": 0.0,
        "water_at_surface": False, "thunder": False, "dry_soil": False,
        **{rule.key: False for rule in rules if rule.measure == "other"},
    }  # fmt: skip
    assert judge(rules, morning).verdict == GO
    for key, reading in (
        ("soil_c", 3.3), ("frozen_soil_cm", 2.0), ("water_at_surface", True), ("thunder", True)
    ):  # fmt: skip
        assert judge(rules, morning | {key: reading}).verdict == STOP
    for key, reading in (("air_c", 28.0), ("wind_m_per_s", 6.0), ("humidity_percent", 30.0), ("air_c", 1.0)):
        assert judge(rules, morning | {key: reading}).verdict == THINK


@pytest.mark.parametrize("name", SETS)
def test_every_usual_line_has_a_source_words_where_needed_and_a_limit_that_can_be(name):
    for line in SETS[name]:
        assert line.source
        assert (line.limit is None) == (line.side == YES) == (line.measure not in SCALES)
        assert line.words or line.measure != "other"
        assert (line.measure, line.side) in words.SENTENCES or line.measure == "other"
        if line.limit is not None:
            assert SCALES[line.measure].least <= line.limit <= SCALES[line.measure].most


def test_rules_for_conifers_are_not_passed_off_on_the_tropics():
    assert all(line.source != CONIFERS for line in WARM)
    assert not any(line.measure in ("soil_c", "frozen_soil_cm") for line in WARM)
    assert any("rains have not set in" in line.words for line in WARM)


def test_amounts_are_written_in_the_readers_units():
    assert words.amount("soil_c", 4.44, "metric").split() == ["4.4", "°C"]
    assert words.amount("soil_c", 4.44, "us").split() == ["40", "°F"]
    assert words.amount("wind_m_per_s", 4.47, "us").split() == ["10", "mph"]
    assert words.amount("frozen_soil_cm", 1.27, "us").split() == ["0.5", "in"]
