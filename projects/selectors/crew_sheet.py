"""What stands on the sheet a crew takes along."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from projects.calc import day_loads
from projects.calc.spacing import pattern_per_ha
from projects.crew_day_words import DEPTHS, LOADS, Note
from projects.models import CrewDay, CrewDayPerson, StockType
from projects.selectors.crew_day_warnings import emergency_number
from projects.selectors.crew_days import LotOnDay, going


@dataclass(frozen=True)
class DepthOf:
    """How deep one stock type goes."""

    stock: Any
    notes: Sequence[Note]


@dataclass(frozen=True)
class LoadRow:
    """One load beside the screen; `instead` is what would stay within it. [kg]"""

    name: Any
    load: day_loads.Load
    instead: int

    @property
    def is_over(self) -> bool:
        return self.load.verdict == day_loads.MACHINE_ONLY


@dataclass(frozen=True)
class Sheet:
    """The whole sheet; the rules of the day come beside it."""

    people: Sequence[CrewDayPerson]
    lots: Sequence[LotOnDay]
    depths: Sequence[DepthOf]
    loads: Sequence[LoadRow]
    emergency: str
    is_site_number: bool
    per_ha: float | None
    plant_by: Mapping[int, date]
    expected: int = 0  # people

    @property
    def has_replacements(self) -> bool:
        return any(on.row.replaces_id is not None for on in self.lots)

    @property
    def blank_people(self) -> range:
        """Rows for whoever is expected and not on the list yet; one more than none, for who turns up."""
        return range(min(15, max(1, self.expected - len(self.people))))

    @property
    def blank_rows(self) -> range:
        """Rows to fill in by hand, so many that a day of a few lots fits."""
        return range(max(3, 6 - len(self.lots)))


def sheet_of(day: CrewDay, lots: Sequence[LotOnDay], sizes: Mapping[str, Any]) -> Sheet:
    """Gather the sheet of a day; `sizes` says how the stock comes to hand where it is not as usual."""
    types = stock_types(lots)
    names = dict(StockType.choices)
    block = day.block
    return Sheet(
        people=going(day),
        lots=lots,
        depths=[DepthOf(names[each], DEPTHS[each]) for each in types if each in DEPTHS],
        loads=[_load_row(load, sizes) for load in day_loads.loads(types, day_loads.Sizes(**sizes))],
        emergency=emergency_number(block),
        is_site_number=bool(block.site.emergency_contact.strip()),
        per_ha=pattern_per_ha(block.pattern, block.row_spacing_m, block.in_row_spacing_m),
        plant_by={on.row.pk: on.clock.plant_by for on in lots if on.clock and on.clock.plant_by},
        expected=day.people_expected or 0,
    )


def stock_types(lots: Iterable[LotOnDay]) -> list[str]:
    return sorted({on.row.lot.stock_type for on in lots})


def kinds_of(lots: Iterable[LotOnDay]) -> list[str]:
    """The loads a day's stock comes in."""
    types = stock_types(lots)
    return sorted({day_loads.CARRIED_AS[each] for each in types if each in day_loads.CARRIED_AS})


def _load_row(load: day_loads.Load, sizes: Mapping[str, Any]) -> LoadRow:
    """A load with how many plants, or how wide a ball, would stay within the screen."""
    usual = day_loads.Sizes(**sizes)
    instead = 0
    if load.kind == day_loads.TRAY:
        instead = day_loads.cells_within(load.screen_kg, usual.cell_ml)
    elif load.kind == day_loads.BUNDLE:
        instead = int(load.screen_kg * 1000 // usual.plant_g)
    return LoadRow(LOADS[load.kind], load, instead)
