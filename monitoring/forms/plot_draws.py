"""Draw plots in a block: inside its ground, from its list of holdings, or along its row; take up a spare."""

import secrets
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from monitoring.calc.plot_frames import BY_TREES, EQUAL, Frame, Plan
from monitoring.models import BorderRule, Selection, Shape, SurveyRound, SurvivalPlot
from monitoring.models.visits import REASON_WORDS
from monitoring.services import plot_draws, spares
from projects import clocks
from projects.forms.fields import CountField, DayField, MeasureField
from projects.models import Block

SEEDS = 2**31
GROUND_METHODS = [
    (Selection.BALANCED, _("spatially balanced")),
    (Selection.SYSTEMATIC, _("systematic grid")),
    (Selection.RANDOM, _("random, each by itself")),
]
BORDER_RULES = [
    (BorderRule.CLIP, _("plots are cut at the border")),
    (BorderRule.BUFFER, _("a buffer is left out")),
]


class DrawForm(forms.Form):
    """What every draw asks: how many, how many spares, from which seed. `frame` and `plan` follow from it."""

    shape_of_plots = Shape.CIRCLE
    n_plots = CountField(label=_("Plots"), min_value=1, max_value=plot_draws.MOST_PLOTS)
    n_spares = CountField(
        label=_("Spares"),
        max_value=plot_draws.MOST_SPARES,
        required=False,
        help_text=_("Drawn with the plots; the next in order is taken up where a plot cannot be reached."),
    )
    seed = CountField(
        label=_("Seed"),
        required=False,
        max_value=2**63 - 1,
        help_text=_("The number the draw starts from. Leave empty for a fresh one; it is stored either way."),
    )
    is_permanent = forms.BooleanField(label=_("Mark the plots to be found again"), required=False)

    def __init__(self, *args: Any, block: Block, **options: Any) -> None:
        self.block = block
        super().__init__(*args, **options)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        values["n_spares"] = values.get("n_spares") or 0
        return values

    @property
    def needs_seed(self) -> bool:
        return self.cleaned_data.get("seed") is None

    @staticmethod
    def fresh_seed() -> int:
        return secrets.randbelow(SEEDS)

    def frame(self) -> Frame:
        raise NotImplementedError

    def plan(self) -> Plan:
        values = self.cleaned_data
        return Plan(Selection.LIST, values["n_plots"], values["n_spares"], values["seed"])

    def more(self) -> dict[str, Any]:
        """Whatever else the plots carry."""
        return {"shape": self.shape_of_plots, "is_permanent": self.cleaned_data["is_permanent"]}


class GroundForm(DrawForm):
    """Circles inside the boundary of a block."""

    method = forms.ChoiceField(
        label=_("How places are chosen"),
        choices=GROUND_METHODS,
        help_text=_("Balanced spreads plots evenly, so the same number tells most."),
    )
    radius_m = MeasureField(
        label=_("Radius in metres"),
        min_value=0.5,
        max_value=100,
        help_text=_("Horizontal. 5.64 m makes 100 square metres."),
    )
    slope_percent = MeasureField(
        label=_("Slope in per cent"),
        required=False,
        min_value=0,
        max_value=300,
        help_text=_("Where the block is steep; the cards then give the radius to lay out along the ground."),
    )
    border_rule = forms.ChoiceField(
        label=_("At the border"),
        choices=BORDER_RULES,
        help_text=_("Cut plots cover all the ground. What a buffer leaves out is reported as not covered."),
    )
    buffer_m = MeasureField(label=_("Buffer in metres"), required=False, min_value=0, max_value=1000)
    field_order = (
        "method", "n_plots", "n_spares", "radius_m", "slope_percent", "border_rule", "buffer_m", "seed",
        "is_permanent",
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        values = super().clean()
        buffered = values.get("border_rule") == BorderRule.BUFFER
        if buffered and not values.get("buffer_m"):
            self.add_error("buffer_m", _("Write how wide the buffer is."))
        values["buffer_m"] = values.get("buffer_m") or 0.0 if buffered else 0.0
        return values

    def frame(self) -> Frame:
        return plot_draws.ground_frame(self.block)

    def plan(self) -> Plan:
        values = self.cleaned_data
        return Plan(
            values["method"], values["n_plots"], values["n_spares"], values["seed"], radius_m=values["radius_m"],
            border_rule=values["border_rule"], buffer_m=values["buffer_m"],
        )  # fmt: skip

    def more(self) -> dict[str, Any]:
        return super().more() | {"slope_percent": self.cleaned_data.get("slope_percent")}


class HoldingsForm(DrawForm):
    """Holdings from the list of a block; every tree of a drawn holding is counted."""

    shape_of_plots = Shape.HOLDING
    chance = forms.ChoiceField(
        label=_("Chance of each holding"),
        choices=[
            (EQUAL, _("equal: every holding alike")),
            (BY_TREES, _("by its trees: large ones likelier, and weighted so that figures stay right")),
        ],
    )
    field_order = ("chance", "n_plots", "n_spares", "seed", "is_permanent")

    def frame(self) -> Frame:
        return plot_draws.holdings_frame(self.block, self.cleaned_data["chance"] == BY_TREES)


class RowForm(DrawForm):
    """Runs of consecutive spots along the row or rows of a block."""

    shape_of_plots = Shape.ROW
    spots = CountField(
        label=_("Planting spots in the row"),
        min_value=1,
        max_value=10_000_000,
        help_text=_("All of them, one row after the other, numbered from the start of the first."),
    )
    spots_per_plot = CountField(
        label=_("Spots in a plot"),
        min_value=1,
        max_value=1000,
        help_text=_("Common practice: 15 to 25, one after the other."),
    )
    field_order = ("spots", "spots_per_plot", "n_plots", "n_spares", "seed", "is_permanent")

    def frame(self) -> Frame:
        return plot_draws.row_frame(self.cleaned_data["spots"], self.cleaned_data["spots_per_plot"])


class UnreachableForm(forms.Form):
    """Why a plot cannot be reached: in a round that wants it, or when it was to be laid out."""

    survey_round = forms.ModelChoiceField(
        SurveyRound.objects.none(), label=_("Round"), error_messages={"required": _("Choose the round.")}
    )
    reason = forms.ChoiceField(
        label=_("Why"),
        choices=[(code, REASON_WORDS[code]) for code in spares.UNREACHABLE],
        widget=forms.RadioSelect,
        error_messages={"required": _("Say why the plot cannot be reached.")},
    )
    observed_on = DayField(label=_("Tried on"))

    def __init__(self, *args: Any, plot: SurvivalPlot, **options: Any) -> None:
        super().__init__(*args, **options)
        wanting = spares.rounds_of(plot)
        first = wanting.first()
        self.initial = {"survey_round": first, "observed_on": clocks.today_at(plot.block.site)}
        if first is None:
            del self.fields["survey_round"]
        else:
            rounds: Any = self.fields["survey_round"]
            rounds.queryset = wanting
