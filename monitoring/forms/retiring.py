"""Give up a plot, end a pass: a reason each."""

from django import forms
from django.utils.translation import gettext_lazy as _


class RetireForm(forms.Form):
    """Why a plot is given up."""

    reason = forms.CharField(
        label=_("Why is this plot given up?"),
        max_length=300,
        error_messages={"required": _("Write why the plot is given up; the record keeps it.")},
    )
