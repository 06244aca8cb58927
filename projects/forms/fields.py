"""Fields that take what people type: decimal commas, percentages, money, long lists."""

from collections.abc import Callable
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects import clocks, countries, figures
from projects.calc.money import major_text, minor_units


def number_input() -> forms.TextInput:
    """A text box with a number pad; what was typed survives a refusal, which a number box would drop."""
    return forms.TextInput(attrs={"inputmode": "decimal", "class": "number", "autocomplete": "off"})


def day_input() -> forms.DateInput:
    """A date box that keeps its value whatever the language writes dates like."""
    return forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})


class DayField(forms.DateField):
    """A day, as a date box sends it."""

    widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    default_error_messages = {"invalid": gettext_lazy("Write the day as year-month-day, such as 2026-02-14.")}

    def __init__(self, **options: Any) -> None:
        super().__init__(input_formats=["%Y-%m-%d", "%d/%m/%Y", "%d.%m.%Y"], **options)


class CountField(forms.IntegerField):
    """A whole number; spaces between groups of digits are fine."""

    widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})
    default_error_messages = {
        "invalid": gettext_lazy("Write a whole number in digits, such as 640."),
        "min_value": gettext_lazy("Write %(limit_value)s or more."),
        "max_value": gettext_lazy("Write %(limit_value)s or less."),
    }

    def __init__(self, **options: Any) -> None:
        super().__init__(**{"min_value": 0, "max_value": 2_000_000_000, **options})
        self.widget.input_type = "text"

    def to_python(self, value: Any) -> int | None:
        return super().to_python("".join(value.split()) if isinstance(value, str) else value)


class MeasureField(forms.FloatField):
    """A measure; 2,5 and 2.5 are the same."""

    default_error_messages = {
        "invalid": gettext_lazy("Write a number, such as 2.5."),
        "min_value": gettext_lazy("Write %(limit_value)s or more."),
        "max_value": gettext_lazy("Write %(limit_value)s or less."),
    }

    def __init__(self, **options: Any) -> None:
        super().__init__(**{"widget": number_input(), **options})

    def to_python(self, value: Any) -> float | None:
        return super().to_python(
            "".join(value.split()).replace(",", ".") if isinstance(value, str) else value
        )

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {}


class PercentField(forms.Field):
    """A share between 0 and 1 that people read and write as a percentage."""

    def __init__(self, *, places: int = 4, **options: Any) -> None:
        self.step = Decimal(1).scaleb(-places)
        super().__init__(**{"widget": number_input(), **options})

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, Decimal | float):
            return f"{(Decimal(str(value)) * 100).normalize():f}"
        return value

    def to_python(self, value: Any) -> Decimal | None:
        if value in self.empty_values:
            return None
        try:
            share = Decimal(str(value).replace("%", "").replace(",", ".").strip()) / 100
        except InvalidOperation as wrong:
            raise forms.ValidationError(_("Write a percentage, such as 80.")) from wrong
        if not share.is_finite() or not 0 <= share <= 1:
            raise forms.ValidationError(_("A percentage lies between 0 and 100."))
        return share.quantize(self.step)


class MoneyField(forms.Field):
    """An amount typed in whole units; `settle` turns it into minor units once the currency is known."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**{"widget": number_input(), **options})

    @staticmethod
    def shown(minor: int | None, currency: str) -> str | None:
        """Return the amount as the form shows it."""
        return None if minor is None else major_text(minor, figures.MINOR_DIGITS.get(currency, 2))

    @staticmethod
    def settle(text: str | None, currency: str) -> int | None:
        """Return minor units of the currency, or say what is wrong with the amount."""
        if text is None or not str(text).strip():
            return None
        digits = figures.MINOR_DIGITS.get(currency, 2)
        try:
            minor = minor_units(str(text), digits)
        except ValueError as wrong:
            if str(wrong) == "too_fine":
                message = _("%(currency)s has %(digits)s decimal places; round the amount.")
                raise forms.ValidationError(message % {"currency": currency, "digits": digits}) from wrong
            raise forms.ValidationError(
                _("Write an amount such as 12.50, without signs or thousands marks.")
            ) from wrong
        if abs(minor) >= 2**63:
            raise forms.ValidationError(_("This amount is too large to be meant."))
        return minor


def settle_money(form: forms.Form, values: dict[str, Any], *names: str) -> dict[str, Any]:
    """Turn the named amounts of a form into minor units of its currency, each problem on its own field."""
    values["currency"] = (values.get("currency") or "").strip().upper()
    for name in names:
        try:
            values[f"{name}_minor"] = MoneyField.settle(values.pop(name, None), values["currency"])
        except forms.ValidationError as wrong:
            form.add_error(name, wrong)
    return values


class ZoneField(forms.ChoiceField):
    """A time zone by its place name."""

    def __init__(self, **options: Any) -> None:
        super().__init__(
            choices=lambda: [(name, name.replace("_", " ")) for name in clocks.zone_names()], **options
        )


class CountryField(forms.ChoiceField):
    """A country by name; its ISO code is stored."""

    def __init__(self, **options: Any) -> None:
        super().__init__(choices=_countries(options.get("required", True)), **options)


def _countries(required: bool) -> Callable[[], list[tuple[str, str]]]:
    first = ("", gettext_lazy("Choose a country") if required else gettext_lazy("not known"))
    return lambda: [first, *countries.names().items()]
