"""What a survey design says, in sentences."""

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from monitoring.selectors.plot_draws import BlockFacts
from monitoring.selectors.survey_design import HOLDINGS, BlockShare, Design
from projects import figures

SURE, HARDLY = 0.95, 0.05


def points(half_width: float) -> str:
    """A half-width in percentage points, to a whole point where it is wide.

    >>> points(0.0612), points(0.0249)
    ('±6', '±2.5')
    """
    return f"±{figures.quantity(half_width * 100, 0 if half_width >= 0.0295 else 1)}"


def chance(share: float) -> str:
    """How often, as people say it."""
    if share >= SURE:
        return _("in nearly every survey")
    if share < HARDLY:
        return _("in hardly any survey")
    return _("in %(n)s of 10 surveys") % {"n": max(round(share * 10), 1)}


def sentence(design: Design) -> str:
    """What the marked row means."""
    if design.chosen is None:
        return _("No affordable number of plots gives that width. Wish for a wider interval.")
    row = design.chosen
    words = ngettext(
        "With %(plots)s plot the survival would be known to about %(points)s points, and the question would be"
        " settled %(chance)s.",
        "With %(plots)s plots the survival would be known to about %(points)s points, and the question would be"
        " settled %(chance)s.",
        row.plots,
    )
    return words % {
        "plots": figures.quantity(row.plots),
        "points": points(row.half_width),
        "chance": chance(row.chance_settled),
    }


def near_target(design: Design) -> str:
    """Why more plots would not help, where they would not."""
    if not design.is_near_target:
        return ""
    return _(
        "The survival you expect, %(survival)s, lies so near the target of %(target)s that even with %(plots)s plots"
        " most surveys would leave the question open. Plan for the width you need, not for a settled outcome."
    ) % {
        "survival": figures.percent(design.survival),
        "target": figures.percent(design.target),
        "plots": figures.quantity(design.table[-1].plots),
    }


def planted(facts: BlockFacts) -> str:
    """What stands in a block, and how that is known."""
    if not facts.trees:
        return _("nothing planted yet")
    if facts.are_spots:
        words = ngettext("%(n)s seed spot", "%(n)s seed spots", facts.trees)
        return words % {"n": figures.quantity(facts.trees)}
    if facts.trees_are_nominal:
        return _("%(trees)s by its spacing") % {"trees": figures.trees(facts.trees)}
    return figures.trees(facts.trees)


def advice(share: BlockShare, units: str) -> str:
    """Which shape suits a block, and why."""
    trees = figures.quantity(round(share.trees_in_plot))
    if share.shape == "whole_block":
        return _("count the whole block: with %(trees)s it is little work and leaves no sampling error") % {
            "trees": planted(share.facts)
        }
    if share.shape == HOLDINGS:
        return _("draw holdings from the list, about %(trees)s trees each") % {"trees": trees}
    if share.shape == "row":
        return _(
            "runs of %(trees)s consecutive spots from a random start: circles would hold too few trees or reach"
            " over the edge"
        ) % {"trees": trees}
    if share.shape == "circle" and share.radius_m is not None:
        said = {"radius": radius(share.radius_m, units), "trees": trees}
        if share.facts.are_spots:
            return (
                _(
                    "circles of %(radius)s radius, about %(trees)s seed spots each. They tell spot occupancy, which is"
                    " never pooled with survival: write a number of their own"
                )
                % said
            )
        return _("circles of %(radius)s radius, about %(trees)s trees each") % said
    return _("write down what was planted, or the spacing and the ground, and a size can be advised")


def radius(radius_m: float, units: str) -> str:
    """A radius to lay out, to the centimetre (or a hundredth of a foot)."""
    if units == "us":
        return _("%(n)s ft") % {"n": figures.quantity(radius_m / 0.3048, 2)}
    return _("%(n)s m") % {"n": figures.quantity(radius_m, 2)}
