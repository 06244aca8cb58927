"""The form of a look at a lot where it changes hands."""

from datetime import datetime, time
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects import clocks, figures
from projects.calc.plant_measures import dickson_of_sample
from projects.forms.fields import CountField, DayField, MeasureField
from projects.models import CheckVerdict, HandoverPoint, RootCondition, StockLot

MOST_PICTURES = 6


class MeasuresField(forms.Field):
    """Measures of plants one after the other, with spaces between them; 2,5 and 2.5 are the same."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**{"widget": forms.TextInput(attrs={"autocomplete": "off"}), **options})

    def to_python(self, value: Any) -> list[float]:
        words = str(value or "").replace(";", " ").split()
        try:
            return [float(word.rstrip(",").replace(",", ".")) for word in words]
        except ValueError as wrong:
            raise forms.ValidationError(
                _("Write numbers with spaces between them, such as 31 28 35.")
            ) from wrong


class PicturesInput(forms.FileInput):
    allow_multiple_selected = True


class PicturesField(forms.FileField):
    """Some pictures at once, or none."""

    widget = PicturesInput(attrs={"accept": ".jpg,.jpeg,.png", "multiple": True})

    def clean(self, data: Any, initial: Any = None) -> list[UploadedFile]:
        files = [super(PicturesField, self).clean(one, initial) for one in data or []]
        if len(files) > MOST_PICTURES:
            raise forms.ValidationError(
                _("At most %(most)s pictures at once; attach more to the check afterwards.")
                % {"most": MOST_PICTURES}
            )
        return files


class LotCheckForm(forms.Form):
    """What was seen and measured, and what the person looking decides."""

    point = forms.ChoiceField(
        label=gettext_lazy("Where it changes hands"),
        choices=HandoverPoint.choices,
        widget=forms.RadioSelect,
        initial=HandoverPoint.ARRIVAL,
    )
    checked_on = DayField(label=gettext_lazy("Day"))
    checked_time = forms.TimeField(
        label=gettext_lazy("Time"),
        required=False,
        widget=forms.TimeInput(format="%H:%M", attrs={"type": "time"}),
    )
    counted = CountField(label=gettext_lazy("How many were counted"), required=False)
    box_temperature_c = MeasureField(
        label=gettext_lazy("Temperature among the roots or in the box, °C"),
        required=False,
        min_value=-40,
        max_value=60,
    )
    minutes_exposed = CountField(
        label=gettext_lazy("Minutes with bare roots in the open"), required=False, max_value=10_000
    )
    root_condition = forms.ChoiceField(
        label=gettext_lazy("Roots"),
        choices=RootCondition.choices,
        widget=forms.RadioSelect,
        initial=RootCondition.NOT_SEEN,
    )
    sample_size = CountField(label=gettext_lazy("Plants looked at closely"), required=False)
    sample_bad = CountField(label=gettext_lazy("Of them not fit to plant"), required=False)
    accept_up_to = CountField(
        label=gettext_lazy("Accept with up to"),
        required=False,
        help_text=gettext_lazy(
            "If you agreed on a number with the nursery. Empty: judged by common practice."
        ),
    )
    heights_cm = MeasuresField(
        label=gettext_lazy("Heights in cm"),
        required=False,
        help_text=gettext_lazy("One after the other, with spaces between them: 31 28 35."),
    )
    collars_mm = MeasuresField(
        label=gettext_lazy("Root-collar diameters in mm"),
        required=False,
        help_text=gettext_lazy("Of the same plants, in the same order."),
    )
    shoot_dry_g = MeasureField(
        label=gettext_lazy("Mean dry mass of a shoot, g"),
        required=False,
        min_value=0,
        help_text=gettext_lazy("Only where plants were dried and weighed: it kills them."),
    )
    root_dry_g = MeasureField(label=gettext_lazy("Mean dry mass of a root, g"), required=False, min_value=0)
    photos = PicturesField(
        label=gettext_lazy("Pictures"),
        required=False,
        help_text=gettext_lazy(
            "Roots, boxes, labels; no faces. Place and camera are taken out. Choose them last."
        ),
    )
    verdict = forms.ChoiceField(
        label=gettext_lazy("Your decision"),
        choices=CheckVerdict.choices,
        widget=forms.RadioSelect,
        error_messages={"required": gettext_lazy("Choose: accept, hold or reject.")},
    )
    because = forms.CharField(
        label=gettext_lazy("Because"),
        max_length=300,
        required=False,
        help_text=gettext_lazy(
            "Empty: what the readings say. Needed where you decide otherwise than they suggest."
        ),
    )
    note = forms.CharField(
        label=gettext_lazy("Note"), required=False, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, lot: StockLot, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.zone = clocks.zone(lot.organisation.time_zone)
        now = timezone.now().astimezone(self.zone)
        self.initial.setdefault("checked_on", now.date())
        self.initial.setdefault("checked_time", now.time().replace(second=0, microsecond=0))

    def is_readable(self) -> bool:
        """Whether all but the decision is in order, so that the readings can suggest one."""
        self.fields["verdict"].required = False
        found = self.is_valid()
        self.fields["verdict"].required = True
        return found

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        day, at = values.pop("checked_on", None), values.pop("checked_time", None)
        if day is not None:
            values["checked_at"] = datetime.combine(day, at or time(12), tzinfo=self.zone)
        self._add_dickson(values, values.pop("shoot_dry_g", None), values.pop("root_dry_g", None))
        return values

    def _add_dickson(self, values: dict[str, Any], shoot_g: float | None, root_g: float | None) -> None:
        """Dried plants are told of in the note: their index, and what it rests on."""
        if not shoot_g and not root_g:
            return
        if not (shoot_g and root_g and values.get("heights_cm") and values.get("collars_mm")):
            self.add_error(
                "root_dry_g", _("The index needs both dry masses, and heights and diameters of the plants.")
            )
            return
        try:
            index = dickson_of_sample(values["heights_cm"], values["collars_mm"], shoot_g, root_g)
        except ValueError:
            self.add_error("heights_cm", _("Measures are numbers above 0, at most 500 of them."))
            return
        told = _("Dickson quality index %(index)s (shoot %(shoot)s g, root %(root)s g dry, mean of the sample).") % {
            "index": figures.quantity(index, 2), "shoot": figures.quantity(shoot_g, 1),
            "root": figures.quantity(root_g, 1),
        }  # fmt: skip
        values["note"] = "\n".join(filter(None, [values.get("note", "").strip(), told]))
