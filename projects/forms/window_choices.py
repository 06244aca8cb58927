"""What planting windows are worked out with: soil, months in which the site is shut, and what stock asks for.

All of it is read from the address, so nothing is stored: a page with other numbers can be kept and sent.
"""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects.calc.planting_windows import RULES, StockRules
from projects.calc.soil_water import HELD_MM_PER_M
from projects.forms.fields import MeasureField
from projects.models import StockType
from projects.selectors.planting_windows import LEAST_DEPTH_CM, MOST_DEPTH_CM, Asked, Soil
from projects.window_words import MONTHS
from species.traits import TEXTURES


class GroundForm(forms.Form):
    """What decides how much water young trees find, and when the site is shut."""

    texture = forms.ChoiceField(
        label=gettext_lazy("Soil"), required=False, choices=lambda: list(TEXTURES.items())
    )
    depth_cm = MeasureField(
        label=gettext_lazy("Rooting depth in cm"),
        required=False,
        min_value=LEAST_DEPTH_CM,
        max_value=MOST_DEPTH_CM,
    )
    shut_from = forms.ChoiceField(label=gettext_lazy("Cannot be reached from"), required=False)
    shut_to = forms.ChoiceField(label=gettext_lazy("to the end of"), required=False)
    wet = forms.BooleanField(label=gettext_lazy("Clay that stays wet in winter"), required=False)

    def __init__(self, soil: Soil, data: Any = None) -> None:
        super().__init__(data or starting(soil))
        self.soil = soil
        for name in ("shut_from", "shut_to"):
            self.fields[name].choices = [("", _("never shut")), *((str(n), MONTHS[n]) for n in MONTHS)]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        first, last = values.get("shut_from"), values.get("shut_to")
        if bool(first) != bool(last):
            self.add_error("shut_to" if first else "shut_from", _("Choose both months, or neither."))
        return values

    @property
    def texture_used(self) -> str:
        return self._known().get("texture") or self.soil.texture

    @property
    def depth_used(self) -> float:
        return self._known().get("depth_cm") or self.soil.depth_cm

    def shut(self) -> tuple[int, int] | None:
        """First and last month in which the site cannot be reached."""
        known = self._known()
        first, last = known.get("shut_from"), known.get("shut_to")
        return (int(first), int(last)) if first and last else None

    def asked(self, rules: dict[str, StockRules]) -> Asked:
        """The choices, with what the samples say for what was left out or cannot be."""
        capacity_mm = HELD_MM_PER_M[self.texture_used] * self.depth_used / 100
        return Asked(capacity_mm, bool(self._known().get("wet")), self.shut(), rules)

    def _known(self) -> dict[str, Any]:
        self.is_valid()
        return self.cleaned_data

    def kept(self) -> list[tuple[str, str]]:
        """The choices as they go along with a post."""
        names = ("texture", "depth_cm", "shut_from", "shut_to", "wet")
        return [(name, str(self.data[name])) for name in names if self.data.get(name)]


def starting(soil: Soil) -> dict[str, str]:
    """The form as the samples fill it in."""
    return {
        "texture": soil.texture,
        "depth_cm": f"{soil.depth_cm:g}",
        **({"wet": "on"} if soil.is_wet else {}),
    }


# Each number a stock type asks for: its label, its least and most, and whether it is typed as a percentage.
NUMBERS: dict[str, tuple[Any, float, float, bool]] = {
    "root_weeks": (gettext_lazy("Weeks of root growth wanted"), 0, 52, False),
    "frost_c": (gettext_lazy("Set back by nights colder than, °C"), -60, 15, False),
    "heat_c": (gettext_lazy("Set back by days hotter than, °C"), 10, 60, False),
    "moist_share": (gettext_lazy("Soil water on the day, % of full"), 0, 100, True),
    "drought_share": (gettext_lazy("Suffers below, % of full"), 0, 100, True),
    "root_c": (gettext_lazy("Roots grow from, °C in the soil"), -2, 25, False),
    "dormant_below_c": (gettext_lazy("Rests below a mean of, °C"), -10, 30, False),
}


class AsksForm(forms.Form):
    """What each stock type asks for; what is left out stays as usual."""

    def __init__(self, data: Any = None) -> None:
        usual = {name: shown(stock, number) for name, stock, number in asked_numbers()}
        super().__init__({**usual, **{key: data[key] for key in usual if data and data.get(key)}})
        self.usual = usual
        for name, _stock, number in asked_numbers():
            label, least, most, _share = NUMBERS[number]
            self.fields[name] = MeasureField(label=label, required=False, min_value=least, max_value=most)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        for stock in RULES:
            moist, drought = values.get(f"{stock}-moist_share"), values.get(f"{stock}-drought_share")
            if moist is not None and drought is not None and drought > moist:
                self.add_error(
                    f"{stock}-drought_share",
                    _("Stock cannot suffer from drought in soil that is moist enough to plant in."),
                )
        return values

    def rules(self) -> dict[str, StockRules]:
        """The rules as typed; a number that cannot be stays as usual."""
        self.is_valid()
        changed: dict[str, dict[str, float]] = {stock: {} for stock in RULES}
        for name, stock, number in asked_numbers():
            value = self.cleaned_data.get(name)
            if value is not None and name in self.changed():
                changed[stock][number] = value / 100 if NUMBERS[number][3] else value
        return {stock: replace(RULES[stock], **changed[stock]) for stock in RULES}

    def changed(self) -> dict[str, str]:
        """What was typed other than usual, by the name of its box."""
        return {name: str(self.data[name]) for name in self.usual if self.data[name] != self.usual[name]}

    def in_words(self) -> list[str]:
        """Numbers other than usual, for the history."""
        words = []
        for name, stock, number in asked_numbers():
            if name in self.changed() and self.cleaned_data.get(name) is not None:
                label = str(dict(StockType.choices)[stock])
                words.append(f"{label}, {NUMBERS[number][0]}: {self.data[name]}")
        return words

    def rows(self) -> Iterator[dict[str, Any]]:
        """A row of the table for each stock type."""
        labels = dict(StockType.choices)
        for stock, rules in RULES.items():
            yield {
                "label": labels[stock],
                "rules": rules,
                "cells": [
                    self[f"{stock}-{number}"] if f"{stock}-{number}" in self.fields else None
                    for number in NUMBERS
                ],
            }

    @staticmethod
    def heads() -> list[Any]:
        """Heads of the table's columns."""
        return [label for label, _least, _most, _share in NUMBERS.values()]


def asked_numbers() -> Iterator[tuple[str, str, str]]:
    """Each box: its name, its stock type and its number; only stock that rests is asked when it does."""
    for stock, rules in RULES.items():
        for number in NUMBERS:
            if number != "dormant_below_c" or rules.needs_dormancy:
                yield f"{stock}-{number}", stock, number


def shown(stock: str, number: str) -> str:
    value = getattr(RULES[stock], number)
    return f"{value * 100 if NUMBERS[number][3] else value:g}"


class KeepWindowsForm(forms.Form):
    """Which stock types' windows to write down."""

    stock_types = forms.MultipleChoiceField(
        choices=lambda: [(value, label) for value, label in StockType.choices if value in RULES],
        error_messages={"required": gettext_lazy("Tick at least one stock type.")},
    )
