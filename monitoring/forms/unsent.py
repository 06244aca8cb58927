"""Choose the file of unsent counts that a phone saved."""

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext_lazy

from monitoring.services.unsent import MOST_BYTES, too_large


class UnsentForm(forms.Form):
    """One file, as the phone form saves it."""

    file = forms.FileField(
        label=gettext_lazy("File of unsent counts"),
        help_text=gettext_lazy("Its name begins with tallygrove-unsent and ends in .json."),
        allow_empty_file=True,
        widget=forms.ClearableFileInput(attrs={"accept": ".json,application/json"}),
        error_messages={
            "required": gettext_lazy("Choose the file the phone saved."),
            "invalid": gettext_lazy("Choose the file the phone saved."),
        },
    )

    def clean_file(self) -> UploadedFile:
        """Refuse what is larger than the service reads, before it is read."""
        file: UploadedFile = self.cleaned_data["file"]
        if (file.size or 0) > MOST_BYTES:
            raise forms.ValidationError(too_large())
        return file
