"""The form of a quality check: one spot of ground, how many trees, what was wrong with them."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects import access, figures
from projects.access import Actor
from projects.crew_day_words import FAULTS
from projects.forms.fields import CountField, DayField
from projects.models import Block, CrewDay, StockLot


class QualityCheckForm(forms.Form):
    """Trees of one spot looked at just after planting."""

    checked_on = DayField(label=gettext_lazy("Checked on"))
    crew_day = forms.ModelChoiceField(
        CrewDay.objects.none(), to_field_name="uid", required=False, label=gettext_lazy("Planting day")
    )
    lot = forms.ModelChoiceField(
        StockLot.objects.none(),
        to_field_name="uid",
        required=False,
        label=gettext_lazy("Stock lot"),
        help_text=gettext_lazy("Where all trees of the spot are of one lot."),
    )
    label = forms.CharField(
        label=gettext_lazy("Which spot of ground"),
        max_length=60,
        required=False,
        help_text=gettext_lazy(
            "Such as: row 4, from the gate. Choose spots by chance, not by how they look."
        ),
    )
    inspected = CountField(label=gettext_lazy("Trees looked at"), min_value=1)
    acceptable = CountField(label=gettext_lazy("Of them planted as they should be"))
    note = forms.CharField(label=gettext_lazy("Note"), max_length=300, required=False)

    def __init__(self, actor: Actor, block: Block, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["crew_day"].queryset = access.visible_crew_days(actor).filter(block=block)
        self.fields["crew_day"].label_from_instance = lambda day: figures.day(day.day)
        self.fields["crew_day"].empty_label = _("not one of the list")
        lots = access.visible_lots(actor).filter(cohorts__block=block).select_related("species").distinct()
        self.fields["lot"].queryset = lots
        self.fields["lot"].label_from_instance = lambda lot: f"{lot.code}, {lot.species}"
        self.fields["lot"].empty_label = _("several, or not known")
        for name, words in FAULTS.items():
            self.fields[f"fault_{name}"] = CountField(
                label=_("Of the others: %(fault)s") % {"fault": words}, required=False
            )
        self.order_fields(
            ["checked_on", "crew_day", "lot", "label", "inspected", "acceptable",
             *(f"fault_{name}" for name in FAULTS), "note"]
        )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        """Gather the faults; one tree may have several."""
        values = super().clean() or self.cleaned_data
        faults = {name: values.pop(f"fault_{name}", None) or 0 for name in FAULTS}
        return {**values, "faults": faults}
