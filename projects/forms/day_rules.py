"""Forms of the rules of a planting day, and of what was read this morning; in the organisation's units."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects import day_rule_words as words
from projects.calc import day_rules as calc
from projects.forms.fields import MeasureField
from projects.forms.versioned import VersionedForm
from projects.models import DayRule
from projects.usual_day_rules import SET_NAMES

SIDES = {
    calc.ABOVE: gettext_lazy("above the limit"),
    calc.BELOW: gettext_lazy("below the limit"),
    calc.YES: gettext_lazy("it is so"),
}


def measures(units: str) -> list[tuple[str, str]]:
    """What can be looked at, each with its unit."""
    return [("", _("Choose one")), *((key, named(key, units)) for key in words.NAMES)]


def named(measure: str, units: str) -> str:
    name, unit = str(words.NAMES[measure]), words.unit(measure, units)
    return _("%(measure)s in %(unit)s") % {"measure": name, "unit": unit} if unit else name


class DayRuleForm(VersionedForm):
    """One rule: what is looked at, when it speaks, and what it says."""

    measure = forms.ChoiceField(label=gettext_lazy("What is looked at"))
    side = forms.ChoiceField(label=gettext_lazy("It speaks when"), widget=forms.RadioSelect, choices=SIDES)
    limit = MeasureField(
        label=gettext_lazy("Limit"),
        required=False,
        help_text=gettext_lazy("In the unit above. Empty for what is either so or not."),
    )
    effect = forms.ChoiceField(
        label=gettext_lazy("Then"), widget=forms.RadioSelect, choices=lambda: list(words.EFFECTS.items())
    )
    words = forms.CharField(
        label=gettext_lazy("In words for the crew"),
        max_length=200,
        required=False,
        help_text=gettext_lazy("What to do then. For “something else”: what to look out for."),
    )
    source = forms.CharField(
        label=gettext_lazy("Where the rule comes from"),
        max_length=200,
        help_text=gettext_lazy("A handbook, a local rule, or your own experience: say which."),
    )

    class Meta:
        model = DayRule
        fields = ["measure", "side", "limit", "effect", "words", "source"]

    def __init__(self, units: str, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.units = units
        self.fields["measure"].choices = measures(units)
        rule = self.instance
        if rule.pk and rule.limit is not None:
            self.initial["limit"] = f"{words.shown(rule.measure, rule.limit, units):g}"

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        measure, limit = values.get("measure"), values.get("limit")
        if limit is not None and measure in calc.SCALES and self.units == "us":
            values["limit"] = calc.from_us(measure, limit)
        return values


class StartForm(forms.Form):
    """Which set to start from."""

    which = forms.ChoiceField(
        label=gettext_lazy("Usual rules"), widget=forms.RadioSelect, choices=lambda: list(SET_NAMES.items())
    )


YES_NO = [("", gettext_lazy("not looked at")), ("no", gettext_lazy("no")), ("yes", gettext_lazy("yes"))]


class ReadingsForm(forms.Form):
    """What was read this morning, one box for each thing the rules look at; an empty one was not looked at."""

    def __init__(self, rules: Sequence[DayRule], units: str, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.units, self.measure_of = units, {}
        for rule in rules:
            key = reading_key(rule)
            if key in self.fields:
                continue
            self.measure_of[key] = rule.measure
            if rule.measure in calc.SCALES:
                self.fields[key] = number_field(rule, units)
            else:
                self.fields[key] = forms.ChoiceField(
                    label=words.question(rule, units),
                    required=False,
                    choices=YES_NO,
                    widget=forms.RadioSelect,
                )

    def readings(self) -> dict[str, calc.Reading]:
        """What was read, in stored units; what was left empty or could not be read is left out."""
        cleaned = self.cleaned_data if self.is_bound and (self.is_valid() or self.cleaned_data) else {}
        found: dict[str, calc.Reading] = {}
        for key, value in cleaned.items():
            measure = self.measure_of[key]
            if measure in calc.SCALES and value is not None:
                found[key] = calc.from_us(measure, value) if self.units == "us" else value
            elif value in ("yes", "no"):
                found[key] = value == "yes"
        return found


def reading_key(rule: DayRule) -> str:
    """The name of the box a rule reads; rules of one measure share it."""
    return str(rule.uid) if rule.measure == calc.OTHER else rule.measure


def number_field(rule: DayRule, units: str) -> MeasureField:
    scale = calc.SCALES[rule.measure]
    least, most = (words.shown(rule.measure, edge, units) for edge in (scale.least, scale.most))
    return MeasureField(label=words.question(rule, units), required=False, min_value=least, max_value=most)
