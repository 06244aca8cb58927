"""Forms of price lists: one line, or a whole list pasted or uploaded."""

from collections.abc import Iterator
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from projects import figures
from projects.access import Actor
from projects.calc import price_list_text as text_of
from projects.forms.fields import CountField, DayField, MoneyField, settle_money
from projects.forms.stock import choosable_species
from projects.forms.versioned import VersionedForm
from projects.models import Project, StockOffer, StockType, Unit
from species.models import Species
from species.selectors.finding import find_exactly

MOST_BYTES = 256 * 2**10
MOST_SHOWN = 40  # problems shown at once
COLUMN_WORDS = {
    "species": gettext_lazy("species"),
    "stock_type": gettext_lazy("stock type"),
    "price": gettext_lazy("price"),
    "currency": gettext_lazy("currency"),
    "unit": gettext_lazy("sold by"),
    "on_offer": gettext_lazy("how many"),
    "least_quantity": gettext_lazy("fewest"),
    "lead_time_weeks": gettext_lazy("weeks"),
    "age_code": gettext_lazy("age"),
    "provenance": gettext_lazy("provenance"),
    "valid_from": gettext_lazy("from"),
    "valid_until": gettext_lazy("until"),
    "note": gettext_lazy("note"),
}
EXAMPLE = (
    "species; stock type; price; how many; fewest; weeks\nQuercus robur; bare-root; 0.62; 12000; 500; 14"
)


class OfferForm(VersionedForm):
    """One line of a price list."""

    unit_price = MoneyField(
        label=gettext_lazy("Price of one"),
        help_text=gettext_lazy("Of one plant, one seed spot, or one kilogram of seed sold by weight."),
    )
    on_offer = CountField(
        label=gettext_lazy("How many there are"),
        required=False,
        help_text=gettext_lazy("Empty: as many as are asked for."),
    )
    least_quantity = CountField(label=gettext_lazy("Fewest sold"), required=False, min_value=1)
    lead_time_weeks = CountField(
        label=gettext_lazy("Weeks from order to delivery"),
        required=False,
        help_text=gettext_lazy("Empty: as long as everything else from this nursery."),
    )
    valid_from = DayField(label=gettext_lazy("Price holds from"), required=False)
    valid_until = DayField(label=gettext_lazy("Price holds until"), required=False)

    class Meta:
        model = StockOffer
        fields = [
            "species", "stock_type", "unit", "currency", "on_offer", "least_quantity", "lead_time_weeks",
            "valid_from", "valid_until", "age_code", "provenance", "note",
        ]  # fmt: skip

    def __init__(self, actor: Actor, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["species"].empty_label = _("Choose a species")
        self.fields["species"].queryset = choosable_species(actor)
        self.order_fields(["version", *self.Meta.fields[:3], "unit_price", *self.Meta.fields[3:]])
        self.initial.setdefault(
            "unit_price", MoneyField.shown(self.instance.unit_price_minor, self.instance.currency)
        )

    def clean(self) -> dict[str, Any]:
        return settle_money(self, super().clean() or self.cleaned_data, "unit_price")


class PriceListForm(forms.Form):
    """A whole price list."""

    lines = forms.CharField(
        label=gettext_lazy("The list"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 12, "class": "table-text", "spellcheck": "false"}),
        help_text=gettext_lazy("Paste it from a spreadsheet, the first line with the headings."),
    )
    file = forms.FileField(
        label=gettext_lazy("or a CSV file"), required=False, help_text=gettext_lazy("With the same headings.")
    )
    replaces = forms.BooleanField(
        label=gettext_lazy("This is the whole list: put away what it does not name"), required=False
    )

    def __init__(self, actor: Actor, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.actor = actor

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        text, upload = cleaned.get("lines", ""), cleaned.pop("file", None)
        if upload is not None:
            text = self._text_of(upload)
            self.data = self.data.copy()
            self.data[self.add_prefix("lines")] = text  # a file with faults is mended in the box
        if not text.strip() and not self.errors:
            self.add_error("lines", _("Paste the list, or choose a file."))
        if not self.errors:
            cleaned["lines"] = self._lines(text)
        return cleaned

    def _text_of(self, upload: Any) -> str:
        if upload.size > MOST_BYTES:
            self.add_error("file", _("The file is too large for a price list. Keep only the list in it."))
            return ""
        try:
            text = upload.read().decode("utf-8-sig")
            if "\0" in text:
                raise ValueError
            return text
        except ValueError:
            self.add_error("file", _("The file is not text. Save it as CSV in UTF-8 and choose it again."))
            return ""

    def _lines(self, text: str) -> list[dict[str, Any]]:
        try:
            rows = text_of.read_price_list(text, vocabulary(self.actor))
        except text_of.BadPriceList as bad:
            self._told(list(problems_in_words(bad)))
            return []
        species = {
            name: find_exactly(self.actor.organisation.uid, name) for name in {r.species for r in rows}
        }
        self._told(list(problems_of_lines(rows, species)))
        names = [name for name in text_of.PriceLine.__slots__ if name not in ("line", "species")]
        return [
            {"species": species[row.species][0], **{name: getattr(row, name) for name in names}}
            for row in rows
            if species[row.species]
        ]

    def _told(self, problems: list[str]) -> None:
        for words in problems[:MOST_SHOWN]:
            self.add_error("lines", words)
        if len(problems) > MOST_SHOWN:
            more = len(problems) - MOST_SHOWN
            self.add_error(
                "lines",
                ngettext("and %(n)s more like these.", "and %(n)s more like these.", more) % {"n": more},
            )


def vocabulary(actor: Actor) -> text_of.Vocabulary:
    """Stock types and units by their key and by their name in the reader's language."""
    types = {value: value for value in StockType.values}
    types |= {str(label).lower(): value for value, label in StockType.choices}
    types |= {"container": "container", "seed": "direct_seed", "balled": "balled_burlapped"}
    units = {value: value for value in Unit.values}
    units |= {str(label).lower(): value for value, label in Unit.choices}
    return text_of.Vocabulary(types, units, currency_of(actor), figures.MINOR_DIGITS)


def currency_of(actor: Actor) -> str:
    """What the organisation's newest project is counted in, else euros."""
    row = (
        Project.objects.filter(organisation=actor.organisation)
        .order_by("-id")
        .values_list("currency")
        .first()
    )
    return row[0] if row else "EUR"


def problems_of_lines(rows: list[text_of.PriceLine], species: dict[str, list[Species]]) -> Iterator[str]:
    """What only the records can tell: unknown names, lines that say one thing twice, seed sold by the tree."""
    seen: dict[tuple, int] = {}
    for row in rows:
        found = species[row.species]
        words = {"line": row.line, "name": row.species}
        if not found:
            yield (
                _(
                    "Line %(line)s: no species is called “%(name)s”. Use the scientific name or add the species."
                )
                % words
            )
        elif len(found) > 1:
            yield _("Line %(line)s: “%(name)s” may be several species. Use the scientific name.") % words
        key = (found[0].pk if found else row.species, row.stock_type, row.unit, row.age_code, row.provenance,
               row.least_quantity, row.currency)  # fmt: skip
        if key in seen:
            yield (
                _(
                    "Line %(line)s says the same as line %(first)s. Keep one, or tell them apart by age or fewest."
                )
                % {"line": row.line, "first": seen[key]}
            )
        seen.setdefault(key, row.line)
        if row.unit and (row.stock_type == StockType.DIRECT_SEED) == (row.unit == Unit.TREE):
            yield (
                _(
                    "Line %(line)s: seed is sold by the spot or by weight or area, every other stock type by the tree."
                )
                % words
            )
        if row.valid_from and row.valid_until and row.valid_until < row.valid_from:
            yield _("Line %(line)s: the price ends before it begins.") % words
        if row.least_quantity and row.on_offer is not None and row.least_quantity > row.on_offer:
            yield _("Line %(line)s: the fewest sold is more than there are.") % words


def problems_in_words(bad: text_of.BadPriceList) -> Iterator[str]:
    """Every fault of the text with its line."""
    said = {
        text_of.NOTHING: _("There is no line below the headings."),
        text_of.TOO_MANY: _("There are %(value)s lines; at most %(most)s are read at once."),
        text_of.NO_COLUMN: _("The first line has no heading “%(column)s”."),
        text_of.UNKNOWN_HEADING: _(
            "No column is called “%(value)s”. Leave it out, or use a heading named above."
        ),
        text_of.HEADING_TWICE: _("The heading “%(value)s” stands there twice."),
        text_of.EMPTY: _("Line %(line)s: %(column)s is empty."),
        text_of.NOT_A_STOCK_TYPE: _("Line %(line)s: “%(value)s” is no stock type."),
        text_of.NOT_A_UNIT: _("Line %(line)s: “%(value)s” is nothing plants are sold by: tree, seed spot."),
        text_of.NOT_AN_AMOUNT: _("Line %(line)s: “%(value)s” is no price; write 12.50, without signs."),
        text_of.TOO_FINE: _("Line %(line)s: %(value)s has more decimal places than its currency; round it."),
        text_of.TOO_LARGE: _("Line %(line)s, %(column)s: %(value)s is too large to be meant."),
        text_of.NOT_A_CURRENCY: _(
            "Line %(line)s: “%(value)s” is no currency; write three letters, such as EUR."
        ),
        text_of.NOT_A_COUNT: _("Line %(line)s, %(column)s: “%(value)s” is no whole number."),
        text_of.NOT_A_DAY: _("Line %(line)s, %(column)s: “%(value)s” is no day; write 2026-02-14."),
        text_of.TOO_LONG: _("Line %(line)s, %(column)s: at most %(value)s characters."),
        text_of.CANNOT_BE_PARTED: _(
            "The list cannot be taken apart: a cell is far too long. See whether a quotation mark does not close."
        ),
    }
    for problem in bad.problems:
        words = {
            "line": problem.line, "value": problem.value[:60], "most": text_of.MOST_LINES,
            "column": COLUMN_WORDS.get(problem.column, ""),
        }  # fmt: skip
        yield said[problem.code] % words
