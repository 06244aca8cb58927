"""Windows from the climate come round in the year of a plan's season; those stated by hand do not move."""

from datetime import date

import pytest

from projects.models import PlantingWindow, Season
from projects.selectors.season_windows import come_round
from projects.services.windows import COMPUTED


def window(opens: date, closes: date, source: str = COMPUTED) -> PlantingWindow:
    return PlantingWindow(
        pk=1, block_id=1, stock_type="bare_root", opens_on=opens, closes_on=closes, source=source
    )


def season(starts: date, ends: date) -> Season:
    return Season(label="winter", starts_on=starts, ends_on=ends)


def spans(rows: list[PlantingWindow]) -> list[tuple[date, date]]:
    return [(row.opens_on, row.closes_on) for row in rows]


AUTUMN = window(date(2026, 11, 8), date(2027, 3, 6))


@pytest.mark.parametrize("year", [2025, 2026, 2027, 2031])
def test_a_window_meets_the_season_in_its_own_year(year):
    found = come_round([AUTUMN], [season(date(year, 11, 1), date(year + 1, 3, 31)), None])
    assert spans(found) == [(date(year, 11, 8), date(year + 1, 3, 6))]
    assert AUTUMN.opens_on == date(2026, 11, 8)  # the record itself is not touched


def test_two_seasons_show_a_window_twice_and_none_shows_it_as_written():
    seasons = [season(date(year, 11, 1), date(year + 1, 3, 31)) for year in (2029, 2027)]
    assert [opens.year for opens, _closes in spans(come_round([AUTUMN], seasons))] == [2027, 2029]
    assert spans(come_round([AUTUMN], [None, None])) == [(date(2026, 11, 8), date(2027, 3, 6))]


def test_a_window_that_never_meets_the_season_and_one_stated_by_hand_stay_as_written():
    summer = [season(date(2028, 6, 1), date(2028, 8, 31))]
    assert spans(come_round([AUTUMN], summer)) == [(date(2026, 11, 8), date(2027, 3, 6))]
    stated = window(date(2026, 11, 8), date(2027, 3, 6), "stated by the manager")
    assert come_round([stated], [season(date(2027, 11, 1), date(2028, 3, 31))]) == [stated]


def test_the_year_with_most_days_in_the_season_is_taken_and_a_leap_day_moves_back():
    long = window(date(2024, 2, 29), date(2025, 2, 27))
    found = come_round([long], [season(date(2027, 1, 10), date(2027, 4, 30))])
    assert spans(found) == [(date(2027, 2, 28), date(2028, 2, 27))]
