"""Litres that rules of thumb give a young tree in its first season. The rules disagree; all are shown."""

from dataclasses import dataclass

from projects.calc.care_amounts import watering_litres_per_cm

DAILY_DAYS, ALTERNATE_DAYS = 14, 60


@dataclass(frozen=True, slots=True)
class FirstWater:
    """Litres for one tree over the season by each rule.

    Attributes
    ----------
    daily_then_weekly : 1.5 US gallons per inch of calliper daily for two weeks, every other day for two months,
        then weekly (Cooperative Extension).
    five_a_week, seven_a_week : 5 and 7.5 US gallons per inch a week (Georgia Forestry Commission).
    ten_a_week : about 10 US gallons a week for an inch (Cooperative Extension).
    """

    daily_then_weekly: float
    five_a_week: float
    seven_a_week: float
    ten_a_week: float

    @property
    def least(self) -> float:
        """The lowest of the rules. [L]"""
        return min(self.daily_then_weekly, self.five_a_week, self.seven_a_week, self.ten_a_week)

    @property
    def most(self) -> float:
        """The highest. [L]"""
        return max(self.daily_then_weekly, self.five_a_week, self.seven_a_week, self.ten_a_week)


def first_water(calliper_cm: float, weeks: float) -> FirstWater:
    """Litres for one tree over so many weeks without rain that counts.

    Parameters
    ----------
    calliper_cm : trunk diameter. [cm]
    weeks : length of the season in which it is watered. [weeks]

    Raises
    ------
    ValueError
        If either is negative.

    Examples
    --------
    >>> found = first_water(5, 20)
    >>> round(found.least), round(found.most)
    (597, 1490)
    """
    if calliper_cm < 0 or weeks < 0:
        raise ValueError("calliper and weeks must not be negative.")
    days = 7 * weeks
    daily = min(days, DAILY_DAYS)
    alternate = min(max(days - DAILY_DAYS, 0), ALTERNATE_DAYS) / 2
    weekly = max(days - DAILY_DAYS - ALTERNATE_DAYS, 0) / 7
    once = calliper_cm * watering_litres_per_cm(1.5)
    a_week = [calliper_cm * watering_litres_per_cm(gallons) * weeks for gallons in (5, 7.5, 10)]
    return FirstWater(once * (daily + alternate + weekly), *a_week)
