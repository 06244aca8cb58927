"""What to keep of the species judged for a block; every field may stay empty."""

from django import forms
from django.utils.translation import gettext_lazy as _

from projects.selectors.chooser import Wishes
from species.models import GrowthForm, RangeStatus, ShadeClass
from species.traits import ROLES, USES


class ChooserForm(forms.Form):
    """Filters, read from the address."""

    status = forms.ChoiceField(
        label=_("Status here"), required=False, choices=[("", _("any")), *RangeStatus.Status.choices]
    )
    use = forms.ChoiceField(label=_("Good for"), required=False, choices=[("", _("any")), *USES.items()])
    role = forms.ChoiceField(
        label=_("Role in a planting"), required=False, choices=[("", _("any")), *ROLES.items()]
    )
    shade = forms.ChoiceField(
        label=_("When young"), required=False, choices=[("", _("any")), *ShadeClass.choices]
    )
    form = forms.ChoiceField(
        label=_("Growth form"), required=False, choices=[("", _("any")), *GrowthForm.choices]
    )
    fixes_nitrogen = forms.BooleanField(label=_("Fixes nitrogen"), required=False)
    in_stock = forms.BooleanField(label=_("Plants on hand"), required=False)
    on_offer = forms.BooleanField(label=_("On a price list today"), required=False)

    def wishes(self) -> Wishes:
        """The filters; nothing where they could not be read."""
        return Wishes(**self.cleaned_data) if self.is_bound and self.is_valid() else Wishes()
