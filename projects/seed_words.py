"""Words about seed trees and collections: what to weigh before relying on a seed lot, each with its source."""

from django.utils.translation import gettext_lazy as _

from projects.calc import seed_trees as s

COMMON_PRACTICE = _("common practice")
WARNINGS = {
    s.FEW_PARENTS: _(
        "Fewer than 30 parents. Common guidance asks for 30 outcrossing or 59 selfing ones to catch an allele of "
        "frequency 0.05 with 95 %, and to aim for 50 or more (Brown and Marshall 1995). That is a chance for each "
        "allele among unrelated parents, not a guarantee."
    ),
    s.UNEQUAL: _(
        "A few trees gave most of the seed, so the collection is as varied as one of fewer parents. Mix equal "
        "amounts of each tree where you can."
    ),
    s.MORE_SHARES_THAN_TREES: _("More trees are weighed than the collection is said to come from."),
    s.SHARES_MISSING: _(
        "Not every mother tree is weighed: the number of equal parents speaks of the weighed ones only."
    ),
    s.CLOSE_TOGETHER: _(
        "Parents closer than 50 m may be relatives, and then count for less (common practice; it depends on how far "
        "seed and pollen travel)."
    ),
    s.DISTANCE_UNKNOWN: _("Nobody wrote down how far apart the parents stand; close ones may be relatives."),
}
CROP = _(
    "Leave seed on the tree. Taking more than about 20 % of a tree's crop leaves little for wildlife and regrowth "
    "(common practice); protected species and reserves have rules of their own."
)
CLIMBING = _(
    "Gather from the ground or with a pole. Only trained climbers climb for seed; a climbing assessor says who and "
    "with what. Treated seed carries a label: gloves, and no dust."
)
PERMIT = _("Ask the landholder and the nature authority before gathering, and write down the permit.")


def warning_words(code: str) -> str:
    """Return the words of a warning."""
    return str(WARNINGS[code])
