"""What every estimator answers with: one `EstimateRow` per scope, measure and method.

The command line, the recompute service and the pages all read this one shape. Codes are stable
(they are stored and translated by whoever shows them), so this module holds no sentence for a reader.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

SCOPES = ("project", "site", "block", "cohort", "species", "lot", "stock_type", "nursery", "block_species")

SURVIVAL = "survival"
SURVIVAL_IF_FOUND = "survival_if_found"
SURVIVAL_REMOVED_ALIVE = "survival_removed_alive"
SHARE_OF_VISIBLE_SPOTS = "share_of_visible_spots"
SPOT_OCCUPANCY = "spot_occupancy"
SEEDLINGS_PER_100_SEEDS = "seedlings_per_100_seeds"
SURVIVAL_CHANGE = "survival_change"  # later minus earlier round, same plots paired
INTERVAL_SURVIVAL = "interval_survival"  # of those alive in the earlier round, alive in the later
ANNUAL_SURVIVAL = "annual_survival"  # interval survival as a yearly rate
SURVIVAL_WORST_CASE = "survival_worst_case"  # all that is open decided for the lowest figure
SURVIVAL_BEST_CASE = "survival_best_case"
SURVIVAL_CASES_LOW = "survival_cases_low"  # open cases alone, each at its lowest reading
SURVIVAL_CASES_HIGH = "survival_cases_high"
SURVIVAL_MISSING_DEAD = "survival_missing_dead"  # every tree of the plots not counted dead
SURVIVAL_MISSING_ALIVE = "survival_missing_alive"
SURVIVAL_UNCERTAIN_NATURAL = "survival_uncertain_natural"  # trees of uncertain origin are natural seedlings
OBSERVER_DIFFERENCE = "observer_difference"  # first minus second count of a plot, as a share of its trees
OBSERVER_KAPPA = "observer_kappa"
ALIVE_FOUND = "alive_found"  # of living trees the second person found, those the first found too
NOT_FOUND_LATER_ALIVE = "not_found_later_alive"
STOCKING = "stocking"
STOCKING_PLANTED = "stocking_planted"
STOCKING_NATURAL = "stocking_natural"
STOCKING_CAPPED = "stocking_capped"  # no plot counted above its target
PLOTS_STOCKED = "plots_stocked"

POSTERIOR = "beta_binomial_posterior"
RATIO_LOGIT_T = "ratio_logit_t"
POOLED_ICC_WILSON = "pooled_icc_wilson"
STRATIFIED_LOGIT_T = "stratified_logit_t"
STRATIFIED_LOGIT_T_DESIGN_DF = "stratified_logit_t_design_df"
STRATIFIED_SEPARATE_RATIO = "stratified_separate_ratio"  # residuals about each block's own ratio
CENSUS = "census"
WILSON_PLOTS = "wilson_plots"
PLOT_MEAN_T = "plot_mean_t"
STRATIFIED_MEAN_T = "stratified_mean_t"
PAIRED_RESIDUALS = "paired_residuals"  # change: every plot seen in both rounds
PARTIAL_OVERLAP = "partial_overlap"  # change: covariance from the plots seen twice
INDEPENDENT_ROUNDS = "independent_rounds"  # change: no plot seen twice
COMMON_PLOTS_RATIO = "common_plots_ratio"  # of those living then, living now, on the plots seen twice
LIMITS_OF_AGREEMENT = "limits_of_agreement"  # two counts of one plot: mean difference, one more plot's limits
COHEN_KAPPA = "cohen_kappa"
WILSON_TREES = "wilson_trees"  # trees taken as independent: of single spots, not of a plot's fate

OK = "ok"
NOT_ESTIMABLE = "not_estimable"

# Reasons: why a row is not estimable, or (joined by a space, on an `ok` row) what its reader must be told.
NO_PLOTS = "no_plots"
ONE_PLOT = "one_plot"
NOTHING_PLANTED = "nothing_planted"
NO_BASELINE = "no_baseline"  # living trees, but nobody counted how many were planted
NOTHING_ASSESSED = "nothing_assessed"  # all trees not assessed or removed on purpose
TOO_FEW_PLOTS = "too_few_plots"
ONE_PLOT_EACH = "one_plot_each"  # several blocks, every sampled one with a single plot
BLOCK_WEIGHT_MISSING = "block_weight_missing"
LONELY_BLOCK = "lonely_block"  # a block with one plot: its variance is adjusted upwards
PLOTS_WITHOUT_BASELINE = "plots_without_baseline"  # left out of the sample: planted there is not known
BLOCK_LEFT_OUT = "block_left_out"  # a visited block of the domain without a tree to judge
UNEQUAL_PLOT_WEIGHTS = "unequal_plot_weights"  # the posterior cannot weight plots, so logit-t leads
LINES_LEFT_OUT = "lines_left_out"  # lines without a single cohort
WEIGHTED_BY_PLOTS = "weighted_by_plots"  # block_plots / n_h instead of trees planted
AREA_MISSING = "area_missing"
PLOTS_WITHOUT_AREA = "plots_without_area"  # visited, and left out of stocking
NO_COMMON_PLOTS = "no_common_plots"  # no plot was seen in both rounds, so nothing can be followed
NOTHING_ALIVE = "nothing_alive"  # nothing lived in the earlier round
FIRST_YEAR = "first_year"  # a yearly rate never reaches back into the first year after planting
AGE_UNKNOWN = "age_unknown"
RISE = "rise"  # dead trees do not come back: chance, a recount or trees found again
REMOVED_BETWEEN = "removed_between"  # living trees were taken out on purpose between two rounds
SHARED_ONLY = "shared_only"  # a comparison uses only the plantings both rounds counted


@dataclass(frozen=True, slots=True)
class EstimateSettings:
    """The choices behind a set of figures; every one is an editable default.

    Attributes
    ----------
    level : float
        Two-sided confidence of `lower` and `upper`.
    decision_level, claim_level : float
        One-sided confidence for a replanting decision and for a claim to a funder.
    finite_population : bool
        True: the target is *these trees* and the finite-population correction is applied wherever
        `block_plots` is known. False: the target is *such trees*, no correction.
    minimum_plots : int
        A species, lot, cohort, stock type or nursery held by fewer plots is "too few plots"
        (common practice).
    edge_icc : float
        Intra-plot correlation assumed by the logit-t edge rule at 0 % and 100 %.
    lonely_block : str
        `adjust` (conservative), `average`, `certainty` or `fail`.
    """

    level: float = 0.95
    decision_level: float = 0.90
    claim_level: float = 0.95
    finite_population: bool = True
    minimum_plots: int = 5
    edge_icc: float = 0.1
    lonely_block: str = "adjust"

    def __post_init__(self) -> None:
        for name in ("level", "decision_level", "claim_level"):
            if not 0.5 <= getattr(self, name) < 1:
                raise ValueError(f"{name} must lie between 0.5 and 1 (for example 0.95).")


@dataclass(frozen=True, slots=True)
class EstimateRow:
    """One figure with its limits. Shares lie in [0, 1]; stocking is in trees per hectare.

    Attributes
    ----------
    scope, key : str
        One of `SCOPES`, and the labels of what is estimated joined by ``:``.
    measure, method : str
        Codes defined at the top of this module.
    value, se, lower, upper, deff : float or None
        Rounded to 12 significant digits. All None when `status` is `not_estimable`: a point is never
        given without its interval.
    lower_decision, upper_decision, lower_claim, upper_claim : float or None
        One-sided limits at `EstimateSettings.decision_level` and `.claim_level`.
    icc : float or None
        Posterior mean of the intra-plot correlation, where the method has one.
    n_plots, n_trees, n_alive, n_flagged : int
        Plots and trees that entered, those alive after capping, and count lines flagged.
    is_headline : bool
        The row shown first for its scope, key and measure.
    status, reason : str
        `ok` (reason empty, or warnings joined by a space) or `not_estimable` with the reason code.
    """

    scope: str
    key: str
    measure: str
    method: str
    level: float
    value: float | None = None
    se: float | None = None
    lower: float | None = None
    upper: float | None = None
    lower_decision: float | None = None
    upper_decision: float | None = None
    lower_claim: float | None = None
    upper_claim: float | None = None
    deff: float | None = None
    icc: float | None = None
    n_plots: int = 0
    n_trees: int = 0
    n_alive: int = 0
    n_flagged: int = 0
    is_headline: bool = False
    status: str = OK
    reason: str = ""


FLOAT_FIELDS = tuple(f.name for f in fields(EstimateRow) if f.type in (float, float | None))


def rounded(number: Any) -> float | None:
    """Round to 12 significant digits; NaN, infinity and None become None.

    >>> rounded(0.1 + 0.2), rounded(float("nan")), rounded(None)
    (0.3, None, None)
    """
    if number is None or not math.isfinite(number):
        return None
    return float(f"{float(number):.12g}")


def rounded_row(row: EstimateRow) -> EstimateRow:
    """The row with every figure rounded as it will be stored."""
    figures: dict[str, Any] = {name: rounded(getattr(row, name)) for name in FLOAT_FIELDS}
    return replace(row, **figures)


def refused(row: EstimateRow, reason: str) -> EstimateRow:
    """The row as not estimable, with the reason."""
    return replace(row, status=NOT_ESTIMABLE, reason=reason)


def renamed(row: EstimateRow, scope: str, key: str) -> EstimateRow:
    """The same figures under another scope and key, as when a project has one block."""
    return replace(row, scope=scope, key=key)


def filled(row: EstimateRow, method: str, value: float, se: float, limits: Mapping[str, Any]) -> EstimateRow:
    """The row with its figure and all its limits."""
    return replace(row, method=method, value=value, se=se, **limits)
