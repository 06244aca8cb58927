"""The count sheet as a form: the same marks in the same order as on paper and phone."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from monitoring import access
from monitoring.models import CountLine, HeightClass, PlotBaseline, SurvivalPlot, Visit
from monitoring.services.visit_body import DESTROYED, MISSING, SIGNS
from projects.forms.fields import CountField, DayField, MeasureField
from projects.models import Unit
from species.models import Species

LINE_COUNTS = (
    "alive",
    "dead_stem",
    "empty_spot",
    "not_found",
    "not_assessed",
    "resprout",
    "origin_uncertain",
)

STATUS_CHOICES = [
    ("counted", _("Counted")),
    ("missing:unsafe", _("Unsafe, not visited")),
    ("missing:refused", _("Access refused")),
    ("missing:not_located", _("Plot not located")),
    ("missing:not_reached", _("Not reached")),
    ("destroyed:burnt", _("Destroyed: burnt")),
    ("destroyed:slid", _("Destroyed: slid away")),
    ("destroyed:built_on", _("Destroyed: built on")),
    ("destroyed:other", _("Destroyed: other")),
]
SIGN_LABELS = {
    "bitten": _("Bitten"),
    "pulled": _("Pulled"),
    "frost_blackened": _("Frost-blackened"),
    "smothered": _("Smothered"),
    "burnt": _("Burnt"),
    "mown": _("Mown"),
    "flooded": _("Flooded"),
    "none_seen": _("No sign seen"),
    "other": _("Other sign"),
}
assert {value for value, _label in STATUS_CHOICES[1:]} == {
    *(f"missing:{reason}" for reason in MISSING),
    *(f"destroyed:{reason}" for reason in DESTROYED),
}


class VisitForm(forms.Form):
    """When the plot was seen and what became of it."""

    observed_on = DayField(label=_("Seen on"))
    status = forms.ChoiceField(label=_("The plot was"), choices=STATUS_CHOICES, initial="counted")
    note = forms.CharField(
        label=_("Note"),
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Kept with the record as a personal part that can be erased."),
    )


class LineForm(forms.Form):
    """One line of the sheet."""

    alive = CountField(
        label=_("Alive"), error_messages={"required": _("Write how many are alive, 0 if none.")}
    )
    dead_stem = CountField(label=_("Dead stem"), required=False)
    empty_spot = CountField(label=_("Empty spot"), required=False)
    not_found = CountField(
        label=_("Not found"),
        required=False,
        help_text=_("Leave it blank and it becomes what remains of the planted."),
    )
    not_assessed = CountField(label=_("Not assessed"), required=False)
    resprout = CountField(label=_("Of those alive: resprouts"), required=False)
    origin_uncertain = CountField(label=_("Of those alive: may be natural"), required=False)
    seedlings = CountField(label=_("Seedlings"), required=False)
    heights = forms.CharField(
        label=_("Heights in cm"),
        required=False,
        max_length=400,
        help_text=_("Clockwise from north: 45 60 38."),
    )

    def __init__(self, *args: Any, baseline: PlotBaseline, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.baseline = baseline
        if baseline.unit == Unit.TREE:
            del self.fields["seedlings"]
        else:
            self.fields["alive"].label = _("Occupied spots")
        for sign in SIGNS:
            self.fields[f"sign_{sign}"] = CountField(label=SIGN_LABELS[sign], required=False)

    def clean_heights(self) -> list[int]:
        words = self.cleaned_data["heights"].replace(",", " ").split()
        if not all(word.isdigit() for word in words):
            raise forms.ValidationError(
                _("Write whole centimetres with blanks between, for example 45 60 38.")
            )
        return [int(word) for word in words]

    @property
    def planting(self) -> str:
        """Lot and season of the line, so that two plantings of one species are told apart."""
        cohort = self.baseline.cohort
        return cohort.label.removeprefix(f"{self.baseline.species.scientific_name}, ") if cohort else ""

    @property
    def main(self) -> list[Any]:
        """The marks most sheets carry."""
        return [self[name] for name in ("alive", "dead_stem", "empty_spot", "not_found")]

    @property
    def more(self) -> list[Any]:
        """The marks that a few sheets carry."""
        first = [
            name for name in self.fields if name not in ("alive", "dead_stem", "empty_spot", "not_found")
        ]
        return [self[name] for name in first]

    def row(self) -> dict[str, Any]:
        """Return the line as `visit/1` writes it."""
        data = self.cleaned_data
        line = {name: data.get(name) for name in LINE_COUNTS if name == "not_found" or data.get(name)}
        signs = {sign: data[f"sign_{sign}"] for sign in SIGNS if data.get(f"sign_{sign}")}
        return {
            "baselines": [str(self.baseline.line)],
            "species": self.baseline.species.slug,
            "unit": self.baseline.unit,
            **line,
            "alive": data.get("alive") or 0,
            "seedlings": data.get("seedlings"),
            "heights_cm": data.get("heights") or [],
            "signs": signs,
        }


class RegenerationForm(forms.Form):
    """Natural regeneration of one species in one height class."""

    species = forms.ModelChoiceField(Species.objects.none(), label=_("Species"), required=False)
    name = forms.CharField(label=_("Or what you call it"), required=False, max_length=120)
    height_class = forms.ChoiceField(
        label=_("Height class"),
        choices=HeightClass.choices,
        help_text=_("Upper: tall enough to count towards stocking, from the height your protocol sets."),
    )
    count = CountField(label=_("Count"), required=False)
    capped = forms.BooleanField(label=_("Stopped at the cap"), required=False)
    subplot_area_m2 = MeasureField(label=_("Counted on square metres"), required=False)

    def __init__(self, *args: Any, choices: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chosen: Any = self.fields["species"]
        chosen.queryset = choices

    def row(self) -> dict[str, Any] | None:
        """Return the row as `visit/1` writes it; None for an empty line."""
        data = self.cleaned_data
        if data.get("count") is None:
            return None
        species = data.get("species")
        return {
            "species": species.slug if species else None,
            "name": data.get("name", ""),
            "height_class": data["height_class"],
            "count": data["count"],
            "capped": data["capped"],
            "subplot_area_m2": data.get("subplot_area_m2"),
        }

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("count") is not None and not data.get("species") and not data.get("name"):
            raise forms.ValidationError(_("Name the species that came up, or write what you call it."))
        return data


class RemovalForm(forms.Form):
    """Living trees taken out on purpose."""

    baseline = forms.ChoiceField(label=_("Of"), required=False)
    removed_on = DayField(label=_("On"), required=False)
    alive_removed = CountField(label=_("How many living"), required=False)

    def __init__(self, *args: Any, baselines: Sequence[PlotBaseline], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chosen: Any = self.fields["baseline"]
        chosen.choices = [("", "–")] + [(str(row.line), str(row.species)) for row in baselines]

    def row(self) -> dict[str, Any] | None:
        data = self.cleaned_data
        if not data.get("alive_removed"):
            return None
        return {
            "baseline": data["baseline"],
            "removed_on": data["removed_on"].isoformat(),
            "alive_removed": data["alive_removed"],
            "reason": "thinning",
        }

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("alive_removed") and not (data.get("baseline") and data.get("removed_on")):
            raise forms.ValidationError(_("Say which species was taken out, and on which day."))
        return data


class Sheet:
    """A whole count sheet: the visit, a line per baseline, regeneration, removals."""

    regeneration_rows, removal_rows = 4, 2

    def __init__(
        self, data: Any, *, plot: SurvivalPlot, baselines: Sequence[PlotBaseline], head: Visit | None
    ) -> None:
        choices = access.visible_species(plot.organisation).order_by("scientific_name")
        told = head_values(head)
        self.head = head
        self.visit = VisitForm(data, prefix="visit", initial=told["visit"])
        self.lines = [
            LineForm(data, prefix=f"line-{n}", baseline=row, initial=told["lines"].get(str(row.line)))
            for n, row in enumerate(baselines)
        ]
        self.regeneration = [
            RegenerationForm(data, prefix=f"regeneration-{n}", choices=choices, initial=initial)
            for n, initial in enumerate(padded(told["regeneration"], self.regeneration_rows))
        ]
        self.removals = [
            RemovalForm(data, prefix=f"removal-{n}", baselines=baselines, initial=initial)
            for n, initial in enumerate(padded(told["removals"], self.removal_rows))
        ]

    @property
    def forms(self) -> list[forms.Form]:
        return [self.visit, *self.lines, *self.regeneration, *self.removals]

    def is_valid(self) -> bool:
        """Check every part, so that all faults are shown at once; only a counted plot needs its lines."""
        counted = self.visit["status"].value() == "counted"
        for line in self.lines:
            line.fields["alive"].required = counted
        return all([form.is_valid() for form in self.forms])

    @property
    def has_errors(self) -> bool:
        return any(form.errors for form in self.forms)

    def record(self) -> dict[str, Any]:
        """Return the parts of the record a valid sheet stands for."""
        data = self.visit.cleaned_data
        status, _sep, reason = data["status"].partition(":")
        parts = {
            "observed_on": data["observed_on"],
            "status": status,
            "reason": reason,
            "note": data.get("note", ""),
            "removals": [row for form in self.removals if (row := form.row())],
        }
        if status != "counted":
            return parts | {"lines": [], "regeneration": []}
        return parts | {
            "lines": [form.row() for form in self.lines],
            "regeneration": [row for form in self.regeneration if (row := form.row())],
        }

    def blame(self, pointer: str, message: str) -> None:
        """Put a refusal beside the field a JSON pointer or a field name points at."""
        parts = pointer.strip("/").split("/")
        form: forms.Form = self.visit
        if parts[0] == "lines" and len(parts) > 2 and parts[1].isdigit() and int(parts[1]) < len(self.lines):
            form = self.lines[int(parts[1])]
        elif parts[-1] in LINE_COUNTS and self.lines:
            form = self.lines[0]
        name = parts[-1] if parts[-1] in form.fields else None
        form.add_error(name, message)


def padded(rows: list[dict[str, Any]], least: int) -> list[dict[str, Any] | None]:
    return [*rows, *[None] * max(1, least - len(rows))]


def head_values(head: Visit | None) -> dict[str, Any]:
    """Return what a visit already says, as the forms take it."""
    if head is None:
        return {"visit": {}, "lines": {}, "regeneration": [], "removals": []}
    status = head.status if head.status == "counted" else f"{head.status}:{head.reason}"
    return {
        "visit": {"observed_on": head.observed_on, "status": status},
        "lines": {uid: line_values(line) for line in head.lines.all() for uid in line.baseline_lines},
        "regeneration": list(
            head.regeneration.values("species", "name", "height_class", "count", "capped", "subplot_area_m2")
        ),
        "removals": [
            {
                "baseline": str(row.baseline_line),
                "removed_on": row.removed_on,
                "alive_removed": row.alive_removed,
            }
            for row in head.removals.all()
        ],
    }


def line_values(line: CountLine) -> dict[str, Any]:
    values = {name: getattr(line, name) for name in LINE_COUNTS}
    values["not_found"] = line.not_found_stated
    values |= {"seedlings": line.seedlings, "heights": " ".join(map(str, line.heights_cm))}
    return values | {f"sign_{name}": count for name, count in line.signs.items()}
