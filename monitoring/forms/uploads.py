"""Choose a file of counts; say what its columns mean."""

from datetime import date
from typing import Any

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from monitoring.calc.count_headings import NEEDED
from monitoring.models import Upload
from monitoring.services.uploads import too_large
from monitoring.upload_words import MEANINGS
from projects.forms.fields import DayField


class UploadForm(forms.Form):
    """One CSV or XLSX file."""

    file = forms.FileField(
        label=gettext_lazy("CSV or XLSX file of counts"),
        allow_empty_file=True,
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx"}),
        error_messages={
            "required": gettext_lazy("Choose the file with the counts."),
            "invalid": gettext_lazy("Choose the file with the counts."),
        },
    )

    def clean_file(self) -> UploadedFile:
        """Refuse what is larger than the service reads, before it is read."""
        file: UploadedFile = self.cleaned_data["file"]
        if (file.size or 0) > settings.COUNT_FILE_MAX_BYTES:
            raise forms.ValidationError(too_large())
        return file


class ColumnsForm(forms.Form):
    """What each column of an upload holds."""

    observed_on = DayField(
        label=gettext_lazy("Day of the visit, for all rows"),
        required=False,
        help_text=gettext_lazy("Where a column holds the day, it is used where the column is empty."),
    )

    def __init__(self, data: Any, *, upload: Upload) -> None:
        position = upload.mapping.get("columns", {})
        meaning_of = {column: meaning for meaning, column in position.items()}
        day = upload.mapping.get("observed_on")
        initial = {"observed_on": date.fromisoformat(day) if day else None}
        initial |= {f"column-{n}": meaning for n, meaning in meaning_of.items()}
        super().__init__(data, initial=initial)
        self.columns = upload.columns
        choices = [("", _("– not used –")), *MEANINGS.items()]
        for n, column in enumerate(self.columns):
            label = column["heading"] or _("Column %(number)s, without a heading") % {"number": n + 1}
            self.fields[f"column-{n}"] = forms.ChoiceField(label=label, choices=choices, required=False)

    def rows(self) -> list[dict[str, Any]]:
        """Return each column with its samples and the choice of what it means."""
        return [
            {"field": self[f"column-{n}"], "samples": column["samples"]}
            for n, column in enumerate(self.columns)
        ]

    def clean(self) -> dict[str, Any]:
        """Ask for each needed meaning once."""
        data = super().clean() or {}
        position: dict[str, int] = {}
        for n in range(len(self.columns)):
            meaning = data.get(f"column-{n}")
            if meaning and meaning in position:
                self.add_error(
                    f"column-{n}",
                    _("“%(meaning)s” is chosen twice. Choose it for one column.")
                    % {"meaning": MEANINGS[meaning]},
                )
            elif meaning:
                position[meaning] = n
        for meaning in NEEDED:
            if meaning not in position:
                self.add_error(
                    None,
                    _("Say which column holds “%(meaning)s”.") % {"meaning": MEANINGS[meaning]},
                )
        if "observed_on" not in position and not data.get("observed_on") and "observed_on" not in self.errors:
            self.add_error("observed_on", _("No column holds the day of the visit. Write it here."))
        data["columns"] = position
        return data
