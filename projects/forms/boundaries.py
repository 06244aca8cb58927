"""A boundary on a form: drawn on the map, typed corner by corner, pasted, or from a GeoJSON file."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

MOST_BYTES = 4 * 2**20
HOW = gettext_lazy(
    "Draw it on the map; or type one corner a line, latitude then longitude, such as 40.3012, -7.5031; or paste one "
    "GeoJSON polygon (RFC 7946: longitude first)."
)


def boundary_box(label: Any, help_text: Any) -> forms.CharField:
    """The box that holds a boundary as text."""
    return forms.CharField(
        label=label,
        required=False,
        widget=forms.Textarea(attrs={"rows": 4, "spellcheck": "false"}),
        help_text=help_text,
    )


def file_box() -> forms.FileField:
    """Where a file is chosen instead."""
    return forms.FileField(
        label=gettext_lazy("or a GeoJSON file"),
        required=False,
        help_text=gettext_lazy("One polygon in longitude and latitude; it replaces what stands above."),
    )


def text_of_file(form: forms.Form, cleaned: dict[str, Any], box: str, file: str) -> None:
    """Put the text of a chosen file into its box, where one with faults can be mended."""
    upload = cleaned.pop(file, None)
    if upload is None:
        return
    if upload.size > MOST_BYTES:
        form.add_error(file, _("The file is too large for one boundary. Keep only the one that is meant."))
        return
    try:
        text = upload.read().decode("utf-8-sig")
    except UnicodeDecodeError:
        form.add_error(file, _("The file is not text. Export the boundary as GeoJSON and choose it again."))
        return
    form.data = form.data.copy()
    form.data[form.add_prefix(box)] = cleaned[box] = text
