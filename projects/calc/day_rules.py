"""Whether a crew plants today: a list of rules against what was seen and measured this morning.

A rule that was not looked at never counts as fine: the best answer then is to think again. The rules remind;
the crew leader decides.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite

STOP, THINK, GO = "stop", "think", "go"
BELOW, ABOVE, YES = "below", "above", "yes"
OTHER = "other"  # rules of this measure are read each by its own key

# Why a rule says what it says.
SPEAKS, QUIET, NOT_LOOKED_AT = "speaks", "quiet", "not_looked_at"

Reading = float | bool | None


@dataclass(frozen=True, slots=True)
class Rule:
    """One line of what decides a planting day.

    Attributes
    ----------
    key : names the rule among the others.
    measure : what is looked at; rules of one measure share its reading, those of `other` have one each.
    side : `below` or `above` the limit, or `yes` for what is either so or not.
    limit : in the unit of the measure; None for `yes`.
    effect : `stop` or `think`.
    """

    key: str
    measure: str
    side: str
    limit: float | None
    effect: str

    @property
    def reads(self) -> str:
        """The key of the reading it needs."""
        return self.key if self.measure == OTHER else self.measure


@dataclass(frozen=True, slots=True)
class Said:
    """What one rule says of a reading."""

    rule: Rule
    reading: Reading
    state: str


@dataclass(frozen=True, slots=True)
class Judgement:
    """The answer for the day and what each rule said, in the order of the rules."""

    verdict: str
    said: tuple[Said, ...]

    @property
    def stops(self) -> tuple[Said, ...]:
        """Rules that say not to plant."""
        return self._speaking(STOP)

    @property
    def thinks(self) -> tuple[Said, ...]:
        """Rules that say to think again."""
        return self._speaking(THINK)

    @property
    def not_looked_at(self) -> tuple[Said, ...]:
        """Rules whose reading is missing."""
        return tuple(each for each in self.said if each.state == NOT_LOOKED_AT)

    def _speaking(self, effect: str) -> tuple[Said, ...]:
        return tuple(each for each in self.said if each.state == SPEAKS and each.rule.effect == effect)


def judge(rules: Sequence[Rule], readings: Mapping[str, Reading]) -> Judgement:
    """Say whether to plant today, and why.

    Parameters
    ----------
    rules : the rules in force.
    readings : by measure, or by key for rules of `other`; a number in the measure's unit, or yes or no. One
        that is missing or None was not looked at.

    Returns
    -------
    Judgement
        `stop` where any rule that stops speaks; else `think` where any other speaks, a reading is missing or
        there is no rule at all; else `go`. A reading at the limit itself is on the good side.

    Raises
    ------
    ValueError
        If a reading does not fit its rule: a number where yes or no is asked, or no finite number.

    Examples
    --------
    >>> rules = [Rule("a", "soil_c", BELOW, 4.4, STOP), Rule("b", "thunder", YES, None, STOP)]
    >>> judge(rules, {"soil_c": 6.0, "thunder": False}).verdict
    'go'
    >>> judge(rules, {"soil_c": 6.0}).verdict, judge(rules, {"thunder": True}).verdict
    ('think', 'stop')
    """
    said = tuple(_said(rule, readings.get(rule.reads)) for rule in rules)
    states = {(each.rule.effect, each.state) for each in said}
    if (STOP, SPEAKS) in states:
        return Judgement(STOP, said)
    if not said or any(state != QUIET for _effect, state in states):
        return Judgement(THINK, said)
    return Judgement(GO, said)


def _said(rule: Rule, reading: Reading) -> Said:
    if reading is None:
        return Said(rule, None, NOT_LOOKED_AT)
    return Said(rule, reading, SPEAKS if _speaks(rule, reading) else QUIET)


def _speaks(rule: Rule, reading: float | bool) -> bool:
    if (rule.side == YES) != isinstance(reading, bool):
        raise ValueError(f"the reading of {rule.reads} does not fit its rule.")
    if rule.side == YES:
        return bool(reading)
    if rule.limit is None or not isfinite(reading):
        raise ValueError(f"the reading of {rule.reads} or its limit is no number.")
    return reading < rule.limit if rule.side == BELOW else reading > rule.limit


@dataclass(frozen=True, slots=True)
class Scale:
    """How a measure is read in US customary units: US = factor × metric + offset; both exact by definition.

    Attributes
    ----------
    least, most : what can be read outdoors, in the metric unit.
    """

    factor: float
    offset: float
    least: float
    most: float


SCALES = {
    "air_c": Scale(1.8, 32, -50, 60),
    "soil_c": Scale(1.8, 32, -30, 60),
    "frozen_soil_cm": Scale(1 / 2.54, 0, 0, 300),
    "humidity_percent": Scale(1, 0, 0, 100),
    "wind_m_per_s": Scale(3600 / 1609.344, 0, 0, 80),
}


def to_us(measure: str, metric: float) -> float:
    """A reading as people with US customary units write it, to a tenth.

    >>> to_us("soil_c", 4.44), to_us("wind_m_per_s", 4.47), to_us("frozen_soil_cm", 1.27)
    (40.0, 10.0, 0.5)
    """
    scale = SCALES[measure]
    return round(scale.factor * metric + scale.offset, 1)


def from_us(measure: str, us: float) -> float:
    """A reading in US customary units as it is stored, to a hundredth of the metric unit.

    >>> from_us("soil_c", 40), from_us("wind_m_per_s", 10), from_us("frozen_soil_cm", 0.5)
    (4.44, 4.47, 1.27)
    """
    scale = SCALES[measure]
    return round((us - scale.offset) / scale.factor, 2)
