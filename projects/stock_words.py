"""What is usual of each stock type, in words with their source: handling, lead times, what tends to go wrong."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext_lazy as _

COMMON, MEMORY = _("common practice"), _("from memory")


@dataclass(frozen=True)
class StockFacts:
    """Usual facts of one stock type, all editable where a figure enters a sum.

    Attributes
    ----------
    rate : trees one person plants in a day. [trees/day]
    weight : of one plant, in words; `weight_source` beside it.
    calliper_cm : trunk diameter for the rules of watering; None where plants are too small for them. [cm]
    lead : how long it takes to raise, where no price list says.
    wrong : what tends to go wrong, each with its source.
    """

    rate: int
    rate_source: Any
    weight: Any
    weight_source: Any
    lead: Any
    wrong: Sequence[tuple[Any, Any]]
    calliper_cm: float | None = None


FACTS: Mapping[str, StockFacts] = {
    "direct_seed": StockFacts(
        400, COMMON, _("grams, by seeds per kilogram"), COMMON, _("a seed year, then pretreatment"),
        (
            (_("mice, birds and insects eat the seed"), COMMON),
            (_("drought and weeds take the seedlings before their roots are down"), COMMON),
            (_("seeds of one spot share its fate: more of them help less than they should"), COMMON),
        ),
    ),
    "bare_root": StockFacts(
        100, COMMON, _("0.05 to 0.2 kg"), MEMORY, _("1 to 3 years to raise"),
        (
            (_("roots dry within minutes in sun and wind; about 7 days out of cold store or heel-in"), COMMON),
            (_("late lifting: buds that have begun to grow"), COMMON),
            (_("its window is the dormant season only"), COMMON),
        ),
    ),
    "container": StockFacts(
        100, COMMON, _("about 0.3 kg: a tray of 50 plugs of 300 mL weighs 15 kg with its crate"),
        _("arithmetic at 0.9 kg/L, common practice"), _("6 to 18 months to raise"),
        (
            (_("roots that circle in the pot go on circling in the ground: look at them, cut or cull"), COMMON),
            (_("thirsty at once: the plug dries before roots leave it"), COMMON),
            (_("frost heaves small plugs out of wet fine soil"), COMMON),
        ),
        calliper_cm=1.0,
    ),
    "balled_burlapped": StockFacts(
        5, COMMON, _("100 to 187 kg for a ball of 60 cm: weigh one before you plan a lift"),
        _("fitted to one grower's table, ±30 % by soil and moisture"),
        _("3 to 10 years to raise; order 6 to 12 months before"),
        (
            (_("most of the roots are left behind: up to about 95\u00a0% are cut"), COMMON),
            (_("up to two years pass before it grows again; it needs water all that time"), COMMON),
            (_("its weight: machines, trained people, nobody under the load"), COMMON),
        ),
        calliper_cm=5.0,
    ),
    "cutting": StockFacts(
        300, COMMON, _("0.05 to 0.3 kg"), MEMORY, _("cut while dormant, a few weeks"),
        (
            (_("dries out, or is put in upside down"), COMMON),
            (_("only some species root; needs ground that stays wet"), COMMON),
            (_("few parents: cuttings of one tree are one tree"), COMMON),
        ),
    ),
    "wildling": StockFacts(
        60, COMMON, _("0.05 to 0.2 kg"), MEMORY, _("dug when needed, with leave of the owner"),
        (
            (_("roots torn in digging; plant the same day"), COMMON),
            (_("plants grown in shade burn in the open"), COMMON),
            (_("may carry pests from where it stood"), COMMON),
        ),
    ),
}  # fmt: skip

TRAINED_RATE = _(
    "Trained crews with a planting bar in prepared ground: 1 000 to 3 000 small plants a person and day (University of"
    " Minnesota, Woodland Stewardship, ch. 4). Volunteers: 50 to 200 (common practice). Your own days say more."
)
LIFTING = _(
    "A tray of 15 kg lifted from the ground is above the limit of 9 kg that the revised NIOSH lifting equation gives"
    " for it (from memory): smaller trays, a raised bench, or two lifts. Local rules and a competent person decide."
)
WATER = _(
    "Rules of thumb disagree by a factor of about two: 1.5 US gallons per inch of calliper daily for two weeks, then"
    " every other day for two months, then weekly; or about 10 a week (Cooperative Extension); or 5 to 7.5 a week"
    " (Georgia Forestry Commission). They were written for trees with a trunk to measure, not for seedlings. A water"
    " balance of the block says more."
)
