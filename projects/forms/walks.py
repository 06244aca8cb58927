"""The form of a walk, a row for each sign; and what befell a site."""

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from projects.forms.fields import DayField, MeasureField
from projects.models import EventKind, Sign, Urgency
from projects.services.papers import MOST_BYTES
from projects.services.walks import SeenSign

MOST_ROWS = 20


class WalkForm(forms.Form):
    """When it was, and what else there is to say."""

    walked_on = DayField(label=_("Walked on"))
    note = forms.CharField(
        label=_("On the whole walk"), required=False, widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("What you saw and did not see. No names of people."),
    )  # fmt: skip


class SignForm(forms.Form):
    """One sign; a row where nothing is filled in is left out."""

    sign = forms.ChoiceField(
        label=_("What was seen"),
        required=False,
        choices=lambda: [("", _("nothing in this row")), *Sign.choices],
    )
    urgency = forms.ChoiceField(
        label=_("How soon should something be done"),
        choices=Urgency.choices,
        initial=Urgency.WEEK,
        required=False,
    )
    where = forms.CharField(
        label=_("Where"), required=False, max_length=200, help_text=_("Such as: lower fence, by the gate.")
    )
    latitude = MeasureField(label=_("Latitude"), required=False, min_value=-90, max_value=90)
    longitude = MeasureField(label=_("Longitude"), required=False, min_value=-180, max_value=180)
    note = forms.CharField(label=_("Note"), required=False, max_length=300)
    photo = forms.FileField(
        label=_("Photo"), required=False, allow_empty_file=True,
        widget=forms.ClearableFileInput(attrs={"accept": ".jpg,.jpeg,.png"}),
        help_text=_("JPEG or PNG. It is kept without place and camera."),
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        filled = [name for name in ("where", "note", "photo", "latitude", "longitude") if values.get(name)]
        if filled and not values.get("sign"):
            self.add_error("sign", gettext("Choose what was seen, or empty this row."))
        if (values.get("latitude") is None) != (values.get("longitude") is None):
            self.add_error("latitude", gettext("A place needs both its latitude and its longitude."))
        photo = values.get("photo")
        if photo and (photo.size or 0) > MOST_BYTES:
            words = gettext("The photo is larger than %(most)s MB. Take it smaller.")
            self.add_error("photo", words % {"most": MOST_BYTES // 2**20})
        return values

    def seen(self) -> SeenSign | None:
        """The sign of a valid row; None where nothing was seen."""
        values = self.cleaned_data
        if not values["sign"]:
            return None
        return SeenSign(
            values["sign"], values["urgency"] or Urgency.WEEK, values["where"], values["latitude"],
            values["longitude"], values["note"], uploads=[values["photo"]] if values["photo"] else [],
        )  # fmt: skip


class SignRows:
    """The rows of a walk as they were posted, one more where it was asked for."""

    def __init__(self, data: Any, files: Any) -> None:
        self.wants_more = data is not None and "more" in data
        n = _rows(data)
        if data is None or self.wants_more:
            self.forms = [SignForm(initial=_typed(data, i), prefix=f"s{i}") for i in range(n)]
        else:
            self.forms = [SignForm(data, files, prefix=f"s{i}") for i in range(n)]

    def are_valid(self) -> bool:
        """Whether every row is in order; all are looked at, so that each says what is wrong."""
        return all([form.is_valid() for form in self.forms])

    def seen(self) -> list[SeenSign]:
        """The signs of valid rows."""
        return [seen for form in self.forms if (seen := form.seen()) is not None]


def _rows(data: Any) -> int:
    if data is None:
        return 1
    try:
        n = int(data.get("rows", "1"))
    except ValueError:
        n = 1
    return min(max(n, 1) + ("more" in data), MOST_ROWS)


def _typed(data: Any, i: int) -> dict[str, Any] | None:
    """What was typed into a row; None for a row that was not there, so that it starts with the usual."""
    if data is None or f"s{i}-sign" not in data:
        return None
    names = [name for name in SignForm.base_fields if name != "photo"]
    return {name: data.get(f"s{i}-{name}", "") for name in names}


class SiteEventForm(forms.Form):
    """What befell a site, and when."""

    kind = forms.ChoiceField(
        label=_("What happened"), choices=lambda: [("", _("Choose one")), *EventKind.choices]
    )
    happened_on = DayField(label=_("When"))
    note = forms.CharField(label=_("Note"), required=False, max_length=300)
