"""The mixed-integer program behind a mix: rows in the words of rules, solved by HiGHS through scipy."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, milp

from projects.calc.mix_rules import (
    BUDGET,
    FIRM,
    LEAST_LIVING,
    LEAST_OF_SPECIES,
    LEAST_PLANTED,
    LIVING_WANTED,
    LOT_SIZE,
    MOST_OF_FAMILY,
    MOST_OF_GENUS,
    MOST_OF_SPECIES,
    NITROGEN,
    NURSES,
    ON_OFFER,
    SECOND_WAVE,
    SPECIES_NUMBER,
    SPOTS,
    WHOLE_TRAYS,
    Ground,
    MixRules,
    Option,
    Rule,
)

Floats = NDArray[np.float64]
INFEASIBLE_PROGRAM = "infeasible"


def no_clock() -> float:
    """Seconds where nobody watches the time."""
    return 0.0


@dataclass(frozen=True, slots=True)
class Row:
    """low ≤ values · variables[columns] ≤ high; `follows`: it tells the solver of a switch, and nobody of a mix;
    `only_with`: it asks nothing of a mix whose switch in this column is off."""

    rule: Rule
    columns: NDArray[np.int64]
    values: Floats
    low: float
    high: float
    follows: bool = False
    only_with: int | None = None


@dataclass(slots=True)
class Program:
    """Variables: plants of each option; switches, one per species in a block, per lot bought and per block with a
    second wave; trays of each lot."""

    options: Sequence[Option]
    species_switches: list[tuple[str, str]]
    lot_switches: list[tuple[str, str]]
    wave_switches: list[str]
    tray_sizes: dict[tuple[str, str], int]
    most: Floats
    rows: list[Row]

    @property
    def n_variables(self) -> int:
        return self._first_tray + len(self.tray_sizes)

    @property
    def _first_tray(self) -> int:
        return self._first_wave + len(self.wave_switches)

    @property
    def _first_wave(self) -> int:
        return len(self.options) + len(self.species_switches) + len(self.lot_switches)

    @classmethod
    def of(cls, options: Sequence[Option], grounds: Sequence[Ground], rules: MixRules) -> "Program":
        spots = {ground.name: ground.spots for ground in grounds}
        species = list(dict.fromkeys((option.block, option.species) for option in options))
        bought = list(dict.fromkeys((o.species, o.stock_type) for o in options))
        lots = [lot for lot in bought if lot in rules.lot_size]
        trays = {lot: rules.multiple_of[lot] for lot in bought if lot in rules.multiple_of}
        waves = list(dict.fromkeys(o.block for o in options if o.wave == 2))
        most = np.array([float(spots[o.block]) for o in options])
        program = cls(options, species, lots, waves, trays, most, [])
        for ground in grounds:
            program._ground_rows(ground, rules)
        program._offer_rows(rules)
        return program

    def _add(
        self,
        rule: Rule,
        columns: Iterable[int],
        values: Iterable[float],
        low: float,
        high: float,
        *,
        follows: bool = False,
        only_with: int | None = None,
    ) -> None:
        at = np.fromiter(columns, np.int64)
        self.rows.append(Row(rule, at, np.fromiter(values, float), low, high, follows, only_with))

    def _ground_rows(self, ground: Ground, rules: MixRules) -> None:
        mine = [i for i, option in enumerate(self.options) if option.block == ground.name]
        ones, about = [1.0] * len(mine), (ground.name,)
        self._add(Rule(SPOTS, about), mine, ones, -np.inf, ground.spots)
        least = np.ceil(ground.least_share * ground.spots - 1e-9)
        self._add(Rule(LEAST_PLANTED, about), mine, ones, least, np.inf)
        if ground.least_living is not None:
            alive = [self.options[i].survival for i in mine]
            self._add(Rule(LEAST_LIVING, about), mine, alive, ground.least_living, np.inf)
        self._share_rows(ground.name, mine, rules)
        self._switch_rows(ground, mine, rules)
        self._wave_rows(ground, mine, rules)

    def _share_rows(self, block: str, mine: list[int], rules: MixRules) -> None:
        """Share of a kind ≤ limit: (1 − limit) × kind − limit × others ≤ 0."""
        kinds: tuple[tuple[str, float | None, Callable[[Option], str]], ...] = (
            (MOST_OF_SPECIES, rules.most_of_species, lambda o: o.species),
            (MOST_OF_GENUS, rules.most_of_genus, lambda o: o.genus),
            (MOST_OF_FAMILY, rules.most_of_family, lambda o: o.family),
        )
        for kind, limit, name in kinds:
            if limit is None:
                continue
            for wanted in dict.fromkeys(name(self.options[i]) for i in mine):
                values = [float(name(self.options[i]) == wanted) - limit for i in mine]
                self._add(Rule(kind, (block,)), mine, values, -np.inf, 0.0)
        if rules.least_of_nitrogen_fixers is not None:
            values = [self.options[i].fixes_nitrogen - rules.least_of_nitrogen_fixers for i in mine]
            self._add(Rule(NITROGEN, (block,)), mine, values, 0.0, np.inf)

    def _switch_rows(self, ground: Ground, mine: list[int], rules: MixRules) -> None:
        """A species counts as used with one plant at least, or with its smallest share."""
        if ground.least_species <= 1 and rules.least_when_used is None:
            return
        switches = []
        for number, (block, species) in enumerate(self.species_switches):
            if block != ground.name:
                continue
            at = len(self.options) + number
            switches.append(at)
            plants = [i for i in mine if self.options[i].species == species]
            ones = [1.0] * len(plants)
            if ground.least_species > 1:
                self._add(Rule(SPECIES_NUMBER, (block,)), [*plants, at], [*ones, -1.0], 0.0, np.inf)
            if rules.least_when_used is not None:
                least = max(1.0, np.ceil(rules.least_when_used * ground.spots - 1e-9))
                self._add(Rule(LEAST_OF_SPECIES, (block,)), [*plants, at], [*ones, -least], 0.0, np.inf)
            self._add(
                Rule(SPOTS, (block,)),
                [*plants, at],
                [*[1.0] * len(plants), -float(ground.spots)],
                -np.inf,
                0.0,
            )
            if rules.most_of_species is not None:
                tight, share = [*ones, -rules.most_of_species * ground.spots], Rule(MOST_OF_SPECIES, (block,))
                self._add(share, [*plants, at], tight, -np.inf, 0.0, follows=True)
        if ground.least_species > 1:
            number_of = Rule(SPECIES_NUMBER, (ground.name,))
            self._add(number_of, switches, [1.0] * len(switches), ground.least_species, np.inf)

    def _wave_rows(self, ground: Ground, mine: list[int], rules: MixRules) -> None:
        """A second wave asks for its share of nurse trees in the first, one at least, and keeps to its spots."""
        if ground.name not in self.wave_switches:
            return
        at, spots, about = (
            self._first_wave + self.wave_switches.index(ground.name),
            ground.spots,
            (ground.name,),
        )
        second = [i for i in mine if self.options[i].wave == 2]
        first = [i for i in mine if self.options[i].wave == 1]
        ones = [1.0] * len(second)
        self._add(Rule(SPOTS, about), [*second, at], [*ones, -float(spots)], -np.inf, 0.0)
        if rules.most_in_second_wave is not None:
            values = [*ones, -rules.most_in_second_wave * spots]
            self._add(Rule(SECOND_WAVE, about), [*second, at], values, -np.inf, 0.0)
        if rules.least_of_nurses is not None:
            nurses = Rule(NURSES, about)
            some = [*[float(self.options[i].is_nurse) for i in first], -1.0]
            self._add(nurses, [*first, at], some, 0.0, np.inf)
            share = [self.options[i].is_nurse - rules.least_of_nurses for i in first]
            open_without = rules.least_of_nurses * spots  # without a second wave the share is not asked for
            values = [*share, -open_without]
            self._add(nurses, [*first, at], values, -open_without, np.inf, only_with=at)

    def _offer_rows(self, rules: MixRules) -> None:
        everything = range(len(self.options))
        if rules.budget is not None:
            self._add(Rule(BUDGET), everything, [o.price for o in self.options], -np.inf, rules.budget)
        if rules.living_wanted is not None:
            alive = [o.survival for o in self.options]
            self._add(Rule(LIVING_WANTED), everything, alive, rules.living_wanted, np.inf)
        for lot in dict.fromkeys((o.species, o.stock_type) for o in self.options):
            plants = [i for i in everything if (self.options[i].species, self.options[i].stock_type) == lot]
            ones = [1.0] * len(plants)
            if lot in rules.on_offer:
                self._add(Rule(ON_OFFER, lot), plants, ones, -np.inf, rules.on_offer[lot])
            if lot in rules.lot_size:
                at = len(self.options) + len(self.species_switches) + self.lot_switches.index(lot)
                most = float(self.most[plants].sum())
                self._add(
                    Rule(LOT_SIZE, lot), [*plants, at], [*ones, -float(rules.lot_size[lot])], 0.0, np.inf
                )
                self._add(Rule(ON_OFFER, lot), [*plants, at], [*ones, -most], -np.inf, 0.0, follows=True)
            if lot in rules.multiple_of:
                self._whole_tray_rows(lot, plants, rules.multiple_of[lot])

    def _whole_tray_rows(self, lot: tuple[str, str], plants: list[int], size: int) -> None:
        """Plants = size × trays, as two rows, so that giving up the rule opens both sides."""
        at = self._first_tray + list(self.tray_sizes).index(lot)
        values = [*[1.0] * len(plants), -float(size)]
        self._add(Rule(WHOLE_TRAYS, lot), [*plants, at], values, 0.0, np.inf)
        self._add(Rule(WHOLE_TRAYS, lot), [*plants, at], values, -np.inf, 0.0)

    def switches(self, plants: Floats) -> Floats:
        """Switches as a mix sets them, on where anything is planted or bought; trays to the nearest whole one."""
        of_species = [
            sum(plants[i] for i, o in enumerate(self.options) if (o.block, o.species) == pair) > 0
            for pair in self.species_switches
        ]
        of_lots = [
            sum(plants[i] for i, o in enumerate(self.options) if (o.species, o.stock_type) == lot) > 0
            for lot in self.lot_switches
        ]
        of_waves = [
            sum(plants[i] for i, o in enumerate(self.options) if o.block == block and o.wave == 2) > 0
            for block in self.wave_switches
        ]
        trays = [np.rint(plants[at].sum() / size) for at, size in self._trays()]
        return np.array([*of_species, *of_lots, *of_waves, *trays], float)

    def _trays(self) -> list[tuple[list[int], int]]:
        """Options that fill the trays of each lot sold by the tray, and plants a tray holds."""
        return [
            ([i for i, o in enumerate(self.options) if (o.species, o.stock_type) == lot], size)
            for lot, size in self.tray_sizes.items()
        ]

    def _matrix(self, extra: int = 0) -> sparse.csr_array:
        lengths = [row.columns.size for row in self.rows]
        where = np.repeat(np.arange(len(self.rows)), lengths)
        columns = np.concatenate([row.columns for row in self.rows])
        values = np.concatenate([row.values for row in self.rows])
        return sparse.csr_array((values, (where, columns)), (len(self.rows), self.n_variables + extra))

    def _tops(self) -> Floats:
        trays = [np.floor(self.most[at].sum() / size) for at, size in self._trays()]
        return np.concatenate([self.most, np.ones(self._first_tray - len(self.options)), trays])

    def solve(
        self, cost: Floats, gap: float, time_limit_s: float, *, tops: Floats | None = None, whole: bool = True
    ) -> Any:
        """Result of scipy; `INFEASIBLE_PROGRAM`; or None when time ran out with nothing found.

        `tops`: upper bounds, if tighter than the program's own; `whole`: whether plants and switches are whole.
        """
        limits = LinearConstraint(
            self._matrix(),
            np.array([row.low for row in self.rows]),
            np.array([row.high for row in self.rows]),
        )
        found = milp(
            cost, constraints=limits, bounds=Bounds(0, self._tops() if tops is None else tops),
            integrality=np.full(self.n_variables, int(whole)),
            options={"mip_rel_gap": gap, "time_limit": time_limit_s},
        )  # fmt: skip
        if found.status == 2:
            return INFEASIBLE_PROGRAM
        return found if found.x is not None else None

    def few_kinds(
        self, cost: Floats, gap: float, time_limit_s: float, clock: Callable[[], float] = no_clock
    ) -> tuple[Any, float]:
        """A quick mix of only those kinds that a mix of parts of plants would use, and a bound of the best.

        The first is None where there is none; the second is minus infinity where the time did not do.
        """
        begun = clock()
        parts = self.solve(cost, gap, time_limit_s, whole=False)
        if parts is None or isinstance(parts, str) or parts.status != 0:
            return None, -np.inf
        tops = np.where(parts.x > 1e-9, self._tops(), 0.0)
        left = max(time_limit_s - (clock() - begun), 0.01)
        found = self.solve(cost, gap, left, tops=tops)
        return None if found is None or isinstance(found, str) else found, float(parts.fun)

    def holds_without(self, kind: str, time_limit_s: float) -> bool:
        """Whether some mix obeys every rule but those of one kind."""
        kept = replace(self, rows=[row for row in self.rows if row.rule.kind != kind])
        found = kept.solve(np.zeros(self.n_variables), 0.0, time_limit_s)
        return not (found is None or isinstance(found, str))

    def smallest_conflict(self, time_limit_s: float) -> tuple[Rule, ...]:
        """Fewest rules whose giving up lets the rest hold: one switch a rule opens all its rows."""
        loose = list(dict.fromkeys(row.rule for row in self.rows if row.rule.kind not in FIRM))
        size, tops = self.n_variables, self._tops()
        matrix = self._matrix(len(loose)).tolil()
        low, high = np.array([row.low for row in self.rows]), np.array([row.high for row in self.rows])
        for number, row in enumerate(self.rows):
            if row.rule.kind in FIRM:
                continue
            reach = float(np.abs(row.values) @ tops[row.columns]) + 1
            at = size + loose.index(row.rule)
            if np.isfinite(row.low):
                matrix[number, at] = max(reach, row.low + reach)
            else:
                matrix[number, at] = -max(reach, reach - row.high)
        cost = np.concatenate([np.zeros(size), np.ones(len(loose))])
        found = milp(
            cost, constraints=LinearConstraint(matrix.tocsr(), low, high),
            bounds=Bounds(0, np.concatenate([tops, np.ones(len(loose))])), integrality=np.ones(cost.size),
            options={"time_limit": time_limit_s},
        )  # fmt: skip
        if found.x is None:
            return ()
        return tuple(rule for rule, on in zip(loose, found.x[size:], strict=True) if on > 0.5)
