"""A schedule of aftercare: its dates in four climates, its amounts, and that taking it up twice adds nothing."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.core.exceptions import PermissionDenied
from hypothesis import given, settings
from hypothesis import strategies as st

from projects import access, care_words
from projects.calc.care_amounts import mulch_litres
from projects.calc.care_schedule import CareChoices, Planting, anniversary, care_schedule
from projects.calc.care_year import Ground, dry_spells, growing_runs, seasons_from
from projects.errors import Refusal
from projects.identifiers import uuid7
from projects.models import CareKind, CareTask, Cohort, HistoryEntry, Site, StockType
from projects.selectors import care_schedule as selectors
from projects.services import care
from projects.services import care_schedule as services
from species.models import SpeciesTrait
from tests import factories

# Invented but plausible normals: Iberian hills, an equatorial highland with two rains, a mild wet north, a southern
# cape with rain in winter.
HILLS = Ground(
    [1, 2, 3, 5, 8, 12, 14, 14, 12, 8, 4, 2], [8, 10, 13, 15, 19, 25, 29, 29, 24, 17, 12, 9],
    [110, 95, 75, 80, 70, 30, 12, 14, 45, 100, 120, 120], 40.3,
)  # fmt: skip
TWO_RAINS = Ground(
    [11] * 12, [27, 28, 28, 26, 25, 24, 24, 25, 27, 27, 26, 26],
    [15, 15, 60, 190, 150, 20, 10, 10, 15, 90, 150, 60], -0.5,
)  # fmt: skip
NORTH = Ground(
    [1, 1, 2, 4, 7, 10, 12, 12, 10, 7, 4, 2], [7, 7, 10, 13, 16, 19, 21, 21, 18, 14, 10, 7],
    [110, 90, 90, 80, 90, 100, 110, 110, 110, 110, 120, 120], 52.0,
)  # fmt: skip
CAPE = Ground(
    [16, 16, 15, 12, 10, 8, 7, 8, 9, 11, 13, 15], [27, 27, 26, 23, 20, 18, 18, 18, 19, 21, 24, 25],
    [15, 17, 20, 40, 70, 90, 80, 75, 40, 30, 15, 15], -34.0,
)  # fmt: skip
OAKS = Planting(date(2026, 1, 20), "container", 200, ("full_sun", "part_shade"), 3.0)


def lines(planting=OAKS, ground=HILLS, **choices):
    return {line.key: line for line in care_schedule(planting, ground, CareChoices(**choices)).lines}


def notes(planting=OAKS, ground=HILLS, **choices):
    return dict(care_schedule(planting, ground, CareChoices(**choices)).notes)


# --- seasons -------------------------------------------------------------------------------


def test_weeds_grow_in_spring_where_winters_are_cold_and_in_the_winter_rain_of_the_cape():
    [(start, length), *_rest] = sorted(growing_runs(HILLS), key=lambda run: -run[1])
    assert 60 <= start <= 100  # March or early April
    assert start + length <= 212  # over before August, when the soil is dry
    [(start, length)] = growing_runs(CAPE)
    assert 105 <= start <= 166  # the rain comes in April to June
    assert 300 <= start + length <= 350


def test_two_rains_make_two_seasons_and_two_weedings_a_year():
    starts = sorted(start for start, _length in growing_runs(TWO_RAINS))
    assert len(starts) == 2
    assert 60 <= starts[0] <= 100  # long rains
    assert 270 <= starts[1] <= 310  # short rains
    found = lines(replace(OAKS, planted_on=date(2026, 4, 1)), TWO_RAINS, weeding_years=1)
    months = [found[key].due_from.month for key in ("weeding:1", "weeding_2:1")]
    assert months == [5, 11]  # each four weeks into its rain
    assert "weeding_3:1" not in found
    dry = [found[key] for key in ("water:1", "water_2:1")]
    assert [line.due_from.month for line in dry] == [6, 12]  # as each rain ends
    assert (dry[0].due_by.month, dry[1].due_by.month) == (10, 3)


def test_hemispheres_mirror_each_other_where_only_the_latitude_is_known():
    north = lines(ground=Ground(latitude_deg=50), weeding_years=1)["weeding:1"]
    south = lines(ground=Ground(latitude_deg=-50), weeding_years=1)["weeding:1"]
    assert (north.due_from, south.due_from) == (date(2026, 4, 29), date(2026, 2, 17))
    later = lines(replace(OAKS, planted_on=date(2026, 7, 20)), Ground(latitude_deg=-50), weeding_years=1)
    assert later["weeding:1"].due_from == date(2026, 10, 29)
    assert "no_climate" in notes(ground=Ground(latitude_deg=50))
    assert "no_climate" not in notes()


def test_where_nothing_is_known_weeding_comes_every_four_months():
    found = lines(ground=Ground(), weeding_years=1)
    assert [key for key in found if key.startswith("weeding")] == ["weeding:1", "weeding_2:1", "weeding_3:1"]
    assert found["weeding_2:1"].due_from - found["weeding:1"].due_from == timedelta(days=121)


@pytest.mark.parametrize("ground", [HILLS, TWO_RAINS, NORTH, CAPE])
def test_weeding_follows_four_to_ten_weeks_after_a_season_begins_and_lies_in_it(ground):
    for line in lines(ground=ground, weeding_years=3).values():
        if line.kind == "weeding":
            begun = max(line.facts["season_from"], OAKS.planted_on)
            assert timedelta(days=28) <= line.due_from - begun
            assert line.due_by - begun <= timedelta(days=70)
            held = seasons_from(growing_runs(ground), OAKS.planted_on, anniversary(OAKS.planted_on, 3))
            assert any(start <= line.due_from and line.due_by <= end for start, end in held)


# --- water ---------------------------------------------------------------------------------


def test_water_is_asked_for_in_the_dry_months_and_nowhere_else():
    water = lines(water_years=1)["water:1"]
    assert date(2026, 5, 1) <= water.due_from <= date(2026, 6, 30)
    assert date(2026, 8, 15) <= water.due_by <= date(2026, 10, 10)
    assert water.is_usual
    months = {month for (_year, month), _litres in water.facts["by_month"]}
    assert {7, 8} <= months <= {5, 6, 7, 8, 9, 10}
    assert not [key for key in lines(ground=NORTH) if key.startswith("water")]
    assert "rain_suffices" in notes(ground=NORTH)
    south = lines(replace(OAKS, planted_on=date(2026, 6, 1)), CAPE, water_years=1)["water:1"]
    assert (south.due_from.year, south.due_from.month) == (2026, 9)
    assert (south.due_by.year, south.due_by.month) == (2027, 4)


def test_litres_by_hand_where_no_rain_falls_and_demand_is_even():
    """By arithmetic, as J8: 0.30 m of soil of 160 mm/m holds 24 mm easily; on a patch of 0.6 m that is 6.79 L."""
    desert = replace(TWO_RAINS, rain_mm=[0] * 12)
    [spell] = dry_spells(desert, date(2026, 10, 1), 0.3, 0.6)
    assert spell.litres == pytest.approx(sum(litres for _month, litres in spell.by_month))
    least = 0.3 * 160 * 0.5 * 0.2827433
    assert least == pytest.approx(6.79, abs=0.005)
    assert least <= spell.litres / spell.times <= least * 1.12  # a day's use may carry it a little beyond
    assert 9 <= 365 / spell.times <= 12  # about 2.2 mm a day
    [half] = dry_spells(desert, date(2026, 10, 1), 0.3, 0.6 / 2**0.5)
    assert half.litres == pytest.approx(spell.litres / 2)  # litres go with the patch
    [deeper] = dry_spells(desert, date(2026, 10, 1), 0.6, 0.6)
    assert deeper.times == pytest.approx(spell.times * 0.3 / 0.5, abs=1)  # the soil is half a metre deep


def test_a_species_that_stands_the_dry_months_is_ticked_for_water_in_its_first_year_only():
    hardy, tender = lines(replace(OAKS, dry_months=4)), lines(replace(OAKS, dry_months=1))
    assert [hardy[key].is_usual for key in ("water:1", "water:2")] == [True, False]
    assert [tender[key].is_usual for key in ("water:1", "water:2")] == [True, True]
    assert "stands" in care_words.hesitation(hardy["water:2"])
    assert hardy["water:2"].facts["times"] < hardy["water:1"].facts["times"]  # roots have gone deeper


def test_amounts_are_for_a_tree_and_for_all_of_them():
    found = lines()
    assert found["mulch:1"].each == pytest.approx(mulch_litres(1.0, 7.5))
    for key in ("mulch:1", "water:1"):
        assert found[key].amount == pytest.approx(found[key].each * 200)
    weeks = (found["water:1"].due_by - found["water:1"].due_from).days / 7 + 1
    assert found["water:1"].facts["thumb_most"] == pytest.approx(weeks * 0.6 * 14.9, rel=0.001)  # J4
    assert found["water:1"].facts["thumb_least"] == pytest.approx(weeks * 0.6 * 7.45, rel=0.001)


# --- guards, stakes, shade, soil -----------------------------------------------------------


def test_every_guard_and_stake_has_a_date_on_which_it_goes():
    found = lines(has_guards=True, guard_years=4, is_staked=True)
    assert [key for key in found if key.startswith("guards_look")] == [f"guards_look:{n}" for n in (1, 2, 3)]
    assert found["guards_off:4"].due_by == date(2030, 1, 20)
    assert found["stakes_off:1"].due_by == date(2027, 1, 20)  # within twelve months
    assert found["stakes_look:1"].due_by < found["stakes_off:1"].due_by
    assert not [key for key in lines() if key.startswith(("guards", "stakes"))]
    assert "no_guards" in notes()


@pytest.mark.parametrize(("stock_type", "said", "n_stakes"), [
    ("balled_burlapped", None, 2), ("balled_burlapped", False, 0), ("bare_root", None, 0), ("container", True, 2),
    ("direct_seed", True, 0),
])  # fmt: skip
def test_only_what_is_staked_has_stakes_taken_away_and_seed_never(stock_type, said, n_stakes):
    found = lines(replace(OAKS, stock_type=stock_type), is_staked=said)
    assert sum(line.kind == "stakes" for line in found.values()) == n_stakes


def test_shade_is_for_shade_bearers_on_open_ground_and_comes_off():
    bearer = replace(OAKS, light=("part_shade", "shade"))
    found = lines(bearer, is_open_ground=True)
    assert found["shade_up:1"].due_from == OAKS.planted_on
    assert date(2028, 1, 20) <= found["shade_off:3"].due_from <= date(2029, 1, 20)
    for planting, is_open in (
        (bearer, False),
        (bearer, None),
        (OAKS, True),
        (replace(OAKS, light=None), True),
    ):
        assert not any(line.kind == "shade" for line in lines(planting, is_open_ground=is_open).values())
    assert "shade_unknown" in notes(replace(OAKS, light=None), is_open_ground=True)


def test_nothing_ever_says_to_fertilise_and_the_test_of_soil_is_not_ticked():
    line = lines()["soil_test:1"]
    assert not line.is_usual
    assert "tested" in care_words.what(line)
    assert {line.rule for line in lines(has_guards=True, is_staked=True).values() if line.kind == "soil"} == {
        "soil_test"
    }
    found = notes()["amendment"]
    assert (found["least"], found["most"]) == (pytest.approx(2.12, abs=0.01), pytest.approx(4.24, abs=0.01))


def test_seed_is_weeded_only_once_it_is_up_and_gets_neither_water_mulch_nor_stakes():
    acorns = replace(OAKS, stock_type="direct_seed", planted_on=date(2025, 11, 15), emerged_by=5)
    found = lines(acorns, is_staked=True)
    assert {line.kind for line in found.values()} == {"weeding", "soil"}
    assert found["weeding:1"].due_from == date(2026, 6, 1)  # up by the end of May
    unknown = lines(replace(acorns, emerged_by=None))
    assert unknown["weeding:1"].due_from >= date(2026, 2, 7)  # twelve weeks
    assert "amendment" not in notes(acorns)


def test_months_of_the_reference_fall_half_a_year_on_south_of_the_tropics(actor, block, lot, cohort):
    """Sown in the autumn of the south, acorns come up in its spring: no hoe before, and not a year later."""
    told = {"unit": "month", "source": "invented", "basis": "literature"}
    SpeciesTrait.objects.create(species=lot.species, trait="emergence_to_month", value_number=5, **told)
    Cohort.objects.filter(pk=cohort.pk).update(stock_type="direct_seed", unit="seed_spot")
    cohort.planting_days.update(planted_on=date(2024, 5, 20))

    def first_weeding(corner):
        ring = [
            [corner[0] + x, corner[1] + y] for x, y in ((0, 0), (0.01, 0), (0.01, 0.01), (0, 0.01), (0, 0))
        ]
        shape = {"type": "Polygon", "coordinates": [ring]}
        Site.objects.filter(pk=block.site_id).update(boundary=shape)
        block.refresh_from_db()
        [found] = selectors.schedules(actor, block, CareChoices(weeding_years=2), TODAY)
        return next(row for row in found.proposals if row.line.key == "weeding:1")

    assert first_weeding((-72.0, -37.0)).line.due_from == date(2024, 12, 1)  # up by the end of November
    assert first_weeding((-8.0, 41.0)).line.due_from == date(2024, 6, 17)
    assert first_weeding((-8.0, 41.0)).amount == "500 seed spots"
    SpeciesTrait.objects.create(
        species=lot.species, trait="emergence_to_month", value_number=10, **told,
        owner_organisation_uid=actor.organisation.uid,
    )  # fmt: skip
    assert first_weeding((-72.0, -37.0)).line.due_from == date(2024, 11, 1)  # one's own month is of the place


@pytest.mark.parametrize("leap", [date(2024, 2, 29), date(2028, 2, 29)])
def test_what_was_planted_on_a_leap_day_asks_for_nothing_before_it(leap):
    found = lines(replace(OAKS, planted_on=leap), has_guards=True, guard_years=4)
    assert min(line.due_from for line in found.values()) == found["mulch:1"].due_from == leap
    assert found["guards_look:1"].due_from == date(leap.year + 1, 1, 29)
    assert found["guards_off:4"].due_by == date(leap.year + 4, 2, 29)


@pytest.mark.parametrize(
    "wrong", [{"weeding_years": 6}, {"circle_m": 0}, {"mulch_cm": 21}, {"guard_years": 0}]
)
def test_choices_nobody_can_mean_are_refused(wrong):
    with pytest.raises(ValueError, match=r"between|at most"):
        care_schedule(OAKS, HILLS, CareChoices(**wrong))
    with pytest.raises(ValueError, match="nothing planted"):
        care_schedule(replace(OAKS, n=0), HILLS)


@settings(max_examples=25)
@given(
    st.dates(date(2023, 1, 1), date(2028, 12, 31)), st.sampled_from(StockType.values),
    st.sampled_from([HILLS, TWO_RAINS, NORTH, CAPE, Ground(), Ground(latitude_deg=-20.0)]),
    st.integers(0, 3), st.booleans(),
)  # fmt: skip
def test_any_schedule_is_in_order_after_planting_and_tells_its_words(day, stock_type, ground, years, yes):
    planting = Planting(day, stock_type, 10, ("shade",), 2.0, 5)
    choices = CareChoices(
        weeding_years=years, water_years=years, has_guards=yes, is_staked=yes, is_open_ground=yes
    )
    found = care_schedule(planting, ground, choices)
    keys = [line.key for line in found.lines]
    assert len(keys) == len(set(keys))
    assert [line.due_from for line in found.lines] == sorted(line.due_from for line in found.lines)
    for line in found.lines:
        assert day <= line.due_from <= line.due_by <= anniversary(day, 5) + timedelta(days=60)
        assert line.kind in CareKind.values
        assert 0 < len(care_words.what(line)) <= 200
        assert 0 < len(care_words.why(line)) <= 300
        assert bool(care_words.hesitation(line)) is not line.is_usual
    assert all(care_words.note(name, facts) for name, facts in found.notes)


# --- read from the records and taken up ----------------------------------------------------

TODAY = date(2024, 3, 1)


@pytest.fixture
def offered(actor, cohort):
    [found] = selectors.schedules(actor, cohort.block, CareChoices(), TODAY)
    return found


def take_up(actor, cohort, keys, today=TODAY):
    return services.accept(actor=actor, block=cohort.block, keys=keys, choices=CareChoices(), today=today)


def test_ticked_lines_become_tasks_with_reason_amount_and_source(actor, cohort, offered):
    keys = [
        row.key for row in offered.proposals if row.line.rule in ("mulch", "weeding") and row.line.year == 1
    ]
    made = take_up(actor, cohort, keys)
    assert len(made.new) == len(keys)
    task = CareTask.objects.get(rule="mulch")
    assert task.source_key == f"schedule:{cohort.uid}:mulch:1"
    assert (task.cohort, task.kind, task.source) == (cohort, "mulch", "common practice")
    assert (task.amount, task.amount_unit) == (29000, "litres")
    assert task.due_from == date(2024, 2, 10)
    assert "keeps weeds down" in task.why.lower()
    assert HistoryEntry.objects.filter(verb="care.added", person=actor.person).count() == len(keys)


def test_a_second_run_adds_only_what_is_new_and_revives_nothing_dropped(actor, cohort, offered):
    keys = [row.key for row in offered.proposals]
    take_up(actor, cohort, keys[:2])
    dropped = CareTask.objects.order_by("id").first()
    care.drop_task(actor=actor, task=dropped, because="Grass is short here")
    again = take_up(actor, cohort, keys)
    assert (len(again.new), again.n_known) == (len(keys) - 2, 2)
    dropped.refresh_from_db()
    assert dropped.dropped_at is not None
    assert take_up(actor, cohort, keys).new == ()
    assert CareTask.objects.count() == len(keys)


def test_other_choices_move_dates_of_what_is_new_and_never_double_a_line(actor, cohort, offered):
    take_up(actor, cohort, [row.key for row in offered.proposals])
    choices = CareChoices(weeding_years=3, has_guards=True)
    [found] = selectors.schedules(actor, cohort.block, choices, TODAY)
    known = {row.key for row in found.proposals if row.task is not None}
    assert known == {row.key for row in offered.proposals}
    assert {row.line.rule for row in found.proposals if row.task is None} >= {"guards_look", "guards_off"}


def test_what_is_past_is_not_offered_and_strange_ticks_are_refused(actor, cohort, offered):
    late = date(2026, 1, 1)
    [found] = selectors.schedules(actor, cohort.block, CareChoices(), late)
    assert found.n_past > 0
    past = next(row for row in found.proposals if row.is_past)
    for keys in ([past.key], ["nonsense"], []):
        with pytest.raises(Refusal):
            take_up(actor, cohort, keys, late)
    assert not CareTask.objects.exists()


def test_planting_days_taken_back_are_not_looked_after(actor, hill, block, lot, cohort):
    mistaken = factories.cohort(block, lot, factories.season(hill, "planting", year=2023), planted=70)
    mistaken.planting_days.update(voided_at="2024-02-12T08:00Z")
    day = cohort.planting_days.get()
    day.pk, day.uid, day.quantity, day.voided_at = None, uuid7(), 9999, "2024-02-12T08:00Z"
    day.planted_on = date(2024, 2, 28)
    day.save(force_insert=True)
    [found] = selectors.schedules(actor, block, CareChoices(), TODAY)
    assert (found.planting.n, found.planting.planted_on) == (500, date(2024, 2, 10))


def test_a_schedule_is_of_one_season_and_costs_the_same_for_one_planting_and_five(
    actor, hill, block, lot, cohort, django_assert_num_queries
):
    with django_assert_num_queries(5):
        selectors.schedules(actor, block, CareChoices(), TODAY)
    for year in range(2020, 2024):
        season = factories.season(hill, "planting", year=year)
        factories.cohort(block, lot, season, planted_on=date(year, 2, 1))
    with django_assert_num_queries(5):
        found = selectors.schedules(actor, block, CareChoices(), TODAY)
    assert len(found) == 5
    [one] = selectors.schedules(actor, block, CareChoices(), TODAY, season)
    assert one.cohort.season == season


def test_who_may_not_edit_care_takes_nothing_up(vera, other, olaf, cohort, offered):
    keys = [offered.proposals[0].key]
    with pytest.raises(PermissionDenied):
        take_up(access.member_actor(vera), cohort, keys)
    with pytest.raises(Refusal, match="another organisation"):
        take_up(access.member_actor(olaf), cohort, keys)
