"""Limits of many made-up surveys at once, by the product's own estimators.

Each survey stands as a block (or each project as a domain of blocks) of one batch; arrays of limits are
(surveys, 6) in the order of `LIMIT_FIELDS`.
"""

import numpy as np

from deploy.benchmarks._coverage_worlds import Floats, Ints
from monitoring.estimators import intervals, rows
from monitoring.estimators.limits import PosteriorBatch, logit_t_limits, satterthwaite_limits, six_limits
from monitoring.estimators.rows import EstimateSettings
from monitoring.estimators.strata import PlotTotals, Sample, ratio_estimates

TREES_POOLED = "wilson_trees_pooled"  # as if every tree were a draw of its own: only for contrast
BLOCK_METHODS = (rows.POSTERIOR, rows.RATIO_LOGIT_T, TREES_POOLED)
PROJECT_METHODS = (rows.STRATIFIED_LOGIT_T, TREES_POOLED)


def block_limits(alive: Ints, trees: Ints, settings: EstimateSettings) -> dict[str, Floats]:
    """Six limits of each survey of one block by method, and its estimate under ``value``.

    `alive` and `trees` are (surveys, plots).
    """
    surveys, plots = alive.shape
    block = np.repeat(np.arange(surveys), plots)
    totals = PlotTotals(block, block, alive.ravel(), trees.ravel(), np.ones(block.size))
    ratio = ratio_estimates(totals, whole_blocks(surveys, plots), surveys, whole=True)
    batch = PosteriorBatch(settings)
    tickets = batch.request(totals, np.arange(surveys), surveys)
    batch.solve()
    return {
        "value": ratio.value,
        rows.POSTERIOR: np.stack([batch.limits(ticket) for ticket in tickets]),
        rows.RATIO_LOGIT_T: logit_t_limits(ratio, ratio.df_design, settings),
        TREES_POOLED: trees_pooled(alive, trees, settings),
    }


def project_limits(
    alive: Ints, trees: Ints, planted: Floats, settings: EstimateSettings
) -> dict[str, Floats]:
    """The same for projects of several blocks; `alive` and `trees` are (projects, blocks, plots)."""
    projects, blocks, plots = alive.shape
    stratum = np.repeat(np.arange(projects * blocks), plots)
    weight = (planted / trees.sum(axis=2)).ravel()[stratum]
    totals = PlotTotals(stratum // blocks, stratum, alive.ravel(), trees.ravel(), weight)
    ratio = ratio_estimates(totals, whole_blocks(projects * blocks, plots), projects, whole=True)
    return {
        "value": ratio.value,
        rows.STRATIFIED_LOGIT_T: satterthwaite_limits(ratio, settings),
        TREES_POOLED: trees_pooled(alive, trees, settings),
    }


def whole_blocks(blocks: int, plots: int) -> Sample:
    """Blocks of as many plots each, of which there could be any number."""
    return Sample(np.full(blocks, plots), np.zeros(blocks))


def trees_pooled(alive: Ints, trees: Ints, settings: EstimateSettings) -> Floats:
    """Wilson limits that take trees for independent."""
    axes = tuple(range(1, alive.ndim))
    living, total = alive.sum(axis=axes), trees.sum(axis=axes)
    return six_limits(lambda level: intervals.wilson(living, total, level), settings)
