"""What people decide about a schedule of aftercare before it is worked out."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from projects.calc.care_schedule import CareChoices
from projects.forms.fields import MeasureField

USUAL, YES, NO = "", "yes", "no"
ANSWERS = {USUAL: None, YES: True, NO: False}


class CareChoicesForm(forms.Form):
    """Years of care, mulch, guards, stakes and light; sent with the address, so that a page can be kept."""

    weeding_years = forms.TypedChoiceField(
        label=_("Weeding in how many years"), coerce=int, choices=[(n, str(n)) for n in range(4)],
        help_text=_("One to three years are common practice."),
    )  # fmt: skip
    water_years = forms.TypedChoiceField(
        label=_("Watering in how many years"), coerce=int, choices=[(n, str(n)) for n in range(4)],
        help_text=_("Two to three years are common practice, where months are dry."),
    )  # fmt: skip
    circle_m = MeasureField(
        label=_("Circle kept free, metres across"),
        min_value=0.3,
        max_value=3,
        help_text=_("1 m is common practice."),
    )
    mulch_cm = MeasureField(
        label=_("Depth of mulch in cm"), min_value=0, max_value=20,
        help_text=_("5 to 10 cm are common practice; 0 for none."),
    )  # fmt: skip
    has_guards = forms.BooleanField(label=_("Each tree has a guard"), required=False)
    guard_years = forms.TypedChoiceField(
        label=_("Guards come off after years"), coerce=int, choices=[(n, str(n)) for n in range(1, 11)],
        help_text=_("5 years: from memory. Sooner where the stem fills the guard."),
    )  # fmt: skip
    staked = forms.ChoiceField(
        label=_("Trees are staked"), required=False,
        choices=[(USUAL, _("as usual for the stock")), (YES, _("yes")), (NO, _("no"))],
        help_text=_("Only what does not stand by itself: usually balled-and-burlapped stock alone."),
    )  # fmt: skip
    open_ground = forms.ChoiceField(
        label=_("Nothing shades the ground"), required=False,
        choices=[(USUAL, _("as the site was assessed")), (YES, _("yes")), (NO, _("no"))],
    )  # fmt: skip

    def __init__(self, data: Any, is_open_ground: bool | None) -> None:
        usual = CareChoices()
        self.is_open_ground = is_open_ground
        names = ("weeding_years", "water_years", "circle_m", "mulch_cm", "has_guards", "guard_years")
        initial = {name: getattr(usual, name) for name in names}
        super().__init__(data if data and "weeding_years" in data else None, initial=initial)

    def choices(self) -> CareChoices:
        """What was chosen, or what is usual while nothing was or something is wrong."""
        if not self.is_bound or not self.is_valid():
            return CareChoices(is_open_ground=self.is_open_ground)
        values = dict(self.cleaned_data)
        staked, open_ground = ANSWERS[values.pop("staked")], ANSWERS[values.pop("open_ground")]
        open_ground = self.is_open_ground if open_ground is None else open_ground
        return CareChoices(**values, is_staked=staked, is_open_ground=open_ground)
