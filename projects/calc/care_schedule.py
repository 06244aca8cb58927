"""What a planting asks for after the day it was planted: a schedule worked out from stock, species, season and site.

Every line is a proposal with its reason and its source; people tick what fits the ground they know. All norms are
common practice and editable unless a source is named. Nothing here says to fertilise: it says to have the soil or
a leaf looked at.
"""

from calendar import isleap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from projects.calc.care_amounts import WATERING_RULES, amendment_cap_litres, mulch_litres, pit_m3
from projects.calc.care_year import TROPIC_DEG, DrySpell, Ground, dry_spells, growing_runs, seasons_from

SEED, BALLED = "direct_seed", "balled_burlapped"
COMMON, BALANCE, MEMORY = "common_practice", "water_balance", "from_memory"
WEEKLY = [rule for rule in WATERING_RULES if rule.days == 7]

# Common practice, editable: trunk, watered patch and pit of a young tree by stock type.
CALLIPER_CM = {BALLED: 5.0, "cutting": 1.0}
WETTED_M = {BALLED: 1.0}
PIT_M = {BALLED: (1.2, 0.5)}
USUAL_CALLIPER_CM, USUAL_WETTED_M, USUAL_PIT_M = 0.6, 0.6, (0.3, 0.3)
ROOTING_M_A_YEAR = 0.3
SEASON_LEFT = 21  # days: weeds cut later in a season than this before its end are not worth the walk
AMENDMENT_CAPS = (0.1, 0.2)  # share of the pit's volume


@dataclass(frozen=True, slots=True)
class Planting:
    """What was planted.

    Attributes
    ----------
    planted_on : its last planting day.
    n : trees, or seed spots.
    light : words of the light a young plant of the species takes; None where nobody knows.
    dry_months : dry months in a year the species stands well; None where nobody knows.
    emerged_by : month by whose end seedlings have come up there, 1 to 12; None where nobody knows.
    """

    planted_on: date
    stock_type: str
    n: int
    light: tuple[str, ...] | None = None
    dry_months: float | None = None
    emerged_by: int | None = None

    @property
    def unit(self) -> str:
        """What its number is of: a seed spot is no tree."""
        return "spot" if self.stock_type == SEED else "tree"


@dataclass(frozen=True, slots=True)
class CareChoices:
    """What people decide about the schedule.

    Attributes
    ----------
    weeding_years, water_years : in how many years after planting.
    circle_m : diameter kept free of weeds. [m]
    mulch_cm : depth of mulch; 0 for none. [cm]
    has_guards, guard_years : whether each tree has a guard, and in which year it comes off.
    is_staked : None for what is usual with the stock type.
    is_open_ground : whether nothing shades the trees; None where nobody knows.
    """

    weeding_years: int = 2
    water_years: int = 2
    circle_m: float = 1.0
    mulch_cm: float = 7.5
    has_guards: bool = False
    guard_years: int = 5
    is_staked: bool | None = None
    is_open_ground: bool | None = None


@dataclass(frozen=True, slots=True)
class PlannedCare:
    """One line of the schedule.

    Attributes
    ----------
    rule, year : which rule made it, and in which year after planting, 1 the first.
    kind : the kind of care.
    amount, unit, each : in all, of what (`litre`, `tree`, `spot`), and for one tree; None where there is nothing to
        measure.
    is_usual : ticked from the start; what is not asks for a reason of the place.
    source : `common_practice`, `water_balance` or `from_memory`.
    facts : numbers its words are built from.
    """

    rule: str
    year: int
    kind: str
    due_from: date
    due_by: date
    amount: float | None = None
    unit: str = ""
    each: float | None = None
    is_usual: bool = True
    source: str = COMMON
    facts: Mapping[str, object] = field(default_factory=dict)

    @property
    def key(self) -> str:
        """What tells this line from others of the same planting, whatever its dates come out as."""
        return f"{self.rule}:{self.year}"


@dataclass(frozen=True, slots=True)
class CareSchedule:
    """A planting's schedule in the order of its dates, and what it does not ask for with why."""

    lines: tuple[PlannedCare, ...]
    notes: tuple[tuple[str, Mapping[str, object]], ...]


def care_schedule(planting: Planting, ground: Ground, choices: CareChoices | None = None) -> CareSchedule:
    """Work out the aftercare of one planting.

    Raises
    ------
    ValueError
        If there is nothing planted, a choice lies outside what can be meant, or normals are malformed.

    Examples
    --------
    >>> oaks = Planting(date(2026, 2, 1), "bare_root", 500, light=("full_sun",))
    >>> found = care_schedule(oaks, Ground(latitude_deg=52), CareChoices(weeding_years=1, water_years=0))
    >>> [(line.key, str(line.due_from), str(line.due_by)) for line in found.lines[:2]]
    [('mulch:1', '2026-02-01', '2026-03-01'), ('weeding:1', '2026-04-29', '2026-06-10')]
    """
    choices = choices or CareChoices()
    _check(planting, choices)
    rules = (_weeding, _mulch, _water, _guards, _stakes, _shade, _soil)
    lines = [line for rule in rules for line in rule(planting, ground, choices)]
    order = sorted(lines, key=lambda line: (line.due_from, line.due_by, line.rule))
    return CareSchedule(tuple(order), tuple(_notes(planting, ground, choices)))


def _check(planting: Planting, choices: CareChoices) -> None:
    if planting.n < 1:
        raise ValueError("there is nothing planted to look after.")
    if not (
        0 <= choices.weeding_years <= 5 and 0 <= choices.water_years <= 5 and 1 <= choices.guard_years <= 20
    ):
        raise ValueError("years of care lie between 0 and 5, those of a guard between 1 and 20.")
    if not (0 < choices.circle_m <= 3 and 0 <= choices.mulch_cm <= 20):
        raise ValueError("a circle is at most 3 m across, mulch at most 20 cm deep.")


def anniversary(day: date, years: int) -> date:
    """The same day some years later; 29 February becomes the 28th in years without one.

    >>> [str(anniversary(date(2024, 2, 29), years)) for years in (0, 1, 4)]
    ['2024-02-29', '2025-02-28', '2028-02-29']
    """
    year = day.year + years
    last = 28 if (day.month, day.day) == (2, 29) and not isleap(year) else day.day
    return date(year, day.month, last)


def _after(day: date, days: int) -> date:
    return day + timedelta(days=days)


def _year_of(planting: Planting, day: date) -> int:
    """In which year after planting a day lies, 1 the first."""
    years = day.year - planting.planted_on.year
    return years + 1 if day >= anniversary(planting.planted_on, years) else years


def _seasons(planting: Planting, ground: Ground, years: int) -> Sequence[tuple[date, date]]:
    begin = planting.planted_on
    return seasons_from(growing_runs(ground), begin, anniversary(begin, years)) if years else ()


def _numbered(rule: str, lines: Sequence[PlannedCare]) -> Iterator[PlannedCare]:
    """Name the second and later lines of a rule within a year `rule_2`, `rule_3`."""
    seen: dict[int, int] = {}
    for line in lines:
        seen[line.year] = n = seen.get(line.year, 0) + 1
        name = rule if n == 1 else f"{rule}_{n}"
        yield PlannedCare(
            name, line.year, line.kind, line.due_from, line.due_by, line.amount, line.unit, line.each,
            line.is_usual, line.source, line.facts,
        )  # fmt: skip


def _weeding(planting: Planting, ground: Ground, choices: CareChoices) -> Iterator[PlannedCare]:
    """A weeding in each growing season, four to ten weeks after weeds begin to grow; seedlings first come up."""
    earliest = _after(planting.planted_on, 28)
    if planting.stock_type == SEED:
        earliest = max(earliest, _emerged(planting))
    lines = []
    for start, end in _seasons(planting, ground, choices.weeding_years):
        due_from = max(_after(start, 28), earliest)
        if (end - due_from).days < SEASON_LEFT or _year_of(planting, due_from) > choices.weeding_years:
            continue
        facts = {"circle_m": choices.circle_m, "season_from": start}
        year = _year_of(planting, due_from)
        due_by = min(_after(due_from, 42), end)
        lines.append(
            PlannedCare("weeding", year, "weeding", due_from, due_by, planting.n, planting.unit, facts=facts)
        )
    yield from _numbered("weeding", lines)


def month_at(month: int, latitude_deg: float | None) -> int:
    """A month told of the north as it falls at a place: half a year on south of the tropics.

    >>> month_at(5, 41), month_at(5, -40), month_at(8, -40), month_at(5, None)
    (5, 11, 2, 5)
    """
    is_south = latitude_deg is not None and latitude_deg < -TROPIC_DEG
    return (month + 5) % 12 + 1 if is_south else month


def _emerged(planting: Planting) -> date:
    """The day after the month by whose end seedlings are up; twelve weeks after sowing where nobody knows."""
    if planting.emerged_by is None:
        return _after(planting.planted_on, 84)
    month = planting.emerged_by % 12 + 1
    day = date(planting.planted_on.year + (planting.emerged_by == 12), month, 1)
    if day <= planting.planted_on:
        day = anniversary(day, 1)
    return day


def _mulch(planting: Planting, ground: Ground, choices: CareChoices) -> Iterator[PlannedCare]:
    """Mulch within four weeks of planting; renewed a year later only where it has rotted away."""
    if planting.stock_type == SEED or choices.mulch_cm == 0:
        return
    each = mulch_litres(choices.circle_m, choices.mulch_cm)
    facts = {"circle_m": choices.circle_m, "depth_cm": choices.mulch_cm}
    for years in range(2 if choices.weeding_years > 1 else 1):
        begin = anniversary(planting.planted_on, years)
        yield PlannedCare(
            "mulch", years + 1, "mulch", begin, _after(begin, 28), each * planting.n, "litre", each,
            is_usual=years == 0, facts=facts,
        )  # fmt: skip


def _water(planting: Planting, ground: Ground, choices: CareChoices) -> Iterator[PlannedCare]:
    """Water in the dry spells of each year, by the balance; none where rain suffices, none for seed."""
    if planting.stock_type == SEED:
        return
    wetted = WETTED_M.get(planting.stock_type, USUAL_WETTED_M)
    lines = []
    for year in range(1, choices.water_years + 1):
        begin = anniversary(planting.planted_on, year - 1)
        for spell in dry_spells(ground, begin, ROOTING_M_A_YEAR * year, wetted):
            lines.append(_watering(planting, ground, year, spell))
    yield from _numbered("water", lines)


def _watering(planting: Planting, ground: Ground, year: int, spell: DrySpell) -> PlannedCare:
    dry, stands = ground.dry_months or 0, planting.dry_months
    is_usual = dry > 0 and (year == 1 or stands is None or dry > stands)
    calliper = CALLIPER_CM.get(planting.stock_type, USUAL_CALLIPER_CM)
    weeks = (spell.last_on - spell.first_on).days / 7 + 1
    facts = {
        "times": spell.times, "by_month": spell.by_month, "dry_months": dry, "calliper_cm": calliper,
        "thumb_least": weeks * min(rule.least for rule in WEEKLY) * calliper,
        "thumb_most": weeks * max(rule.most for rule in WEEKLY) * calliper,
    }  # fmt: skip
    return PlannedCare(
        "water", year, "water", spell.first_on, spell.last_on, spell.litres * planting.n, "litre", spell.litres,
        is_usual, BALANCE, facts,
    )  # fmt: skip


def _guards(planting: Planting, ground: Ground, choices: CareChoices) -> Iterator[PlannedCare]:
    """Look at every guard once a year, and take each off in its year."""
    if not choices.has_guards:
        return
    for years in range(1, choices.guard_years):
        day = anniversary(planting.planted_on, years)
        yield PlannedCare(
            "guards_look", years, "guards", _after(day, -30), _after(day, 30), planting.n, planting.unit
        )
    off = anniversary(planting.planted_on, choices.guard_years)
    facts = {"years": choices.guard_years}
    yield PlannedCare(
        "guards_off", choices.guard_years, "guards", _after(off, -180), off, planting.n, planting.unit,
        source=MEMORY, facts=facts,
    )  # fmt: skip


def _stakes(planting: Planting, ground: Ground, choices: CareChoices) -> Iterator[PlannedCare]:
    """Where trees are staked: loosen ties after half a year, take stakes away within twelve months. Never for seed."""
    staked = planting.stock_type == BALLED if choices.is_staked is None else choices.is_staked
    if not staked or planting.stock_type == SEED:
        return
    planted, off = planting.planted_on, anniversary(planting.planted_on, 1)
    yield PlannedCare(
        "stakes_look", 1, "stakes", _after(planted, 150), _after(planted, 210), planting.n, planting.unit
    )
    yield PlannedCare("stakes_off", 1, "stakes", _after(off, -90), off, planting.n, planting.unit)


def needs_shade(planting: Planting, choices: CareChoices) -> bool:
    """Whether a shade-bearer stands on open ground."""
    return bool(choices.is_open_ground and planting.light and "full_sun" not in planting.light)


def _shade(planting: Planting, ground: Ground, choices: CareChoices) -> Iterator[PlannedCare]:
    """Shade within four weeks for shade-bearers on open ground, away at the start of a season after two years."""
    if not needs_shade(planting, choices):
        return
    begin = planting.planted_on
    yield PlannedCare("shade_up", 1, "shade", begin, _after(begin, 28), planting.n, planting.unit)
    two = anniversary(begin, 2)
    later = [start for start, _end in _seasons(planting, ground, 4) if start >= two]
    off = later[0] if later else two
    yield PlannedCare("shade_off", 3, "shade", off, _after(off, 42), planting.n, planting.unit)


def _soil(planting: Planting, ground: Ground, choices: CareChoices) -> Iterator[PlannedCare]:
    """Have soil or leaves tested late in the first full season, where growth gives reason to; never to fertilise."""
    late = _after(planting.planted_on, 90)
    ends = [end for _start, end in _seasons(planting, ground, 2) if end >= late]
    if ends:
        due_from = max(_after(ends[0], -60), planting.planted_on)
        yield PlannedCare("soil_test", 1, "soil", due_from, ends[0], is_usual=False)


def _notes(
    planting: Planting, ground: Ground, choices: CareChoices
) -> Iterator[tuple[str, Mapping[str, object]]]:
    """What is not asked for, or not known, with the numbers behind it."""
    planted = planting.planted_on
    yield "walk", {"due_from": _after(planted, 14), "due_by": _after(planted, 42)}
    if planting.stock_type == SEED:
        yield "seed", {"emerged_by": planting.emerged_by}
    else:
        pit = pit_m3(*PIT_M.get(planting.stock_type, USUAL_PIT_M))
        least, most = (amendment_cap_litres(pit, 0, cap) for cap in AMENDMENT_CAPS)
        yield "amendment", {"pit_litres": pit * 1000, "least": least, "most": most}
    if not ground.has_climate:
        yield "no_climate", {"latitude_known": ground.latitude_deg is not None}
    elif choices.water_years and planting.stock_type != SEED and not list(_water(planting, ground, choices)):
        yield "rain_suffices", {}
    if choices.is_open_ground is None or planting.light is None:
        yield "shade_unknown", {"light_known": planting.light is not None}
    if not choices.has_guards:
        yield "no_guards", {}
