"""Whether a target is met, on one-sided limits, and what would settle it if neither is sure."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from scipy import special

from monitoring.estimators import rows
from monitoring.estimators.intervals import student_t
from monitoring.estimators.rows import EstimateRow, EstimateSettings
from monitoring.estimators.table import Floats, Ints

MEETS_TARGET = "meets_target"
FALLS_SHORT = "falls_short"
NOT_SETTLED = "not_settled"
SO_FAR = "so_far"  # before the check age: a figure without an outcome
NO_OUTCOME = ""  # mixed ages, a measure without a target, or nothing estimable

COUNT_MORE_PLOTS = "more_plots"
GO_BACK_AND_LOOK = "look_again"  # the trees not found keep it open
PLOTS_CANNOT_SETTLE = "plots_cannot_settle"

POWER = 0.8  # "likely to settle it" (common practice)
MOST_PLOTS = 400
MEASURES_WITH_OUTCOME = (rows.SURVIVAL, rows.STOCKING)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a target and its figures say.

    Attributes
    ----------
    code : one of the outcome codes above.
    next_step : what would settle a `not_settled` outcome; empty otherwise.
    more_plots : further plots likely (4 in 5) to settle it, when that is the next step.
    target, lower, upper : the target and the one-sided limits it was held against.
    """

    code: str
    target: float
    next_step: str = ""
    more_plots: int | None = None
    lower: float | None = None
    upper: float | None = None


def judge(
    headline: EstimateRow,
    if_found: EstimateRow | None,
    target: float,
    *,
    for_claim: bool = False,
    check_age_reached: bool | None = True,
    block_plots: int | None = None,
    settings: EstimateSettings | None = None,
) -> Outcome:
    """Hold a headline figure against its target.

    Parameters
    ----------
    headline : survival counting not found as not alive, or stocking.
    if_found : survival counting not found as alive; None where nothing can be missing.
    target : share for survival, trees per hectare for stocking.
    for_claim : use the limits for claims to a funder rather than those for a replanting decision.
    check_age_reached : False gives `so_far`; None (mixed ages) gives none.
    block_plots : plots the block could hold, which bounds the number of further plots.
    settings : the settings the rows were made with; its one-sided levels size the further plots.

    Notes
    -----
    Meets: lower limit of the headline at or above the target. Falls short: upper limit of `if_found`
    below it. In between, if the target lies between the two figures no number of plots settles it: go back
    and look.

    Examples
    --------
    >>> limits = {"lower_decision": 0.84, "upper_decision": 0.94}
    >>> row = EstimateRow("block", "A", "survival", "m", 0.95, value=0.9, **limits)
    >>> judge(row, row, 0.8).code
    'meets_target'
    """
    if headline.status != rows.OK or headline.measure not in MEASURES_WITH_OUTCOME:
        return Outcome(NO_OUTCOME, target)
    best = if_found if if_found is not None and if_found.status == rows.OK else headline
    lower, upper = _limit(headline, "lower", for_claim), _limit(best, "upper", for_claim)
    if check_age_reached is None:
        return Outcome(NO_OUTCOME, target, lower=lower, upper=upper)
    if not check_age_reached:
        return Outcome(SO_FAR, target, lower=lower, upper=upper)
    if lower >= target:
        return Outcome(MEETS_TARGET, target, lower=lower, upper=upper)
    if upper < target:
        return Outcome(FALLS_SHORT, target, lower=lower, upper=upper)
    settings = settings or EstimateSettings()
    level = settings.claim_level if for_claim else settings.decision_level
    step, more = _next_step(headline, best, target, level, block_plots)
    if step == PLOTS_CANNOT_SETTLE and looking_could_settle(headline, best, target, for_claim):
        step = GO_BACK_AND_LOOK
    return Outcome(NOT_SETTLED, target, step, more, lower, upper)


def level_of_looks(level: float, looks: int) -> float:
    """One-sided level of each look, so that all of them together keep the error of one.

    The error 1 − level is shared out evenly (Bonferroni), which holds however much the looks have in common: the
    second one counts the plots of the first again. It must be fixed before the first look.

    Parameters
    ----------
    level : one-sided confidence promised, 0.5 to 1.
    looks : how often the outcome is read, 1 or more; a round with a planned second stage has two.

    References
    ----------
    Armitage, McPherson & Rowe (1969), J. R. Statist. Soc. A 132:235, for what unplanned looks do (from memory).

    Examples
    --------
    >>> [round(level_of_looks(0.90, looks), 4) for looks in (1, 2)]
    [0.9, 0.95]
    """
    if looks < 1:
        raise ValueError("looks must be 1 or more.")
    return 1 - (1 - level) / looks


def looking_could_settle(headline: EstimateRow, best: EstimateRow, target: float, for_claim: bool) -> bool:
    """Whether the target would be met if every tree not found lives, or missed if every one is dead."""
    return _limit(best, "lower", for_claim) >= target or _limit(headline, "upper", for_claim) < target


def _limit(row: EstimateRow, end: str, for_claim: bool) -> float:
    limit = getattr(row, f"{end}_{'claim' if for_claim else 'decision'}")
    if limit is None:
        raise ValueError(f"the row has no one-sided {end} limit.")
    return float(limit)


def _next_step(
    headline: EstimateRow, best: EstimateRow, target: float, level: float, block_plots: int | None
) -> tuple[str, int | None]:
    assert headline.value is not None and best.value is not None
    if headline.value < target <= best.value and best.value > headline.value:
        return GO_BACK_AND_LOOK, None
    deciding = headline if headline.value >= target else best
    if deciding.method == rows.CENSUS:
        return GO_BACK_AND_LOOK, None
    more = plots_to_settle(deciding, target, level, block_plots)
    return (PLOTS_CANNOT_SETTLE, None) if more is None else (COUNT_MORE_PLOTS, more)


def plots_to_settle(
    row: EstimateRow, target: float, level: float = 0.90, block_plots: int | None = None
) -> int | None:
    """Smallest number of further plots likely (4 in 5) to put the one-sided limit past the target.

    Parameters
    ----------
    row : the figure that has to clear the target; its value and plot-to-plot spread are taken as true.
    target : in the unit of the row.
    level : one-sided confidence of the limit.
    block_plots : plots the block could hold; counting them all settles it.

    Returns
    -------
    int or None
        None when not even `MOST_PLOTS` plots in all would do.

    Notes
    -----
    With N plots in all the limit clears when distance ≥ (t(N−1) + z(power)) × SE(N), for shares on the logit
    scale with SE from the intra-plot correlation, for stocking on the plain scale. The finite-population
    correction enters where the limit itself carries it: the posterior speaks of such trees until every plot is
    counted, and a standard error that was made with the correction is freed of it first.
    """
    most = min(MOST_PLOTS, block_plots) if block_plots else MOST_PLOTS
    candidates = np.arange(row.n_plots + 1, most + 1)
    if row.value is None or not candidates.size or row.n_plots == 0:
        return None
    stocking = row.measure == rows.STOCKING
    distance, spread = _plain(row, target, block_plots) if stocking else _on_logit(row, target)
    se = spread * np.sqrt(_left(row, candidates, block_plots) / candidates)
    needed = (student_t(candidates - 1, 2 * level - 1) + special.ndtri(POWER)) * se
    enough = np.flatnonzero(needed <= distance)
    return int(candidates[enough[0]] - row.n_plots) if enough.size and distance > 0 else None


def _left(row: EstimateRow, plots: Ints, block_plots: int | None) -> Floats:
    """Share of the variance that numbers of plots leave to the limit of a row."""
    if not block_plots:
        return np.ones(plots.size)
    left = np.maximum(1 - plots / block_plots, 0)
    return (left > 0).astype(float) if row.method == rows.POSTERIOR else left


def _plain(row: EstimateRow, target: float, block_plots: int | None) -> tuple[float, float]:
    """Distance to the target and the spread of one plot, in trees per hectare."""
    assert row.value is not None and row.se is not None
    seen = float(_left(row, np.array([row.n_plots]), block_plots)[0])
    return abs(row.value - target), row.se * float(np.sqrt(row.n_plots / seen)) if seen > 0 else 0.0


def _on_logit(row: EstimateRow, target: float) -> tuple[float, float]:
    """Distance to the target and the spread of one plot, both on the logit scale."""
    if not 0 < target < 1:
        return 0.0, 0.0
    assert row.value is not None
    share = float(np.clip(row.value, 0.5 / row.n_trees, 1 - 0.5 / row.n_trees))
    mean_plot = max(row.n_trees / row.n_plots, 1.0)
    icc = row.icc if row.icc is not None else _icc_from_deff(row.deff, mean_plot)
    variance = (1 + (mean_plot - 1) * icc) / (mean_plot * share * (1 - share))
    return abs(float(special.logit(share) - special.logit(target))), float(np.sqrt(variance))


def _icc_from_deff(deff: float | None, mean_plot: float, assumed: float = 0.1) -> float:
    if deff is None or mean_plot <= 1:
        return assumed
    return float(np.clip((deff - 1) / (mean_plot - 1), 0.0, 0.9))


def outcomes_of(estimates: Iterable[EstimateRow], target: float) -> dict[tuple[str, str], Outcome]:
    """The outcome of every survival headline by (scope, key), all held against one target."""
    headlines = {(row.scope, row.key, row.measure): row for row in estimates if row.is_headline}
    return {
        (scope, key): judge(row, headlines.get((scope, key, rows.SURVIVAL_IF_FOUND)), target)
        for (scope, key, measure), row in headlines.items()
        if measure == rows.SURVIVAL
    }
