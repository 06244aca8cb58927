"""Change between two rounds as rows: the change itself, living now of those living then, and its yearly rate."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitoring.estimators import intervals, rows
from monitoring.estimators.change import DAYS_PER_YEAR, Changes, TwoRounds, TwoSamples, changes, yearly
from monitoring.estimators.domains import Gathered, gather, sample_of
from monitoring.estimators.limits import LIMIT_FIELDS, six_limits
from monitoring.estimators.measures import WHOLE_SCOPES, Domains, domains_of, flagged_lines, survival_measure
from monitoring.estimators.rows import EstimateRow, EstimateSettings, rounded
from monitoring.estimators.sums import distinct, summed
from monitoring.estimators.table import CountTable, Floats, Ints
from monitoring.estimators.two_rounds import Occasion, Pair, paired

POOLED_SCOPES = ("project", "site", "species")
CHANGE_SCOPES = (*POOLED_SCOPES, "block", "block_species", "cohort")
CHANGE_MEASURES = (rows.SURVIVAL_CHANGE, rows.INTERVAL_SURVIVAL, rows.ANNUAL_SURVIVAL)
FLAT = 1e-12  # a standard error below this shows no spread at all


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """One row with what it rests on.

    Attributes
    ----------
    row : the figure; `n_plots` are the plots seen twice, `n_trees` the trees of the later round.
    n_earlier, n_later, n_common : plots of each round that hold it, and of both.
    earlier, later : survival of each round on the plantings both counted.
    age_earlier_days, age_later_days : mean age in each round, None unknown. [days]
    years : time between the two visits of the plots seen twice. [years]
    """

    row: EstimateRow
    n_earlier: int
    n_later: int
    n_common: int
    earlier: float | None
    later: float | None
    age_earlier_days: int | None
    age_later_days: int | None
    years: float | None


def change_estimates(
    earlier: Occasion,
    later: Occasion,
    settings: EstimateSettings | None = None,
    *,
    scopes: Iterable[str] = CHANGE_SCOPES,
) -> tuple[ChangeRow, ...]:
    """Every change two rounds allow, in a fixed order; nothing where they share no planting.

    Parameters
    ----------
    earlier, later : the two rounds, in this order.
    settings : levels and conventions; the defaults of `EstimateSettings` when left out.
    scopes : which scopes to give, a subset of `CHANGE_SCOPES`.

    Returns
    -------
    tuple of ChangeRow
        Each (scope, key) has a headline row for the change, for living now of those living then, and for the
        same as a yearly rate; any of them may be `not_estimable` with the reason. Nothing is clipped: a rise is
        given as found, with the reason `rise`.
    """
    pair = paired(earlier, later)
    if not len(pair.tables[0].labels["block"]):
        return ()
    work = _Work(pair, settings or EstimateSettings())
    return tuple(row for scope in scopes for row in work.rows(scope))


@dataclass(frozen=True, slots=True)
class _Work:
    """What all scopes of one pair of rounds share."""

    pair: Pair
    settings: EstimateSettings

    def rows(self, scope: str) -> Iterator[ChangeRow]:
        """All rows of one scope."""
        tables = self.pair.tables
        domains = [domains_of(table, scope) for table in tables]
        measures = [survival_measure(table) for table in tables]
        samples = [sample_of(table, self.settings) for table in tables]
        gathered = [
            gather(table, domain, measure, flagged_lines(table), sample.visited)
            for table, domain, measure, sample in zip(tables, domains, measures, samples, strict=True)
        ]
        two = self.two_rounds(domains, gathered)
        sample = TwoSamples(
            np.stack([one.visited for one in samples], axis=1),
            np.stack([one.fraction for one in samples], axis=1),
            self.common_by_block(tables),
        )
        n_domains = len(domains[0].keys)
        found = changes(two, sample, n_domains, whole=scope in WHOLE_SCOPES)
        part = _Part(
            scope, domains[0].keys, self.settings, found, gathered, _census(two, sample, n_domains),
            self.times(domains, n_domains), self.warnings(scope, two, gathered, sample, n_domains),
        )  # fmt: skip
        for domain in range(n_domains):
            if (found.n_held[domain] > 0).any():
                yield from part.rows(domain)

    def common_by_block(self, tables: tuple[CountTable, CountTable]) -> Ints:
        """Plots of each block seen in both rounds."""
        twice = self.pair.twice
        plots, first = np.unique(tables[0].plot, return_index=True)
        return np.bincount(tables[0].block[first], twice[plots], tables[0].n_blocks).astype(np.int64)

    def two_rounds(self, domains: list[Domains], gathered: list[Gathered]) -> TwoRounds:
        """Plot totals of both rounds side by side."""
        n_plots = len(self.pair.plots)
        keys = [self.keys(t, domains[t], n_plots) for t in (0, 1)]
        pairs, where = distinct(np.concatenate([key for key, _ in keys]))
        split = keys[0][0].size
        places = (where[:split], where[split:])
        size = (pairs.size, 2)
        alive, trees, weight = np.zeros(size), np.zeros(size), np.zeros(size)
        block = np.zeros(pairs.size, np.int64)
        living, left, gone = np.zeros(size), np.zeros(size), np.zeros(size)
        for t, place in enumerate(places):
            totals, sums = gathered[t].totals, keys[t][1]
            alive[place, t], trees[place, t], weight[place, t] = totals.alive, totals.trees, totals.weight
            block[place] = totals.block
            living[place, t], left[place, t], gone[place, t] = sums
        removed = np.maximum(gone[:, 1] - gone[:, 0], 0)
        full = [_in_full(living[:, t], trees[:, t], left[:, t]) for t in (0, 1)]
        followed = (trees > 0).all(axis=1)  # some trees were looked at both times
        return TwoRounds(
            domain=pairs // n_plots, block=block, alive=alive, trees=trees, weight=weight,
            seen=self.pair.seen[pairs % n_plots],
            at_risk=np.maximum(full[0] - removed, 0) * followed, lived=full[1] * followed,
        )  # fmt: skip

    def keys(self, t: int, domains: Domains, n_plots: int) -> tuple[Ints, tuple[Floats, Floats, Floats]]:
        """Key domain × plot of each plot total, with its living, its trees not removed, and those removed."""
        table = self.pair.tables[t]
        measure = survival_measure(table)
        counts = measure.applies & (domains.code >= 0) & (measure.trees > 0)
        key, where = distinct(domains.code[counts] * n_plots + table.plot[counts])
        left = np.maximum(table.planted - table.removed, 0)[counts]
        sums = (measure.alive[counts], left, table.removed[counts])
        return key, tuple(summed(where, one, key.size) for one in sums)  # type: ignore[return-value]

    def times(self, domains: list[Domains], n_domains: int) -> "_Times":
        """Ages in both rounds and the time between, weighted by trees planted."""
        tables, seen_twice = self.pair.tables, self.pair.twice
        age, day, youngest = [], [], np.full(n_domains, np.inf)
        for t in (0, 1):
            table, code = tables[t], domains[t].code
            enters = (code >= 0) & (table.planted > 0)
            dated = enters & np.isfinite(self.pair.age_days[t])
            age.append(_mean(code, table.planted, np.nan_to_num(self.pair.age_days[t]), dated, n_domains))
            twice = enters & seen_twice[table.plot]
            day.append(_mean(code, table.planted, self.pair.day[table.plot, t], twice, n_domains))
            if t == 0:
                known = np.where(dated, self.pair.age_days[0], -np.inf)
                np.minimum.at(youngest, code[enters], known[enters])
        return _Times(age[0], age[1], (day[1] - day[0]) / DAYS_PER_YEAR, youngest)

    def warnings(
        self, scope: str, two: TwoRounds, gathered: list[Gathered], sample: TwoSamples, n_domains: int
    ) -> list[NDArray[np.str_]]:
        """What the reader of each domain must be told."""
        left_out = np.bincount(two.domain, self.pair.left_out[two.block], n_domains) > 0
        left_out = left_out | (self.pair.blocks_left_out and scope in POOLED_SCOPES)
        alone = (sample.visited == 1).any(axis=1) & (sample.fraction < 1).any(axis=1)
        lonely = np.bincount(two.domain, alone[two.block], n_domains) > 0
        return [
            np.where(left_out, rows.SHARED_ONLY, ""),
            np.where(gathered[1].n_removed > gathered[0].n_removed, rows.REMOVED_BETWEEN, ""),
            np.where(gathered[0].several & lonely, rows.LONELY_BLOCK, ""),
            np.where(gathered[0].by_plots | gathered[1].by_plots, rows.WEIGHTED_BY_PLOTS, ""),
        ]


def _in_full(living: Floats, assessed: Floats, left: Floats) -> Floats:
    """Living trees of a plot had every tree left been looked at, those not assessed faring like the others."""
    share = np.divide(living, assessed, out=np.zeros_like(living), where=assessed > 0)
    return np.where(assessed == left, living, share * left)


def _mean(code: Ints, weight: Ints, value: NDArray, where: NDArray[np.bool_], size: int) -> Floats:
    total = summed(code[where], weight[where], size)
    summed_up = summed(code[where], weight[where] * value[where], size)
    return np.divide(summed_up, total, out=np.full(size, np.nan), where=total > 0)


def _census(two: TwoRounds, sample: TwoSamples, n_domains: int) -> NDArray[np.bool_]:
    """Domains whose blocks were counted whole in both rounds: their change has no sampling error."""
    sampled = sample.fraction.min(axis=1) < 1
    return np.bincount(two.domain, sampled[two.block], n_domains) == 0


@dataclass(frozen=True, slots=True)
class _Times:
    """Mean age in each round, time between visits and youngest age in the earlier round, by domain."""

    earlier: Floats
    later: Floats
    years: Floats
    youngest: Floats


@dataclass(frozen=True, slots=True)
class _Part:
    """One scope ready to be written out as rows."""

    scope: str
    keys: tuple[str, ...]
    settings: EstimateSettings
    found: Changes
    gathered: list[Gathered]
    census: NDArray[np.bool_]
    times: _Times
    warnings: list[NDArray[np.str_]]

    def rows(self, domain: int) -> Iterator[ChangeRow]:
        """Change, interval survival and yearly rate of one domain."""
        yield self._change(domain)
        interval = self._interval(domain)
        yield interval
        yield self._annual(domain, interval.row)

    def _change(self, domain: int) -> ChangeRow:
        found = self.found
        method = rows.PAIRED_RESIDUALS if found.is_paired[domain] else rows.PARTIAL_OVERLAP
        method = method if found.n_common[domain] else rows.INDEPENDENT_ROUNDS
        if reason := self._refusal(domain, int(found.n_held[domain].min())):
            return self._told(domain, rows.refused(self._row(domain, rows.SURVIVAL_CHANGE, method), reason))
        rises = [rows.RISE] if found.difference[domain] > FLAT else []
        row = self._row(domain, rows.SURVIVAL_CHANGE, rows.CENSUS if self.census[domain] else method, rises)
        limits = change_limits(found, domain, bool(self.census[domain]), self.settings)
        return self._told(domain, _filled(row, found.difference[domain], found.se[domain], limits))

    def _interval(self, domain: int) -> ChangeRow:
        ratio = self.found.interval
        row = self._row(domain, rows.INTERVAL_SURVIVAL, rows.COMMON_PLOTS_RATIO)
        common = int(self.found.n_common[domain])
        reason = rows.NO_COMMON_PLOTS if common == 0 else self._refusal(domain, common)
        if not reason and not ratio.value[domain] >= 0:
            reason = rows.NOTHING_ALIVE
        if reason:
            return self._told(domain, rows.refused(row, reason))
        rises = [rows.RISE] if ratio.value[domain] > 1 else []
        method = rows.CENSUS if self.census[domain] else rows.COMMON_PLOTS_RATIO
        row = self._row(domain, rows.INTERVAL_SURVIVAL, method, rises)
        limits = interval_limits(self.found, domain, bool(self.census[domain]), self.settings)
        return self._told(domain, _filled(row, ratio.value[domain], ratio.se[domain], limits))

    def _annual(self, domain: int, interval: EstimateRow) -> ChangeRow:
        """The interval survival as a yearly rate, never across the first year after planting."""
        row = self._row(domain, rows.ANNUAL_SURVIVAL, interval.method, interval.reason.split())
        years, youngest = self.times.years[domain], self.times.youngest[domain]
        reason = interval.reason if interval.status != rows.OK else ""
        if not reason and not (np.isfinite(youngest) and years > 0):
            reason = rows.AGE_UNKNOWN
        if not reason and youngest < DAYS_PER_YEAR - 1:
            reason = rows.FIRST_YEAR
        if reason:
            return self._told(domain, rows.refused(row, reason))
        assert interval.value is not None and interval.se is not None
        value = float(yearly(interval.value, years))
        slope = value / years / interval.value if interval.value > 0 else 0.0
        limits = yearly([getattr(interval, name) for name in LIMIT_FIELDS], years)
        return self._told(domain, _filled(row, value, interval.se * slope, limits))

    def _refusal(self, domain: int, plots: int) -> str:
        """Why the plots of a domain give no figure; empty where they do."""
        if self.census[domain]:
            return ""
        if any(one.weightless[domain] for one in self.gathered):
            return rows.BLOCK_WEIGHT_MISSING
        if plots == 0:
            return rows.NOTHING_ASSESSED
        if plots == 1:
            return rows.ONE_PLOT
        few = 2 if self.scope in WHOLE_SCOPES else self.settings.minimum_plots
        return rows.TOO_FEW_PLOTS if plots < few else ""

    def _row(self, domain: int, measure: str, method: str, reasons: Iterable[str] = ()) -> EstimateRow:
        told = [*reasons, *(warning[domain] for warning in self.warnings)]
        return EstimateRow(
            scope=self.scope,
            key=self.keys[domain],
            measure=measure,
            method=method,
            level=self.settings.level,
            n_plots=int(self.found.n_common[domain]),
            n_trees=int(self.found.trees[domain, 1]),
            n_alive=int(self.found.interval.n_alive[domain]),
            n_flagged=sum(int(one.n_flagged[domain]) for one in self.gathered),
            is_headline=True,
            reason=" ".join(dict.fromkeys(str(code) for code in told if code)),
        )

    def _told(self, domain: int, row: EstimateRow) -> ChangeRow:
        found, times = self.found, self.times
        return ChangeRow(
            row=row,
            n_earlier=int(found.n_held[domain, 0]),
            n_later=int(found.n_held[domain, 1]),
            n_common=int(found.n_common[domain]),
            earlier=rounded(found.share[domain, 0]),
            later=rounded(found.share[domain, 1]),
            age_earlier_days=_whole(times.earlier[domain]),
            age_later_days=_whole(times.later[domain]),
            years=rounded(times.years[domain]),
        )


def _whole(days: float) -> int | None:
    return int(days) if np.isfinite(days) else None


def _filled(row: EstimateRow, value: float, se: float, limits: Floats) -> EstimateRow:
    named: dict[str, Any] = {name: rounded(limit) for name, limit in zip(LIMIT_FIELDS, limits, strict=True)}
    return rows.rounded_row(rows.filled(row, row.method, value, se, named))


def change_limits(found: Changes, domain: int, census: bool, settings: EstimateSettings) -> Floats:
    """The six limits of a change, Student's t about the difference; the edge rule where plots show no spread.

    Notes
    -----
    Where the same trees were counted twice and no plot gained any, the loss is a share of the trees planted, and its
    limits are logit-t: with few deaths, limits that lie even about it miss the truth too often.
    Without spread, on plots all seen twice: the earlier share times the limits of interval survival, less itself.
    Otherwise the edge limits of the two shares, square-and-add (Newcombe 1998, Statistics in Medicine 17:873).
    """
    difference, se, df = found.difference[domain], found.se[domain], found.df[domain]
    if census:
        return np.full(6, difference)
    if se > FLAT and found.only_lost[domain]:
        return -six_limits(lambda level: intervals.logit_t(-difference, se, df, level)[::-1], settings)
    if se > FLAT:
        half = six_limits(lambda level: _both(-intervals.student_t(df, level) * se), settings)
        return np.clip(difference + half, -1, 1)
    ratio = found.interval
    if found.is_paired[domain] and ratio.value[domain] <= 1 and ratio.se[domain] <= FLAT:
        return found.share[domain, 0] * (interval_limits(found, domain, census, settings) - 1)
    return six_limits(lambda level: _square_and_add(found, domain, level, settings.edge_icc), settings)


def _both(half: Floats) -> intervals.Limits:
    return half, -half


def _square_and_add(found: Changes, domain: int, level: float, icc: float) -> intervals.Limits:
    share = found.share[domain]
    effective = intervals.edge_trees(found.effective[domain], found.mean_plot[domain], icc)
    lower, upper = intervals.edge_limits(share, effective, level)
    down = np.hypot(share[1] - lower[1], upper[0] - share[0])
    up = np.hypot(upper[1] - share[1], share[0] - lower[0])
    return found.difference[domain] - down, found.difference[domain] + up


def interval_limits(found: Changes, domain: int, census: bool, settings: EstimateSettings) -> Floats:
    """The six limits of interval survival: logit-t with the edge rule, and log-t where a recount found more.

    A share above 1 has no logit; its logarithm has the standard error se / value.
    """
    ratio = found.interval
    value, se = ratio.value[domain], ratio.se[domain]
    df = ratio.df_satterthwaite[domain]
    df = ratio.df_design[domain] if np.isnan(df) else df
    if census:
        return np.full(6, value)
    if value > 1 or (value == 1 and se > FLAT):
        half = six_limits(lambda level: _both(-intervals.student_t(df, level) * se / value), settings)
        return value * np.exp(half)
    effective = intervals.edge_trees(
        ratio.trees_effective[domain], ratio.mean_plot[domain], settings.edge_icc
    )
    with np.errstate(invalid="ignore"):
        return six_limits(
            lambda level: intervals.logit_t_with_edge(value, se, df, effective, level), settings
        )
