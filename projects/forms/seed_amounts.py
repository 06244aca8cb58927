"""How much seed: one small form for each question, read from the address, so that nothing is stored."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects.forms.fields import CountField, MeasureField, PercentField

MOST_LOTS = 50


class ShareField(PercentField):
    """A percentage above 0."""

    def to_python(self, value: Any) -> Any:
        share = super().to_python(value)
        if share is not None and share <= 0:
            raise forms.ValidationError(_("Write more than 0 per cent."))
        return share

    def clean(self, value: Any) -> float | None:
        share = super().clean(value)
        return None if share is None else float(share)


def above_zero(label: Any, **options: Any) -> MeasureField:
    return MeasureField(label=label, min_value=1e-6, max_value=1e9, **options)


def purity() -> ShareField:
    return ShareField(
        label=gettext_lazy("Purity, in per cent"),
        help_text=gettext_lazy("Share of the weight that is seed of the species; from the test."),
    )


def seeds_per_kg() -> MeasureField:
    return above_zero(
        gettext_lazy("Seeds in a kilogram"),
        help_text=gettext_lazy("Count a weighed sample, or ask the seller."),
    )


class SeedForm(forms.Form):
    """A question; `EXAMPLE` fills it until the reader gives figures of their own."""

    WHAT = ""
    EXAMPLE: dict[str, str] = {}

    def __init__(self, data: Any) -> None:
        self.is_own = data.get("what") == self.WHAT
        super().__init__(data if self.is_own else self.EXAMPLE, auto_id=f"id_{self.WHAT}_%s")

    def answer(self, work_out: Callable[..., Any]) -> Any:
        """What is worked out of a form in order; a contradiction is put above the form."""
        if not self.is_valid():
            return None
        try:
            return work_out(**self.cleaned_data)
        except (ValueError, OverflowError):
            self.add_error(None, _("These figures contradict one another. Look at them again."))
            return None


class SownForm(SeedForm):
    """Seed broadcast or drilled over an area."""

    WHAT = "sown"
    EXAMPLE = {
        "plants_per_m2": "100", "area_m2": "10000", "seeds_per_kg": "50000", "purity": "95",
        "germination": "80", "hard_seed": "0", "field_establishment": "60",
    }  # fmt: skip

    plants_per_m2 = above_zero(gettext_lazy("Plants wanted on a square metre"))
    area_m2 = above_zero(gettext_lazy("Area to sow, in m²"))
    seeds_per_kg = seeds_per_kg()
    purity = purity()
    germination = ShareField(label=gettext_lazy("Germination in the test, in per cent"))
    hard_seed = PercentField(
        label=gettext_lazy("Hard or dormant seed, in per cent"),
        required=False,
        help_text=gettext_lazy("Alive, but not sprouted in the test; it counts as alive. Empty: none."),
    )
    field_establishment = ShareField(
        label=gettext_lazy("Of sprouted seed, plants in the field, in per cent"),
        help_text=gettext_lazy(
            "Differs many times over by ground, weather and what eats it: your own trial."
        ),
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        cleaned["hard_seed"] = float(cleaned.get("hard_seed") or 0)
        if (cleaned.get("germination") or 0) + cleaned["hard_seed"] > 1 + 1e-12:
            self.add_error(
                "hard_seed", _("Germination and hard seed together are more than all the seed there is.")
            )
        return cleaned


class SpotsForm(SeedForm):
    """Seed put into spots by number."""

    WHAT = "spots"
    EXAMPLE = {
        "spots": "2500", "seeds_per_spot": "3", "seeds_per_kg": "3000", "purity": "98",
        "living_per_seed": "20", "correlation": "0.3",
    }  # fmt: skip

    spots = CountField(label=gettext_lazy("Seed spots"), min_value=1)
    seeds_per_spot = CountField(label=gettext_lazy("Seeds in a spot"), min_value=1, max_value=1000)
    seeds_per_kg = seeds_per_kg()
    purity = purity()
    living_per_seed = ShareField(
        label=gettext_lazy("Of seeds sown, alive at the check age, in per cent"),
        help_text=gettext_lazy("From your own spots; there is no shared figure."),
    )
    correlation = MeasureField(
        label=gettext_lazy("How far seeds of one spot share a fate, 0 to 1"),
        min_value=0,
        max_value=1,
        help_text=gettext_lazy("0: not at all. 1: all live or all die. 0.3 is an assumption of ours."),
    )


class LivingForm(SeedForm):
    """Seed for a number of living seedlings, from what was seen to live."""

    WHAT = "living"
    EXAMPLE = {"living_wanted": "1000", "living_per_seed": "20", "seeds_per_kg": "300", "purity": "100"}

    living_wanted = above_zero(gettext_lazy("Living seedlings wanted at the check age"))
    living_per_seed = ShareField(
        label=gettext_lazy("Living seedlings for each 100 seeds sown"),
        help_text=gettext_lazy(
            "About 20 is quoted for seed dropped from the air (common practice). No shared figure for small seed sown"
            " broad: it can be less than 1."
        ),
    )
    seeds_per_kg = seeds_per_kg()
    purity = purity()


class ParentsForm(SeedForm):
    """Mother trees that catch an allele."""

    WHAT = "mothers"
    EXAMPLE = {"frequency": "5", "chance": "95", "selfing": ""}

    frequency = ShareField(
        label=gettext_lazy("Frequency of the allele, in per cent"),
        help_text=gettext_lazy("5: alleles that one gene copy in twenty carries."),
    )
    chance = ShareField(label=gettext_lazy("Chance to have it in the collection, in per cent"))
    selfing = forms.BooleanField(label=gettext_lazy("The species pollinates itself"), required=False)

    def clean_chance(self) -> float:
        if self.cleaned_data["chance"] >= 1:
            raise forms.ValidationError(_("No number of trees is certain; write 95, say."))
        return self.cleaned_data["chance"]


class LotsForm(SeedForm):
    """Unequal lots that are mixed."""

    WHAT = "lots"
    EXAMPLE = {"contributions": "50, 20, 10, 10, 10"}

    contributions = forms.CharField(
        label=gettext_lazy("What each tree or lot gives"),
        max_length=1000,
        help_text=gettext_lazy("In any one unit, parted by commas or spaces; decimals with a point."),
    )

    def clean_contributions(self) -> list[float]:
        try:
            parts = [float(part) for part in self.cleaned_data["contributions"].replace(",", " ").split()]
        except ValueError as wrong:
            raise forms.ValidationError(_("Write numbers, such as 50, 20, 10.")) from wrong
        if len(parts) > MOST_LOTS:
            raise forms.ValidationError(_("At most %(n)s at once.") % {"n": MOST_LOTS})
        if not all(0 <= part < 1e12 for part in parts):
            raise forms.ValidationError(_("A contribution cannot be negative or endless."))
        if not sum(parts) > 0:
            raise forms.ValidationError(_("At least one gives something."))
        return parts
