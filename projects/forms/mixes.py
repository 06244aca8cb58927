"""Forms of the mix: its rules as sentences, a block's numbers, and a line added by hand."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects import access
from projects.access import Actor
from projects.calc.mix import LEAST_COST, MOST_WORTH
from projects.forms.fields import CountField, MoneyField, PercentField, settle_money
from projects.mix_words import SENTENCES, WAVE_SENTENCES, Sentence
from projects.models import Block, MixLine, Plan, StockType
from projects.selectors.mix_rules import PRESET, PlanRules
from projects.services.mixes import lines_token, rules_token
from species.access import visible_species
from species.models import Species

SHARES = (
    "least_planted", "most_of_species", "most_of_genus", "most_of_family", "least_when_used",
    "least_of_nitrogen_fixers", "least_of_nurses", "most_in_second_wave",
)  # fmt: skip
AIMS = [
    (MOST_WORTH, gettext_lazy("the most living trees, each weighed by how far it serves the purposes")),
    (LEAST_COST, gettext_lazy("the least money for the living trees wanted")),
]


def bare(field: forms.Field) -> forms.Field:
    """A field that stands inside a sentence."""
    field.widget.attrs["class"] = f"{field.widget.attrs.get('class', '')} in-sentence".strip()
    return field


class MixRulesForm(forms.Form):
    """The sentences; an empty number leaves its sentence out."""

    version = forms.CharField(widget=forms.HiddenInput, required=False)
    aim = forms.ChoiceField(label=gettext_lazy("What to look for"), choices=AIMS, widget=forms.RadioSelect)
    blocks = forms.MultipleChoiceField(
        label=gettext_lazy("Blocks to fill"), widget=forms.CheckboxSelectMultiple, required=False,
        help_text=gettext_lazy("Without a tick, every block of the project."),
    )  # fmt: skip
    least_planted = bare(PercentField(label=gettext_lazy("Least planted")))
    most_of_species = bare(PercentField(label=gettext_lazy("Most of one species"), required=False))
    most_of_genus = bare(PercentField(label=gettext_lazy("Most of one genus"), required=False))
    most_of_family = bare(PercentField(label=gettext_lazy("Most of one family"), required=False))
    least_species = bare(CountField(label=gettext_lazy("Least species"), required=False, max_value=200))
    least_when_used = bare(PercentField(label=gettext_lazy("Least of a species used"), required=False))
    least_of_nitrogen_fixers = bare(PercentField(label=gettext_lazy("Least nitrogen fixers"), required=False))
    budget = bare(MoneyField(label=gettext_lazy("Most money"), required=False))
    living_wanted = bare(CountField(label=gettext_lazy("Living trees wanted"), required=False))
    two_waves = forms.BooleanField(label=gettext_lazy("Plant in two waves"), required=False)
    years_later = bare(CountField(label=gettext_lazy("Years later"), min_value=1, max_value=30))
    least_of_nurses = bare(PercentField(label=gettext_lazy("Least nurse trees")))
    most_in_second_wave = bare(PercentField(label=gettext_lazy("Most in the second wave")))
    seconds = bare(CountField(label=gettext_lazy("Seconds"), min_value=5, max_value=600))

    def __init__(
        self,
        plan: Plan,
        rules: PlanRules,
        blocks: Sequence[Block],
        without_spots: Iterable[Block],
        introduced: Iterable[Species],
        data: Mapping[str, Any] | None = None,
    ) -> None:
        self.plan, self.rules, self.currency = plan, rules, plan.project.currency
        self.unsure, self.introduced = list(without_spots), list(introduced)
        super().__init__(data, initial=self._initial(rules))
        self.fields["blocks"].choices = [
            (str(block.uid), _("%(site)s, %(block)s") % {"site": block.site.name, "block": block.name})
            for block in blocks
        ]
        for block in self.unsure:
            label = _("Planting spots of %(name)s") % {"name": block.name}
            known = rules.spots.get(str(block.uid))
            self.fields[f"spots_{block.pk}"] = CountField(label=label, required=False, initial=known)
        for species in self.introduced:
            label = _("Why plant %(name)s") % {"name": species.scientific_name}
            reason = rules.reasons.get(str(species.pk), "")
            self.fields[f"reason_{species.pk}"] = forms.CharField(
                label=label, required=False, max_length=300, initial=reason
            )

    def _initial(self, rules: PlanRules) -> dict[str, Any]:
        plain = rules.as_json()
        shown = {name: _share(plain[name]) if name in SHARES else plain[name] for name in plain}
        shown["budget"] = MoneyField.shown(rules.budget_minor, self.currency) or ""
        return {**shown, "version": rules_token(self.plan)}

    @property
    def sentences(self) -> list[dict[str, Any]]:
        return self._told(SENTENCES)

    @property
    def wave_sentences(self) -> list[dict[str, Any]]:
        return self._told(WAVE_SENTENCES)

    def _told(self, sentences: Iterable[Sentence]) -> list[dict[str, Any]]:
        told = []
        for sentence in sentences:
            before, _mark, after = str(sentence.words).partition("[]")
            if sentence.field == "budget":
                after = f" {self.currency}{after}"
            told.append(
                {"field": self[sentence.field], "before": before, "after": after, "source": sentence.source}
            )
        return told

    @property
    def spots_fields(self) -> list[forms.BoundField]:
        return [self[f"spots_{block.pk}"] for block in self.unsure]

    @property
    def reason_fields(self) -> list[forms.BoundField]:
        return [self[f"reason_{species.pk}"] for species in self.introduced]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        settled = settle_money(self, {**values, "currency": self.currency}, "budget")
        if values.get("aim") == LEAST_COST and not values.get("living_wanted") and "living_wanted" in values:
            self.add_error("living_wanted", _("Write how many living trees are wanted at the least cost."))
        return {**values, "budget_minor": settled.get("budget_minor")}

    def as_rules(self) -> PlanRules:
        """The rules as written."""
        values = self.cleaned_data
        kept = {
            name: None if values[name] is None else float(values[name]) if name in SHARES else values[name]
            for name in (*SHARES, "aim", "least_species", "living_wanted", "two_waves", "years_later", "seconds")
        }  # fmt: skip
        reasons = {
            str(species.pk): values[f"reason_{species.pk}"].strip()
            for species in self.introduced
            if values[f"reason_{species.pk}"].strip()
        }
        spots = {
            str(block.uid): values[f"spots_{block.pk}"]
            for block in self.unsure
            if values[f"spots_{block.pk}"]
        }
        return replace(
            self.rules, **kept, budget_minor=values["budget_minor"], blocks=tuple(values["blocks"]),
            reasons=reasons, spots=spots,
        )  # fmt: skip


def with_preset(rules: PlanRules) -> PlanRules:
    """The 10/20/30 shares in the place of those of species, genus and family."""
    return replace(rules, **PRESET)


def _share(value: float | None) -> Decimal | None:
    return None if value is None else Decimal(str(value))


class MixBlockForm(forms.Form):
    """How many of each line a block gets; 0 takes a line out."""

    version = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, lines: Sequence[MixLine], data: Mapping[str, Any] | None = None) -> None:
        super().__init__(data, initial={"version": lines_token(lines)})
        self.lines = lines
        for line in lines:
            self.fields[f"q_{line.pk}"] = CountField(
                label=_("%(species)s, %(stock)s: plants") % {
                    "species": line.species.scientific_name, "stock": line.get_stock_type_display()
                },
                initial=line.quantity,
            )  # fmt: skip
            self.fields[f"q_{line.pk}"].widget.attrs["class"] = "number"

    def quantities(self) -> dict[int, int]:
        """What could be read of the numbers, for looking only."""
        self.is_valid()
        read = {line.pk: self.cleaned_data.get(f"q_{line.pk}") for line in self.lines}
        return {pk: number for pk, number in read.items() if number is not None}


class MixLineForm(forms.Form):
    """A species put into a block by hand."""

    block = forms.ModelChoiceField(label=gettext_lazy("Block"), queryset=Block.objects.none())
    species = forms.ModelChoiceField(label=gettext_lazy("Species"), queryset=Species.objects.none())
    stock_type = forms.ChoiceField(label=gettext_lazy("Stock type"), choices=StockType.choices)
    wave = forms.TypedChoiceField(
        label=gettext_lazy("Wave"), coerce=int, empty_value=1,
        choices=[(1, gettext_lazy("first")), (2, gettext_lazy("second, under nurse trees"))],
    )  # fmt: skip
    quantity = CountField(label=gettext_lazy("How many to plant"), min_value=1)
    unit_price = MoneyField(label=gettext_lazy("Price of one"), required=False)
    currency = forms.CharField(label=gettext_lazy("Currency"), max_length=3)
    introduced_reason = forms.CharField(
        label=gettext_lazy("Why a species from elsewhere"), required=False, max_length=300,
        help_text=gettext_lazy("Only where the species is not native."),
    )  # fmt: skip

    def __init__(
        self, actor: Actor, plan: Plan, data: Mapping[str, Any] | None = None, **initial: Any
    ) -> None:
        super().__init__(data, initial={"wave": 1, "currency": plan.project.currency, **initial})
        blocks = access.visible_blocks(actor).filter(project=plan.project, archived_at__isnull=True)
        self.fields["block"].queryset = blocks.select_related("site").order_by("site__name", "name")
        self.fields["species"].queryset = visible_species(actor.organisation.uid).current()

    def clean(self) -> dict[str, Any]:
        return settle_money(self, super().clean() or self.cleaned_data, "unit_price")
