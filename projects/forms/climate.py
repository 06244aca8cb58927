"""The weather of a site as monthly normals."""

from collections.abc import Iterator
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from projects.calc import normals_text
from projects.forms.versioned import VersionedForm
from projects.models import Site

COLUMN_WORDS = {
    "minimum_c": gettext_lazy("mean lowest temperature"),
    "maximum_c": gettext_lazy("mean highest temperature"),
    "rain_mm": gettext_lazy("rain"),
}
MOST_BYTES = 64 * 2**10


class ClimateForm(VersionedForm):
    """Twelve months, pasted or from a file."""

    months = forms.CharField(
        label=gettext_lazy("Twelve months"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 13, "class": "table-text", "spellcheck": "false"}),
        help_text=gettext_lazy(
            "One line a month, January first: mean lowest, mean highest temperature in °C, rain in mm. Paste them"
            " from a spreadsheet. The month's name may stand first."
        ),
    )
    file = forms.FileField(
        label=gettext_lazy("or a CSV file"), required=False, help_text=gettext_lazy("With the same columns.")
    )
    climate_source = forms.CharField(
        label=gettext_lazy("Where the normals come from"),
        max_length=200,
        help_text=gettext_lazy("The station or data set, and its years."),
    )

    class Meta:
        model = Site
        fields = ["climate_source"]

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.initial.setdefault("months", shown(self.instance.climate_normals))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        text, upload = cleaned.pop("months", ""), cleaned.pop("file", None)
        if upload is not None:
            text = self._text_of(upload)
            self.data = self.data.copy()
            self.data[self.add_prefix("months")] = text  # a file with faults is mended in the box
        if not text and not self.errors:
            self.add_error("months", _("Paste twelve lines, or choose a file."))
        if text:
            cleaned["climate_normals"] = self._normals(text)
        return cleaned

    def _text_of(self, upload: Any) -> str:
        if upload.size > MOST_BYTES:
            self.add_error("file", _("The file is too large for twelve lines. Keep only the normals in it."))
            return ""
        try:
            return upload.read().decode("utf-8-sig")
        except UnicodeDecodeError:
            self.add_error("file", _("The file is not text. Save it as CSV in UTF-8 and choose it again."))
            return ""

    def _normals(self, text: str) -> dict[str, Any] | None:
        try:
            found = normals_text.read_normals(text)
        except normals_text.BadNormals as bad:
            for words in problems_in_words(bad):
                self.add_error("months", words)
            return None
        return {
            "mean_minimum_c": list(found.minimum_c),
            "mean_maximum_c": list(found.maximum_c),
            "rain_mm": list(found.rain_mm),
        }


def shown(normals: dict[str, Any] | None) -> str:
    """Stored normals as lines to change."""
    if not normals:
        return ""
    columns = (normals["mean_minimum_c"], normals["mean_maximum_c"], normals["rain_mm"])
    return "\n".join("; ".join(f"{value:g}" for value in month) for month in zip(*columns, strict=True))


def problems_in_words(bad: normals_text.BadNormals) -> Iterator[str]:
    """Every fault with its line."""
    for problem in bad.problems:
        column = COLUMN_WORDS.get(problem.column, "")
        said = {
            normals_text.NOT_TWELVE: lambda p: (
                ngettext(
                    "There is %(n)s month; twelve are needed, January first.",
                    "There are %(n)s months; twelve are needed, January first.",
                    int(p.value),
                )
                % {"n": p.value}
            ),
            normals_text.NOT_THREE: lambda p: (
                _("Line %(line)s has %(n)s numbers; three are needed: lowest, highest, rain.")
                % {"line": p.line, "n": p.value}
            ),
            normals_text.NOT_A_NUMBER: lambda p: _("Line %(line)s, %(column)s: “%(value)s” is not a number."),
            normals_text.OUT_OF_BOUNDS: lambda p: _(
                "Line %(line)s, %(column)s: %(value)s cannot be. Temperatures are in °C, rain in mm a month."
            ),
            normals_text.MINIMUM_ABOVE_MAXIMUM: lambda p: _(
                "Line %(line)s: the mean lowest temperature (%(value)s) lies above the highest."
            ),
        }[problem.code](problem)
        yield (
            said % {"line": problem.line, "column": column, "value": problem.value} if "%(" in said else said
        )
