"""The form that weighs what a project is for."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from projects.forms.fields import CountField
from projects.services.purposes import LEAST, MOST, version_of
from species.traits import USES


class PurposesForm(forms.Form):
    """A weight for each purpose; empty where the project is not for it. `version` travels along."""

    version = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, weights: dict[str, int], *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for use, words in USES.items():
            self.fields[use] = CountField(label=words, required=False, min_value=LEAST, max_value=MOST)
        self.initial = {**weights, "version": version_of(weights)}

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        return values | {"weights": {use: values.get(use) for use in USES}}


WHY = _(
    "Give each thing the project is for a weight from 1 to 10 and leave the others empty. Only their proportions "
    "matter: 10 and 5 weigh like 2 and 1. The mix then prefers species that serve the weightier purposes; without "
    "any weight all species count alike."
)
