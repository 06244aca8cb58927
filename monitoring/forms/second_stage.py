"""Plan the one second stage of a round: so many further plots in each block that is not settled."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from monitoring.forms.plot_draws import GROUND_METHODS
from monitoring.models import Estimate
from monitoring.services import plot_draws
from projects.forms.fields import CountField
from projects.models import Block


class SecondStageForm(forms.Form):
    """One number for each block that further plots could settle."""

    method = forms.ChoiceField(
        label=_("How places are chosen"),
        choices=GROUND_METHODS,
        help_text=_("Of rows and lists, what is left is drawn with equal chance."),
    )
    n_spares = CountField(
        label=_("Spares in each block"), max_value=plot_draws.MOST_SPARES, required=False, initial=2
    )

    def __init__(self, *args: Any, open_blocks: Sequence[Estimate], **options: Any) -> None:
        super().__init__(*args, **options)
        self.open_blocks = list(open_blocks)
        for row in self.open_blocks:
            self.fields[f"n_{row.block_id}"] = CountField(
                label=_("Further plots in %(block)s") % {"block": row.block},
                required=False,
                max_value=plot_draws.MOST_PLOTS,
                initial=min(row.more_plots or 0, plot_draws.MOST_PLOTS),
            )

    def clean(self) -> dict[str, Any]:
        """Return what the service takes: the further plots by block, the method, the spares."""
        values = super().clean() or self.cleaned_data
        further: dict[Block, int] = {
            row.block: values.pop(f"n_{row.block_id}", None) or 0 for row in self.open_blocks if row.block
        }
        return {"further": further, "method": values.get("method"), "n_spares": values.get("n_spares") or 0}

    @property
    def rows(self) -> list[tuple[Estimate, forms.BoundField]]:
        return [(row, self[f"n_{row.block_id}"]) for row in self.open_blocks]

    @property
    def others(self) -> list[forms.BoundField]:
        return [self["method"], self["n_spares"]]
