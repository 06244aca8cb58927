"""Why there is no figure, or what its reader must be told: the estimators' codes in words."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

REASONS = {
    "no_plots": gettext_noop("No plot has been counted yet."),
    "one_plot": gettext_noop("One plot alone cannot say how sure a figure is; count at least one more."),
    "nothing_planted": gettext_noop("The counted plots hold no planted trees."),
    "no_baseline": gettext_noop(
        "Nobody counted how many trees were planted in these plots, so there is no survival; the living ones"
        " count in the trees per area."
    ),
    "nothing_assessed": gettext_noop("No planted tree was looked at, or all were removed on purpose."),
    "too_few_plots": gettext_noop("Too few plots hold it: the counts are shown, without a figure."),
    "one_plot_each": gettext_noop(
        "Every block has a single plot, which cannot say how sure a figure is; count at least one more."
    ),
    "block_weight_missing": gettext_noop(
        "A block lacks its number of trees planted, so blocks cannot be pooled; fill it in first."
    ),
    "lonely_block": gettext_noop("A block with a single plot widens the interval on purpose."),
    "plots_without_baseline": gettext_noop(
        "Plots in which nobody counted the trees planted are left out of this figure."
    ),
    "block_left_out": gettext_noop(
        "A block without a planted tree to judge in its plots is left out of this figure."
    ),
    "unequal_plot_weights": gettext_noop(
        "Plots carry different weights, so the interval is the weighted one."
    ),
    "lines_left_out": gettext_noop("Counts that mix cohorts are left out."),
    "weighted_by_plots": gettext_noop("Blocks are weighted by the number of plots they could hold."),
    "no_common_plots": gettext_noop("No plot was seen in both rounds, so no tree can be followed."),
    "nothing_alive": gettext_noop("Nothing lived in the earlier round."),
    "first_year": gettext_noop("No yearly rate: it would reach into the first year after planting."),
    "age_unknown": gettext_noop("No yearly rate: the age of the trees is not known."),
    "rise": gettext_noop(
        "Planted trees cannot become more: a rise is chance, a recount, or trees found again."
    ),
    "removed_between": gettext_noop(
        "Living trees were removed on purpose in between, which lowers the share without a death."
    ),
    "too_few_pairs": gettext_noop("Fewer than three plots were counted twice, so no limits can be given."),
    "no_tagged_spots": gettext_noop("Planting spots were not recorded one by one."),
    "one_status_only": gettext_noop(
        "Both people gave every spot the same status, so there was nothing to tell apart."
    ),
    "nothing_to_find": gettext_noop("There was no tree to find."),
    "shared_only": gettext_noop("Only plantings that both rounds counted enter."),
    "area_missing": gettext_noop("A block lacks its net area; fill it in for a figure per area."),
    "plots_without_area": gettext_noop(
        "Plots whose area is not on record are left out of the trees per area."
    ),
}


def reason_words(codes: str | None) -> str:
    """The sentences for one or more codes joined by spaces; an unknown code is shown as it is."""
    if not codes:
        return _("No plot has been counted yet.")
    known = [_(REASONS[code]) if code in REASONS else code for code in codes.split()]
    return " ".join(known)
