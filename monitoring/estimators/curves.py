"""Survival over time of each cohort, and of what one season planted in a block and in the project.

Three ways, chosen by what was recorded, never mixed in one curve:

- `turnbull_spots`: every planting spot was followed, so each death is known to lie between two visits.
- `linked_rounds`: plots were counted again, and each round is linked to the one before by the plots both counted.
- `separate_points`: too few plots were seen twice. Each round stands by itself and points are never joined.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from monitoring.estimators import intervals, rows
from monitoring.estimators.curve_sums import NOT_SEEN, CurveSums, weigh_blocks
from monitoring.estimators.history import History
from monitoring.estimators.resampling import Resampling, resampled, spread, standard_errors
from monitoring.estimators.rows import EstimateSettings, rounded
from monitoring.estimators.spots import SpotIntervals
from monitoring.estimators.sums import distinct
from monitoring.estimators.table import Floats, Ints
from monitoring.estimators.turnbull import survival_at, turnbull

TURNBULL_SPOTS = "turnbull_spots"
LINKED_ROUNDS = "linked_rounds"
SEPARATE_POINTS = "separate_points"


@dataclass(frozen=True, slots=True)
class CurveInputs:
    """Everything curves are computed from.

    Attributes
    ----------
    counts, spots : the rounds of a project, and its planting spots where they were followed.
    season, planted : of each cohort code, the season that planted it and its trees by the ledger (−1 unknown).
    resampling : how plots are drawn again.
    project : the key of the project.
    """

    counts: History
    spots: SpotIntervals
    season: tuple[str, ...]
    planted: Ints
    settings: EstimateSettings
    resampling: Resampling
    project: str = "project"


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """Survival at one round.

    Attributes
    ----------
    round : number of the round in the history, −1 for planting.
    age_days : mean age of the trees at the visit, None unknown. [days]
    survival, lower, upper : share living of those planted, with its limits; not clipped where a recount rose.
    n_plots, n_trees : plots and trees it rests on.
    rose : more lived than at the point before.
    """

    round: int
    age_days: int | None
    survival: float
    lower: float
    upper: float
    n_plots: int
    n_trees: int
    rose: bool = False


@dataclass(frozen=True, slots=True)
class Curve:
    """Survival over time of one thing; the key of a block or project ends in the season that planted its trees.

    `n_removed` are living trees taken out on purpose, `came_back` spots marked dead and later alive. `reason` says
    why there are no points, or what the reader must be told.
    """

    scope: str
    key: str
    method: str
    level: float
    points: tuple[CurvePoint, ...] = ()
    n_plots: int = 0
    n_trees: int = 0
    n_removed: int = 0
    came_back: int = 0
    status: str = rows.OK
    reason: str = ""


def curves(inputs: CurveInputs) -> tuple[Curve, ...]:
    """Every curve of a project: by season, by block and season, by cohort; each in the order of its keys.

    Notes
    -----
    Limits are logit-t about the estimate, with the standard error over resampled plots and plots minus blocks degrees
    of freedom: percentiles of the resamples fall short of their level with as few plots as surveys have. Where plots
    show no spread the edge rule of `intervals.edge_limits` takes over. Blocks counted whole have no sampling error:
    their limits are the figure itself.
    """
    if not inputs.counts.plot.size:
        return ()
    return tuple(curve for group in _groups(inputs) for curve in _Scope(inputs, *group).curves())


def _groups(inputs: CurveInputs) -> Iterator[tuple[str, tuple[str, ...], Ints]]:
    """Scope, keys, and the code of each unit."""
    counts, names = inputs.counts, sorted(set(inputs.season))
    season = np.array([names.index(name) for name in inputs.season], dtype=np.int64)[counts.cohort]
    present, code = distinct(season)
    yield "project", tuple(f"{inputs.project}:{names[one]}" for one in present.tolist()), code
    pairs, code = distinct(counts.block * len(names) + season)
    keys = (f"{counts.blocks[one // len(names)]}:{names[one % len(names)]}" for one in pairs.tolist())
    yield "block", tuple(keys), code
    present, code = distinct(counts.cohort)
    yield "cohort", tuple(counts.cohorts[one] for one in present.tolist()), code


class _Scope:
    """All curves of one scope."""

    def __init__(self, inputs: CurveInputs, scope: str, keys: tuple[str, ...], code: Ints) -> None:
        self.inputs, self.counts, self.scope, self.keys = inputs, inputs.counts, scope, keys
        sampled = inputs.resampling.fraction[inputs.counts.block] < 1
        self.census = np.bincount(code, sampled, len(keys)) == 0
        self.sums = CurveSums(inputs.counts, code, len(keys), self.census)
        self.pooled = scope == "project"
        self.weightless: NDArray[np.bool_] = np.zeros(len(keys), bool)
        if self.pooled:
            self.weightless = weigh_blocks(self.sums, inputs.planted)
        self.order = np.argsort(code, kind="stable")
        self.starts = np.searchsorted(code[self.order], np.arange(len(keys) + 1))

    def curves(self) -> Iterator[Curve]:
        """The curves, in the order of their keys."""
        sums, codes = self.sums, np.arange(len(self.keys))
        living, at_risk = sums.living, sums.at_risk
        value = sums.share(sums.summed(living), sums.summed(at_risk), codes)
        se = standard_errors(
            self.inputs.resampling, sums.code, living, at_risk, sums.share, codes.size, self.pooled
        )
        n_trees = sums.summed(np.where(at_risk > 0, self.counts.counted, 0)).astype(np.int64)
        effective, ages = sums.effective(self.inputs.settings.edge_icc), sums.ages()
        for code in codes.tolist():
            blank = self.blank(code)
            if blank.status == rows.OK:
                share, error = (value[code], se[code])
                if blank.method == TURNBULL_SPOTS:
                    share, error = self.followed(code)
                points = self.points(code, share, error, effective[code], n_trees[code], ages[code])
                blank = self.filled(blank, points)
            yield blank

    def units(self, code: int) -> Ints:
        return self.order[self.starts[code] : self.starts[code + 1]]

    def blank(self, code: int) -> Curve:
        """What a curve rests on, and why it has no points if it has none."""
        units, counts = self.units(code), self.counts
        method = LINKED_ROUNDS if self.sums.joined[code] else SEPARATE_POINTS
        tagged = not self.pooled and bool(self.inputs.spots.is_tagged[units].all())
        reason = self.refusal(code, np.unique(counts.plot[units]).size)
        warning = rows.LINES_LEFT_OUT if counts.left_out[counts.block[units]].any() else ""
        return Curve(
            scope=self.scope,
            key=self.keys[code],
            method=TURNBULL_SPOTS if tagged else method,
            level=self.inputs.settings.level,
            n_plots=np.unique(counts.plot[units]).size,
            n_trees=int(counts.planted[units].max(axis=1, initial=0).sum()),
            n_removed=int(counts.removed[units].sum()),
            came_back=int(self.inputs.spots.came_back[units].sum()) if tagged else 0,
            status=rows.NOT_ESTIMABLE if reason else rows.OK,
            reason=reason or warning,
        )

    def refusal(self, code: int, n_plots: int) -> str:
        if self.weightless[code]:
            return rows.BLOCK_WEIGHT_MISSING
        if self.census[code]:
            return ""
        if n_plots < 2:
            return rows.ONE_PLOT
        few = self.inputs.settings.minimum_plots if self.scope == "cohort" else 2
        return rows.TOO_FEW_PLOTS if n_plots < few else ""

    def followed(self, code: int) -> tuple[Floats, Floats]:
        """Survival at each round from the spots of one curve, and its standard error over resampled plots."""
        units, spots, counts = self.units(code), self.inputs.spots, self.counts
        draws = self.inputs.resampling.of_block(int(counts.block[units[0]]))
        mine = np.isin(draws.units, units)
        trees = spots.trees[draws.units] * counts.weight[draws.units, None] * mine[:, None]
        one = np.zeros(draws.units.size, np.int64)
        both = np.concatenate([trees.sum(axis=0)[None], resampled(draws, one, trees, 1)[:, 0]])
        used = both[0] > 0
        right = np.where(spots.right > counts.n_rounds, np.inf, spots.right)
        found = turnbull(spots.left[used], right[used], both[:, used])
        survival = survival_at(found, np.arange(1, counts.n_rounds + 1))
        survival = np.where(self.sums.links.before[code] != NOT_SEEN, survival, np.nan)
        return survival[0], spread(survival[1:])

    def points(
        self, code: int, value: Floats, se: Floats, effective: Floats, n_trees: Ints, ages: Floats
    ) -> tuple[CurvePoint, ...]:
        """Planting, and every round that tells of the curve."""
        plots, df, census = self.sums.n_plots[code], self.degrees(code), self.census[code]
        found = [CurvePoint(-1, 0, 1.0, 1.0, 1.0, int(plots.max()), int(n_trees.max()))]
        for at in np.flatnonzero(np.isfinite(value) & ((df > 0) | census)).tolist():
            lower = upper = value[at]
            if not census:
                lower, upper = limits_of(value[at], se[at], df[at], effective[at], self.inputs.settings.level)
            point = CurvePoint(
                round=at,
                age_days=int(ages[at]) if np.isfinite(ages[at]) else None,
                survival=_rounded(value[at]),
                lower=_rounded(lower),
                upper=_rounded(upper),
                n_plots=int(plots[at]),
                n_trees=int(n_trees[at]),
                rose=bool(value[at] > found[-1].survival + 1e-9),
            )
            found.append(point)
        return tuple(found)

    def degrees(self, code: int) -> Ints:
        """Plots minus blocks at each round, of the weakest link up to it; no plot lends more than its block has."""
        seen = self.sums.links.before[code] != NOT_SEEN
        plots = np.where(seen, self.sums.n_plots[code], np.iinfo(np.int64).max)
        weakest = np.minimum.accumulate(plots) if self.sums.joined[code] else plots
        n_blocks = np.unique(self.counts.block[self.units(code)]).size if self.pooled else 1
        return np.where(seen, weakest - n_blocks, 0)

    def filled(self, blank: Curve, points: tuple[CurvePoint, ...]) -> Curve:
        if len(points) == 1:
            return replace(blank, status=rows.NOT_ESTIMABLE, reason=rows.ONE_PLOT)
        rises = rows.RISE if blank.came_back or any(point.rose for point in points) else ""
        return replace(blank, points=points, reason=" ".join(filter(None, (rises, blank.reason))))


def _rounded(number: float) -> float:
    return rounded(number) or 0.0


def limits_of(value: float, se: float, df: int, effective: float, level: float) -> tuple[float, float]:
    """Logit-t limits with the edge rule; plain t where a recount put survival above 1.

    >>> [round(x, 3) for x in limits_of(0.8, 0.05, 11, 60, 0.95)]
    [0.668, 0.888]
    >>> limits_of(1.0, 0.0, 5, 30, 0.95)[1]
    1.0
    """
    if value > 1:
        half = float(intervals.student_t(df, level)) * se
        return value - half, value + half
    with np.errstate(invalid="ignore"):
        lower, upper = intervals.logit_t_with_edge(value, se, df, effective, level)
    return float(lower), float(upper)
