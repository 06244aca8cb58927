"""What survival a manager expects of a planting."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects import access
from projects.access import Actor
from projects.forms.fields import MeasureField, PercentField
from projects.forms.stock import choosable_species
from projects.forms.versioned import VersionedForm
from projects.models import StockType, SurvivalPrior


class StatedSurvivalForm(VersionedForm):
    """A mean with its weight in trees, and what it holds for."""

    stock_type = forms.ChoiceField(
        label=gettext_lazy("Stock type"), required=False, choices=StockType.choices
    )
    mean = PercentField(
        label=gettext_lazy("Alive at the check age, in per cent"),
        help_text=gettext_lazy(
            "Of every 100 plants; of direct seed, of every 100 seed spots those with a living seedling."
        ),
    )
    weight_trees = MeasureField(
        label=gettext_lazy("As sure as if so many trees had been counted"),
        min_value=0.1,
        max_value=10_000,
        help_text=gettext_lazy("10: little is known. 100: well known. Counted plots soon outweigh it."),
    )
    source = forms.CharField(
        label=gettext_lazy("Where it comes from"),
        max_length=200,
        help_text=gettext_lazy("A trial, the nursery, a neighbour's record; or: common practice."),
    )

    class Meta:
        model = SurvivalPrior
        fields = ["project", "species", "stock_type", "mean", "weight_trees", "source"]

    def __init__(self, actor: Actor, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        projects, species = self.fields["project"], self.fields["species"]
        projects.queryset = access.visible_projects(actor).filter(archived_at=None).order_by("name")
        projects.to_field_name, projects.empty_label = "uid", _("every project")
        species.queryset = choosable_species(actor)
        species.empty_label = _("every species")
        projects.required = species.required = False
        projects.label, species.label = _("Project"), _("Species")
        self.fields["stock_type"].choices = [("", _("every stock type but direct seed")), *StockType.choices]
        if self.instance.project is not None:
            self.initial["project"] = self.instance.project.uid
