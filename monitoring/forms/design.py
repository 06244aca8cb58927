"""How many plots, and where: what the manager expects and wishes, for the project and block by block."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from monitoring.estimators.allocation import EQUAL, NEYMAN, OPTIMAL_COST, PROPORTIONAL
from monitoring.selectors.plot_draws import BlockFacts
from monitoring.selectors.survey_design import EVERY_BLOCK
from projects.forms.fields import CountField, MeasureField, PercentField

RULES = [
    (PROPORTIONAL, _("by trees planted")),
    (EQUAL, _("the same number in every block")),
    (NEYMAN, _("by trees planted and how much plots differ")),
    (OPTIMAL_COST, _("by trees, how much plots differ, and the work of a plot")),
]
MOST_PLOTS = 2000


class DesignForm(forms.Form):
    """Everything the table and the sharing-out rest on; it travels in the address of the page."""

    of = forms.ChoiceField(label=_("For"))
    survival = PercentField(label=_("Survival you expect, %"))
    half_width = PercentField(
        label=_("Known to about ± how many points"),
        help_text=_("Half the width of the interval. ±10 is a usual first wish (common practice)."),
    )
    icc = MeasureField(
        label=_("How alike the trees of a plot fare"),
        min_value=0,
        max_value=0.9,
        help_text=_("The intra-plot correlation: 0 not at all, 1 wholly."),
    )
    trees_per_plot = MeasureField(
        label=_("Planted trees in a plot"),
        required=False,
        min_value=1,
        max_value=1000,
        help_text=_("Common practice: 15 to 25. Each block gets the radius that holds them."),
    )
    radius_m = MeasureField(
        label=_("Or one radius for every block, in metres"),
        required=False,
        min_value=0.5,
        max_value=100,
        help_text=_("Then the trees in a plot follow from how densely each block was planted."),
    )
    level = PercentField(label=_("Confidence of the interval, %"), help_text=_("Two-sided. Usually 95."))
    plots_per_day = MeasureField(
        label=_("Plots one person counts in a day"),
        min_value=0.1,
        max_value=200,
        help_text=_("With the way there. Eight is a guess: write what your crews do."),
    )
    rule = forms.ChoiceField(label=_("Share the plots out"), choices=RULES)
    total = CountField(
        label=_("Plots in all"),
        required=False,
        min_value=1,
        max_value=MOST_PLOTS,
        help_text=_("Empty: as many as the wish above asks."),
    )

    def __init__(
        self, data: Mapping[str, Any], *, blocks: Sequence[BlockFacts], defaults: Mapping[str, Any]
    ) -> None:
        super().__init__({**defaults, **data})
        of: Any = self.fields["of"]
        of.choices = [
            (EVERY_BLOCK, _("the whole project")),
            *((str(facts.block.uid), facts.block.name) for facts in blocks),
        ]
        for facts in blocks:
            self.add_block(facts)

    def add_block(self, facts: BlockFacts) -> None:
        """Three numbers a block may have of its own, drawn inside the table."""
        uid, name = facts.block.uid, facts.block.name
        self.fields[f"plots_{uid}"] = CountField(
            label=_("Plots in %(block)s") % {"block": name}, required=False, max_value=MOST_PLOTS
        )
        self.fields[f"survival_{uid}"] = PercentField(
            label=_("Survival expected in %(block)s, %%") % {"block": name}, required=False
        )
        self.fields[f"per_day_{uid}"] = MeasureField(
            label=_("Plots a day in %(block)s") % {"block": name},
            required=False,
            min_value=0.1,
            max_value=200,
        )

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        for name in ("survival", "level"):
            if values.get(name) in (0, 1):
                self.add_error(name, _("Write more than 0 and less than 100."))
        if values.get("half_width") is not None and not 0.005 <= values["half_width"] <= 0.5:
            self.add_error("half_width", _("Write a number of points between 0.5 and 50."))
        if not values.get("trees_per_plot") and not values.get("radius_m") and not self.errors:
            self.add_error("trees_per_plot", _("Write how many trees a plot shall hold, or a radius."))
        return values

    @property
    def shared(self) -> list[forms.BoundField]:
        """The fields above the table of blocks, those of the sharing-out left for beside it."""
        names = (
            "of",
            "survival",
            "half_width",
            "icc",
            "trees_per_plot",
            "radius_m",
            "level",
            "plots_per_day",
        )
        return [self[name] for name in names]

    @property
    def sharing(self) -> list[forms.BoundField]:
        return [self["rule"], self["total"]]

    def of_block(self, facts: BlockFacts) -> dict[str, Any]:
        """What was written for one block."""
        return {
            name: self.cleaned_data.get(f"{name}_{facts.block.uid}")
            for name in ("plots", "survival", "per_day")
        }
