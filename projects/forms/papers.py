"""The form of a paper or picture."""

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects.forms.fields import DayField
from projects.models import PaperKind
from projects.services.papers import MOST_BYTES, too_large


class PaperForm(forms.Form):
    """One PDF, JPEG or PNG, with what it is."""

    upload = forms.FileField(
        label=gettext_lazy("The file"),
        allow_empty_file=True,
        widget=forms.ClearableFileInput(attrs={"accept": ".pdf,.jpg,.jpeg,.png"}),
        error_messages={
            "required": gettext_lazy("Choose the file."),
            "invalid": gettext_lazy("Choose the file."),
        },
    )
    kind = forms.ChoiceField(label=gettext_lazy("What it is"), choices=PaperKind.choices)
    title = forms.CharField(label=gettext_lazy("Title"), max_length=120, required=False)
    number = forms.CharField(
        label=gettext_lazy("Number on it"),
        max_length=60,
        required=False,
        help_text=gettext_lazy("Such as the number of a certificate or a plant passport."),
    )
    issued_on = DayField(label=gettext_lazy("Issued on"), required=False)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["upload"].help_text = _(
            "PDF, JPEG or PNG, at most %(most)s MB. A picture is kept without place and camera; a PDF as it is."
        ) % {"most": MOST_BYTES // 2**20}

    def clean_upload(self) -> UploadedFile:
        """Refuse what is too large before it is read."""
        file: UploadedFile = self.cleaned_data["upload"]
        if (file.size or 0) > MOST_BYTES:
            raise forms.ValidationError(too_large())
        return file
