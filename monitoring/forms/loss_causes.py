"""What killed the trees of a block."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from monitoring.models import Cause, SurveyRound
from monitoring.selectors.loss_causes import species_of
from projects.forms.fields import PercentField
from projects.models import Block
from species.models import Species


class LossCauseForm(forms.Form):
    """One cause, of the whole block or of one species."""

    cause = forms.ChoiceField(
        label=_("Cause"),
        choices=[("", _("Choose a cause")), *Cause.choices],
        error_messages={"required": _("Choose a cause; “looked into, not known” is one.")},
    )
    species = forms.ModelChoiceField(
        Species.objects.none(),
        label=_("Of which trees"),
        empty_label=_("all trees of the block"),
        required=False,
    )
    share = PercentField(
        label=_("About how much of the losses, in per cent"),
        required=False,
        places=2,
        help_text=_("Leave empty if you cannot say. It is your judgement and enters no figure."),
    )
    note = forms.CharField(
        label=_("What tells you so"),
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("For example: “three nights below −6 °C in April, only the flat bottom”."),
    )

    def __init__(self, *args: Any, survey_round: SurveyRound, block: Block, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: Any = self.fields
        fields["species"].queryset = species_of(survey_round, block)
