"""The form that takes a table of facts: first as a file, then as the changes that were looked at."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from species.fact_table import MOST_BYTES


class TableForm(forms.Form):
    """A file, or the text of the changes shown before."""

    file = forms.FileField(
        label=gettext_lazy("The file"), required=False,
        help_text=gettext_lazy("A CSV with the columns of the table you can download here; "
            "rows you do not change may stay or go."),
    )  # fmt: skip
    seen = forms.CharField(required=False, widget=forms.HiddenInput, strip=False)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        upload, seen = cleaned.get("file"), cleaned.get("seen", "")
        if upload is None and not seen and not self.errors:
            self.add_error("file", _("Choose the file."))
            return cleaned
        if upload is not None and upload.size > MOST_BYTES:
            self.add_error("file", _("The file is larger than 4 MB. Keep only the rows you changed."))
            return cleaned
        content = upload.read() if upload is not None else seen.encode()
        return {"content": content, "is_seen": upload is None}
