"""Words of a planting day: how deep, what goes wrong, what to lift, each with whose word it is."""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from django.utils.translation import gettext_lazy as _

COMMON, MEMORY = _("common practice"), _("from memory")


class Note(NamedTuple):
    """One thing a crew is told, and whose word it is."""

    words: Any
    source: Any = COMMON


DEPTHS: Mapping[str, Sequence[Note]] = {
    "bare_root": (
        Note(_("Root collar level with the ground or up to 2 cm below it, never above.")),
        Note(_("Hole as deep as the longest root; roots hang straight down, none bent upwards.")),
        Note(_("Close the soil firmly from below upwards; a gentle pull must not move the tree.")),
    ),
    "container": (
        Note(_("Plug just covered by 1 to 2 cm of soil, so that it does not dry out like a wick.")),
        Note(_("Moist plug, circling roots loosened or cut; show those that cannot be helped to the leader.")),
        Note(_("Firm the soil around the plug, not on top of it.")),
    ),
    "balled_burlapped": (
        Note(_("Top of the ball level with the ground, never deeper; the root flare is to be seen.")),
        Note(_("Pit two to three times as wide as the ball and no deeper, on undisturbed soil.")),
        Note(_("Once it stands, take wire, twine and cloth off the top of the ball.")),
    ),
    "cutting": (
        Note(_("Two thirds of its length in the ground, buds pointing up, at least two buds above.")),
        Note(_("Push it into moist soil, or into a hole made first; press the soil to it.")),
    ),
    "wildling": (
        Note(_("As deep as it stood before: the mark of the old ground on its stem is level with the new.")),
        Note(_("Keep its soil on the roots and plant within the day.")),
    ),
    "direct_seed": (
        Note(_("Cover a seed with two to three times its own size of soil; press the smallest onto the surface only.")),
        Note(_("Acorns and nuts on their side; firm the soil and cover it against birds and mice.")),
    ),
}  # fmt: skip

FAULTS: Mapping[str, Any] = {
    "bent_root": _("roots bent upwards (J-root)"),
    "too_shallow": _("too shallow"),
    "too_deep": _("too deep"),
    "loose": _("loose: a gentle pull moves it"),
    "air_pocket": _("air pocket at the roots"),
    "wrong_spacing": _("wrong distance to its neighbours"),
    "damaged_stem": _("stem damaged"),
    "dry_roots": _("roots dry"),
}

LOADS: Mapping[str, Any] = {
    "tray": _("a tray of plugs"),
    "bundle": _("a bundle of plants"),
    "ball": _("a root ball"),
    "sack": _("a sack of seed"),
}
