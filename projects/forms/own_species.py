"""Forms of an organisation's own species, values and status."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.dates import MONTHS
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects.forms.fields import CountryField, number_input
from species.calc.cells import decimal_number
from species.fact_groups import unbelievable
from species.models import Basis, GrowthForm, RangeStatus, ShadeClass, Species
from species.selectors.own import FactLine, StatedGroup
from species.traits import FROM_MEMORY, UNITS, Trait

YES_NO = {"yes": True, "no": False, "": None}


class OwnSpeciesForm(forms.Form):
    """Name and character of a species that only this organisation sees."""

    scientific_name = forms.CharField(
        label=gettext_lazy("Scientific name"), max_length=160,
        help_text=gettext_lazy("Genus and species, such as Quercus robur."),
    )  # fmt: skip
    genus = forms.CharField(
        label=gettext_lazy("Genus"), max_length=80, required=False,
        help_text=gettext_lazy("Empty: the first word of the name."),
    )  # fmt: skip
    family = forms.CharField(
        label=gettext_lazy("Family"),
        max_length=80,
        help_text=gettext_lazy("Such as Fagaceae. A mix counts families by it."),
    )
    growth_form = forms.ChoiceField(label=gettext_lazy("Growth form"), choices=GrowthForm.choices)
    is_nitrogen_fixer = forms.TypedChoiceField(
        label=gettext_lazy("Fixes nitrogen"), required=False, coerce=YES_NO.get, empty_value=None,
        choices=[("", gettext_lazy("not known")), ("yes", gettext_lazy("yes")), ("no", gettext_lazy("no"))],
    )  # fmt: skip
    shade_class = forms.ChoiceField(
        label=gettext_lazy("When young"), required=False,
        choices=[("", gettext_lazy("not known")), *ShadeClass.choices],
    )  # fmt: skip
    source = forms.CharField(
        label=gettext_lazy("Source"), max_length=400,
        help_text=gettext_lazy("Where name and character come from: a flora, a list, a person who knows."),
    )  # fmt: skip

    @staticmethod
    def start(species: Species) -> dict[str, Any]:
        """What the form holds of a species before it is changed."""
        names = ("scientific_name", "genus", "family", "growth_form", "shade_class", "source")
        fixes = next(word for word, value in YES_NO.items() if value is species.is_nitrogen_fixer)
        return {name: getattr(species, name) for name in names} | {"is_nitrogen_fixer": fixes}


class TraitField(forms.CharField):
    """A number of one trait: 5,5 and 5.5 are the same, and what cannot be meant is refused with the limits."""

    def __init__(self, kind: Trait, **options: Any) -> None:
        self.kind = kind
        super().__init__(required=False, widget=number_input(), **options)

    def clean(self, value: Any) -> Decimal | None:
        text = super().clean(value)
        if not text:
            return None
        number = decimal_number(text)
        if number is None:
            raise forms.ValidationError(_("Write a number such as 5.5 or 1200, without signs for thousands."))
        if why := unbelievable(self.kind, number):
            raise forms.ValidationError(why)
        return number


class FactsForm(forms.Form):
    """The organisation's own values of traits that belong together; an empty one leaves the shared value standing."""

    basis = forms.ChoiceField(
        label=gettext_lazy("What it rests on"), choices=Basis.choices, initial=Basis.LITERATURE
    )
    source = forms.CharField(
        label=gettext_lazy("Source"), max_length=400, required=False,
        help_text=gettext_lazy("A book, a list, or who measured it, where and when. Empty for what is from memory."),
    )  # fmt: skip

    def __init__(self, stated: StatedGroup, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.stated = stated
        for line in stated.lines:
            self.fields[line.kind.key] = field_of(line)
            self.initial[line.kind.key] = start_of(line)
        self.order_fields([line.kind.key for line in stated.lines])
        own = next((line.own for line in stated.lines if line.own), None)
        if own is not None:
            self.initial |= {"basis": own.basis, "source": "" if own.source == FROM_MEMORY else own.source}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        values = {line.kind.key: value_of(cleaned.get(line.kind.key)) for line in self.stated.lines}
        return {"values": values, "basis": cleaned.get("basis", ""), "source": cleaned.get("source", "")}


def field_of(line: FactLine) -> forms.Field:
    """The field of one trait, the shared value beneath it."""
    kind, shared = line.kind, line.shared
    told = _("Shared reference: %(value)s (%(source)s).")
    options: dict[str, Any] = {
        "label": kind.label,
        "help_text": told % {"value": line.shared_words, "source": shared.source} if shared
        else _("The shared reference does not know it."),
    }  # fmt: skip
    if kind.words is not None:
        boxes = forms.CheckboxSelectMultiple
        return forms.MultipleChoiceField(
            choices=list(kind.words.items()), required=False, widget=boxes, **options
        )
    if kind.unit == "month":
        months = [("", "—"), *((str(number), name) for number, name in MONTHS.items())]
        return forms.TypedChoiceField(
            choices=months, required=False, coerce=Decimal, empty_value=None, **options
        )
    if kind.unit and kind.unit != "pH":
        options["label"] = _("%(trait)s, in %(unit)s") % {
            "trait": kind.label,
            "unit": UNITS.get(kind.unit, kind.unit),
        }
    return TraitField(kind, **options)


def start_of(line: FactLine) -> Any:
    """The own value as its field shows it."""
    if line.own is None:
        return None
    if line.kind.words is not None:
        return list(line.own.words)
    return f"{line.own.value_number.normalize():f}"


def value_of(cleaned: Any) -> Any:
    """A field's value as services take it."""
    return tuple(cleaned) or None if isinstance(cleaned, list) else cleaned


class StatusForm(forms.Form):
    """Where a species is native, introduced or invasive, as the organisation holds it."""

    country_code = CountryField(label=gettext_lazy("Country"))
    region = forms.CharField(
        label=gettext_lazy("Region"), max_length=80, required=False,
        help_text=gettext_lazy("Empty for the whole country. Else exactly as your sites write it, such as PT-30."),
    )  # fmt: skip
    status = forms.ChoiceField(label=gettext_lazy("Status there"), choices=RangeStatus.Status.choices)
    source = forms.CharField(
        label=gettext_lazy("Source"), max_length=400,
        help_text=gettext_lazy("The list or authority that says so, and its date."),
    )  # fmt: skip


class PlaceForm(forms.Form):
    """Which status to take back."""

    country_code = forms.CharField(max_length=2)
    region = forms.CharField(max_length=80, required=False)
