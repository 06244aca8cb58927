"""The codes of results in words: measures, reasons a plot is missing, signs seen on losses, methods."""

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from monitoring.estimators import rows
from projects import figures
from projects.reasons import reason_words

MEASURES = {
    rows.SURVIVAL: gettext_noop("Survival"),
    rows.SURVIVAL_IF_FOUND: gettext_noop("Survival if the trees not found live"),
    rows.SURVIVAL_REMOVED_ALIVE: gettext_noop("Survival with removed trees counted as alive"),
    rows.SURVIVAL_WORST_CASE: gettext_noop("Survival, all that is open decided for the worst"),
    rows.SURVIVAL_BEST_CASE: gettext_noop("Survival, all that is open decided for the best"),
    rows.SURVIVAL_CASES_LOW: gettext_noop("Survival with every open doubt at its lowest reading"),
    rows.SURVIVAL_CASES_HIGH: gettext_noop("Survival with every open doubt at its highest reading"),
    rows.SURVIVAL_MISSING_DEAD: gettext_noop("Survival if nothing lives in the plots not counted"),
    rows.SURVIVAL_MISSING_ALIVE: gettext_noop("Survival if all live in the plots not counted"),
    rows.SURVIVAL_UNCERTAIN_NATURAL: gettext_noop(
        "Survival if trees of uncertain origin are natural seedlings"
    ),
    rows.OBSERVER_DIFFERENCE: gettext_noop("First minus second count of a plot"),
    rows.OBSERVER_KAPPA: gettext_noop("Agreement spot by spot (kappa)"),
    rows.ALIVE_FOUND: gettext_noop("Living trees found"),
    rows.NOT_FOUND_LATER_ALIVE: gettext_noop("Trees not found that lived"),
    rows.SHARE_OF_VISIBLE_SPOTS: gettext_noop("Share of visible spots alive"),
    rows.SPOT_OCCUPANCY: gettext_noop("Spot occupancy"),
    rows.SEEDLINGS_PER_100_SEEDS: gettext_noop("Seedlings per 100 seeds sown"),
    rows.SURVIVAL_CHANGE: gettext_noop("Change of survival since the round before"),
    rows.INTERVAL_SURVIVAL: gettext_noop("Living now, of those living then"),
    rows.ANNUAL_SURVIVAL: gettext_noop("Living after a year, of those living before"),
    rows.STOCKING: gettext_noop("Living trees per area"),
    rows.STOCKING_PLANTED: gettext_noop("Planted trees per area"),
    rows.STOCKING_NATURAL: gettext_noop("Natural regeneration per area"),
    rows.STOCKING_CAPPED: gettext_noop("Living trees per area, no plot above its target"),
    rows.PLOTS_STOCKED: gettext_noop("Share of plots stocked"),
}
APART = {
    rows.SHARE_OF_VISIBLE_SPOTS: gettext_noop(
        "The baseline was rebuilt from spots still visible, so trees that vanished without a trace are not in it."
        " Never read as survival, and never added to it."
    ),
    rows.SPOT_OCCUPANCY: gettext_noop(
        "A seed spot counts as occupied with at least one living seedling. Not survival of planted trees, and"
        " never added to it."
    ),
    rows.SEEDLINGS_PER_100_SEEDS: gettext_noop("Seedlings over seeds sown. Never added to planted trees."),
}
MISSING = {
    "unsafe": gettext_noop("unsafe, not visited"),
    "refused": gettext_noop("access refused"),
    "not_located": gettext_noop("plot not located"),
    "not_reached": gettext_noop("not reached"),
}
SIGNS = {
    "bitten": gettext_noop("bitten"),
    "pulled": gettext_noop("pulled out"),
    "frost_blackened": gettext_noop("frost-blackened"),
    "smothered": gettext_noop("smothered"),
    "burnt": gettext_noop("burnt"),
    "mown": gettext_noop("mown"),
    "flooded": gettext_noop("flooded"),
    "none_seen": gettext_noop("no sign seen"),
    "other": gettext_noop("another sign"),
}
METHODS = {
    rows.POSTERIOR: gettext_noop("beta-binomial posterior"),
    rows.RATIO_LOGIT_T: gettext_noop("ratio, logit-t limits"),
    rows.POOLED_ICC_WILSON: gettext_noop("Wilson with a pooled correlation"),
    rows.CENSUS: gettext_noop("census, everything counted"),
    rows.LIMITS_OF_AGREEMENT: gettext_noop("limits of agreement, Student's t"),
    rows.COHEN_KAPPA: gettext_noop("Cohen's kappa"),
    rows.WILSON_TREES: gettext_noop("Wilson, trees taken one by one"),
    rows.STRATIFIED_LOGIT_T: gettext_noop("stratified ratio, logit-t limits"),
    rows.STRATIFIED_LOGIT_T_DESIGN_DF: gettext_noop("stratified ratio, degrees of freedom by design"),
    rows.STRATIFIED_SEPARATE_RATIO: gettext_noop("stratified, residuals about each block's ratio"),
    rows.PAIRED_RESIDUALS: gettext_noop("same plots, compared one by one"),
    rows.PARTIAL_OVERLAP: gettext_noop("partly the same plots"),
    rows.INDEPENDENT_ROUNDS: gettext_noop("other plots each time"),
    rows.COMMON_PLOTS_RATIO: gettext_noop("ratio on the plots seen twice"),
}
METHOD_PAGES = {
    rows.POSTERIOR: "survival",
    rows.RATIO_LOGIT_T: "survival",
    rows.POOLED_ICC_WILSON: "survival",
    rows.CENSUS: "survival",
    rows.STRATIFIED_LOGIT_T: "across-blocks",
    rows.STRATIFIED_LOGIT_T_DESIGN_DF: "across-blocks",
    rows.STRATIFIED_SEPARATE_RATIO: "across-blocks",
    rows.PAIRED_RESIDUALS: "change",
    rows.PARTIAL_OVERLAP: "change",
    rows.INDEPENDENT_ROUNDS: "change",
    rows.COMMON_PLOTS_RATIO: "change",
    rows.LIMITS_OF_AGREEMENT: "observers",
    rows.COHEN_KAPPA: "observers",
    rows.WILSON_TREES: "observers",
    rows.WILSON_PLOTS: "stocking",
    rows.PLOT_MEAN_T: "stocking",
    rows.STRATIFIED_MEAN_T: "stocking",
}
OUTCOMES = {
    "meets_target": gettext_noop("meets target"),
    "falls_short": gettext_noop("falls short"),
    "not_settled": gettext_noop("not settled yet"),
    "so_far": gettext_noop("so far, before the age of the check"),
}

NEED_REASONS = {
    "target_or_ledger_missing": gettext_noop(
        "Neither a target nor planted trees are on record, so no number can be given."
    ),
    "replanted_since_count": gettext_noop(
        "Trees planted since the last count are reckoned with at the survival expected of them."
    ),
    "assurance_out_of_reach": gettext_noop(
        "Survival was so low, or differed so much, that no sensible number of plants gives the assurance asked"
        " for. Find the cause first."
    ),
}
SOURCES = {
    "observed_window": gettext_noop("as seen of this species and stock here at this time of the year"),
    "observed_species": gettext_noop("as seen of this species and stock here"),
    "observed_stock_type": gettext_noop("as seen of this stock type here"),
    "observed_project": gettext_noop("little known of this stock here, so as seen of all plantings"),
    "joined_species": gettext_noop("little seen of this species and stock, joined with what else was seen"),
    "joined_stock_type": gettext_noop("little seen of this stock type, joined with what else was seen"),
    "joined_project": gettext_noop("little seen of any planting here, joined with what is expected"),
    "common practice": gettext_noop("common practice, until something is counted"),
}


def need_reason(codes: str) -> str:
    """Reasons of a need, its own and those of the figure it rests on."""
    parts = [_(NEED_REASONS[code]) if code in NEED_REASONS else reason_words(code) for code in codes.split()]
    return " ".join(parts)


def source_words(code: str) -> str:
    """Where the survival of replacements was taken from."""
    return _(SOURCES[code]) if code in SOURCES else code.removeprefix("prior: ")


def seen_words(told: Mapping[str, Any]) -> str:
    """What a foreseen survival rests on: "as seen of this stock type here, 3 plantings in 14 plots"."""
    parts = [source_words(told["source"])]
    if told["n_plantings"]:
        plantings = ngettext(
            "%(n)s planting in %(plots)s", "%(n)s plantings in %(plots)s", told["n_plantings"]
        )
        shown = {"n": figures.quantity(told["n_plantings"]), "plots": figures.plots(told["n_plots"])}
        parts.append(plantings % shown)
    if told["carried"]:
        parts.append(_("carried to the check"))
    return ", ".join(parts)


def points(share: float | None) -> str:
    """A difference of two shares in percentage points, with its sign.

    >>> points(0.123), points(-0.2)
    ('+12 points', '−20 points')
    """
    return figures.NO_FIGURE if share is None else _("%(number)s points") % {"number": signed(share)}


def points_between(lower: float | None, upper: float | None) -> str:
    """The limits of a difference, the unit said once.

    >>> points_between(-0.3, 0.112)
    '−30 to +11 points'
    """
    if lower is None or upper is None:
        return _("no interval")
    return _("%(lower)s to %(upper)s points") % {"lower": signed(lower), "upper": signed(upper)}


def signed(share: float) -> str:
    """A share in hundredths with its sign; 0 has none."""
    number = figures.quantity(share * 100)
    return number if number.startswith(figures.MINUS) or number == "0" else f"+{number}"


def said(words: Mapping[str, str], code: str) -> str:
    """A code in words; one that has none is shown plainly rather than hidden."""
    return _(words[code]) if code in words else code.replace("_", " ")


def missing_words(missing: list[tuple[str, int]] | tuple[tuple[str, int], ...]) -> str:
    """Why plots have no count: "2 unsafe, not visited; 1 not reached"."""
    return "; ".join(f"{figures.quantity(number)} {said(MISSING, reason)}" for reason, number in missing)


def tally_words(tally) -> str:
    """What became of the plots of a block in one sentence."""
    words = ngettext(
        "%(counted)s of %(planned)s plot counted", "%(counted)s of %(planned)s plots counted", tally.planned
    )
    parts = [words % {
        "counted": figures.quantity(tally.counted + tally.destroyed), "planned": figures.quantity(tally.planned),
    }]  # fmt: skip
    if tally.destroyed:
        parts.append(
            ngettext(
                "%(n)s of them destroyed and so without a living tree",
                "%(n)s of them destroyed and so without a living tree",
                tally.destroyed,
            )
            % {"n": tally.destroyed}
        )
    if tally.n_missing:
        parts.append(_("not counted: %(reasons)s") % {"reasons": missing_words(tally.missing)})
    if tally.n_open:
        parts.append(
            ngettext("%(n)s not reported yet", "%(n)s not reported yet", tally.n_open) % {"n": tally.n_open}
        )
    if tally.outside:
        parts.append(
            ngettext("%(n)s not drawn for the round", "%(n)s not drawn for the round", tally.outside)
            % {"n": tally.outside}
        )
    return ", ".join(parts)
