"""The rules of a mix as sentences with a number in each, and what broke or was left out, in words."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.text import format_lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from projects.calc import mix_rules as rule
from projects.selectors import mix_choices as choices

Words = str | Promise
COMMON = gettext_lazy("common practice, without a source")


@dataclass(frozen=True)
class Sentence:
    """A rule with its field: [] marks where the number stands."""

    field: str
    words: Words
    source: Words = ""


SENTENCES = (
    Sentence("least_planted", gettext_lazy("At least [] % of a block's planting spots are planted."), COMMON),
    Sentence("most_of_species", gettext_lazy("At most [] % of a block is of one species."), COMMON),
    Sentence("most_of_genus", gettext_lazy("At most [] % of a block is of one genus.")),
    Sentence("most_of_family", gettext_lazy("At most [] % of a block is of one family.")),
    Sentence("least_species", gettext_lazy("At least [] species stand in a block."), COMMON),
    Sentence(
        "least_when_used", gettext_lazy("A species that is used takes at least [] % of a block's spots."), COMMON
    ),
    Sentence(
        "least_of_nitrogen_fixers", gettext_lazy("At least [] % of a block fixes nitrogen.")
    ),
    Sentence("budget", gettext_lazy("Plants cost at most [] in all.")),
    Sentence("living_wanted", gettext_lazy("At least [] trees are expected alive at the check age, over all blocks.")),
)  # fmt: skip
WAVE_SENTENCES = (
    Sentence(
        "years_later",
        gettext_lazy("Shade-bearing species go in as a second wave, [] years later, on spots kept free."), COMMON,
    ),
    Sentence(
        "least_of_nurses",
        gettext_lazy("They go only where nurse trees make up at least [] % of the first wave."), COMMON,
    ),
    Sentence("most_in_second_wave", gettext_lazy("They take at most [] % of a block's spots."), COMMON),
)  # fmt: skip

FIELD_OF = {  # kind of rule -> the field of its sentence
    rule.LEAST_PLANTED: "least_planted", rule.MOST_OF_SPECIES: "most_of_species",
    rule.MOST_OF_GENUS: "most_of_genus", rule.MOST_OF_FAMILY: "most_of_family",
    rule.SPECIES_NUMBER: "least_species", rule.LEAST_OF_SPECIES: "least_when_used",
    rule.NITROGEN: "least_of_nitrogen_fixers", rule.BUDGET: "budget", rule.LIVING_WANTED: "living_wanted",
    rule.NURSES: "least_of_nurses", rule.SECOND_WAVE: "most_in_second_wave",
}  # fmt: skip

BROKEN = {
    rule.SPOTS: gettext_lazy("more plants than planting spots"),
    rule.LEAST_PLANTED: gettext_lazy("too few of the planting spots are planted"),
    rule.MOST_OF_SPECIES: gettext_lazy("one species takes too large a share"),
    rule.MOST_OF_GENUS: gettext_lazy("one genus takes too large a share"),
    rule.MOST_OF_FAMILY: gettext_lazy("one family takes too large a share"),
    rule.SPECIES_NUMBER: gettext_lazy("too few species"),
    rule.LEAST_OF_SPECIES: gettext_lazy("a species is used with too few plants"),
    rule.NITROGEN: gettext_lazy("too few nitrogen fixers"),
    rule.NURSES: gettext_lazy("too few nurse trees in the first wave for the second"),
    rule.SECOND_WAVE: gettext_lazy("the second wave takes too many spots"),
    rule.BUDGET: gettext_lazy("the plants cost more than the budget"),
    rule.LIVING_WANTED: gettext_lazy("fewer trees are expected alive than wanted"),
    rule.ON_OFFER: gettext_lazy("more plants than are on offer"),
    rule.LOT_SIZE: gettext_lazy("fewer plants than the nursery sells at least"),
    rule.WHOLE_TRAYS: gettext_lazy("not whole trays"),
}

WHY_LEFT_OUT = {
    choices.UNFIT: gettext_lazy("does not fit the place"),
    choices.FIT_UNKNOWN: gettext_lazy("nothing is known of how it fits the place"),
    choices.INVASIVE: gettext_lazy("invasive here: refused"),
    choices.NO_REASON: gettext_lazy("brought from elsewhere: write down a reason first"),
    choices.NO_WINDOW: gettext_lazy("its stock type has no planting window in this block"),
    choices.NO_SURVIVAL: gettext_lazy("no survival is stated or counted for it"),
    choices.OTHER_CURRENCY: gettext_lazy("its price is in another currency"),
    choices.BY_WEIGHT: gettext_lazy("sold by weight or area, not by plants"),
}


def give_up(kind: str, about: Iterable[str], named: str) -> str:
    """A rule that contradicts the others; `named` is the block or the stock it is about."""
    if kind == rule.LOT_SIZE:
        return _("the fewest plants a nursery sells of %(name)s") % {"name": named}
    if kind == rule.WHOLE_TRAYS:
        return _("whole trays of %(name)s") % {"name": named}
    words = sentence_of(kind)
    return _("%(rule)s (%(name)s)") % {"rule": words, "name": named} if named else words


def sentence_of(kind: str) -> str:
    """The sentence of a kind of rule, its number left as dots."""
    wanted = FIELD_OF.get(kind)
    for sentence in (*SENTENCES, *WAVE_SENTENCES):
        if sentence.field == wanted:
            return str(sentence.words).replace("[]", "…").rstrip(".")
    return str(BROKEN.get(kind, kind))


def blocks_filled(n: int) -> str:
    return ngettext("%(n)s block", "%(n)s blocks", n) % {"n": n}


def lazy_list(*words: Words) -> Words:
    return format_lazy("{}" + "; {}" * (len(words) - 1), *words)
