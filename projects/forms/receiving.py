"""Forms of deliveries and their lots."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects import access, figures
from projects.access import Actor
from projects.forms.fields import CountField, DayField
from projects.forms.stock import choosable_species
from projects.forms.versioned import VersionedForm
from projects.models import Delivery, Nursery, OrderLine, StockType
from projects.services.receiving import Arrived

MOST_LOTS = 40
SAYS_SOMETHING = (
    "code",
    "counted",
    "stated",
    "lifted_on",
    "certificate",
)  # a row without any of these is empty


class DeliveryHead(forms.Form):
    """What is written on the delivery note."""

    uid = forms.UUIDField(widget=forms.HiddenInput)
    rows = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=MOST_LOTS)
    nursery = forms.ModelChoiceField(
        queryset=Nursery.objects.none(), to_field_name="uid", label=gettext_lazy("From the nursery")
    )
    delivered_on = DayField(label=gettext_lazy("Delivered on"))
    note_number = forms.CharField(
        label=gettext_lazy("Number of the delivery note"),
        max_length=60,
        required=False,
        help_text=gettext_lazy("Two people with one note may both enter it: their lots come together."),
    )
    carrier = forms.CharField(label=gettext_lazy("Brought by"), max_length=120, required=False)
    note = forms.CharField(
        label=gettext_lazy("Note"), required=False, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, actor: Actor, *args: Any, with_order: bool, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["nursery"].queryset = access.visible_nurseries(actor).current()
        self.fields["nursery"].empty_label = _("Choose a nursery")
        if with_order:
            del self.fields["nursery"]


class ArrivedForm(forms.Form):
    """One lot as it was counted. Left empty it is none."""

    use_required_attribute = False

    line = forms.ChoiceField(label=gettext_lazy("For this line of the order"), required=False)
    code = forms.CharField(
        label=gettext_lazy("Lot code"),
        max_length=40,
        help_text=gettext_lazy("As it stands on the label."),
        error_messages={"required": gettext_lazy("Write the lot code, as it stands on the label.")},
    )
    counted = CountField(
        label=gettext_lazy("Counted"),
        min_value=1,
        error_messages={"required": gettext_lazy("Write how many were counted.")},
    )
    stated = CountField(label=gettext_lazy("On the delivery note"), required=False)
    lifted_on = DayField(
        label=gettext_lazy("Lifted on"),
        required=False,
        help_text=gettext_lazy(
            "When the plants left the nursery ground; ask the nursery. Its clock starts here."
        ),
    )
    species = forms.ModelChoiceField(
        queryset=None, to_field_name="slug", required=False, label=gettext_lazy("Species")
    )
    stock_type = forms.ChoiceField(label=gettext_lazy("Stock type"), required=False)
    age_code = forms.CharField(label=gettext_lazy("Age code"), max_length=20, required=False)
    provenance = forms.CharField(label=gettext_lazy("Provenance"), max_length=200, required=False)
    seed_lot = forms.CharField(label=gettext_lazy("Seed lot"), max_length=60, required=False)
    category = forms.CharField(
        label=gettext_lazy("Category of the seed source"), max_length=40, required=False
    )
    certificate = forms.CharField(
        label=gettext_lazy("Number of its certificate or passport"), max_length=60, required=False
    )

    def __init__(
        self, actor: Actor, lines: list[OrderLine], *args: Any, species: list[tuple[str, str]], **options: Any
    ) -> None:
        super().__init__(*args, **options)
        self.lines = {str(line.uid): line for line in lines}
        self.fields["line"].choices = [
            ("", _("none of them")),
            *((uid, line_words(self.lines[uid])) for uid in self.lines),
        ]
        self.fields["species"].queryset = choosable_species(actor)
        as_ordered = [("", _("as ordered") if lines else _("Choose one"))]
        self.fields["species"].widget.choices = [*as_ordered, *species]  # read once for all lots of the page
        self.fields["stock_type"].choices = [*as_ordered, *StockType.choices]
        if not lines:
            del self.fields["line"]
            self.fields["species"].required = self.fields["stock_type"].required = True

    @property
    def is_empty(self) -> bool:
        """Whether nothing was written in it."""
        return not any(str(self.data.get(self.add_prefix(name)) or "").strip() for name in SAYS_SOMETHING)

    def full_clean(self) -> None:
        """Find nothing wrong with a row that was left empty."""
        if not self.is_bound or not self.is_empty:
            super().full_clean()
        else:
            self._errors, self.cleaned_data = forms.utils.ErrorDict(), {}

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        line = self.lines.get(values.get("line", ""))
        if line is not None:
            values["species"] = values.get("species") or line.species
            values["stock_type"] = values.get("stock_type") or line.stock_type
        wanted = {
            "species": _("Choose the species, or the line it came for."),
            "stock_type": _("Choose the stock type, or the line it came for."),
        }
        for name, words in wanted.items():
            if not values.get(name) and name not in self.errors:
                self.add_error(name, words)
        return values

    def arrived(self) -> Arrived:
        """The lot as the service takes it."""
        values = dict(self.cleaned_data)
        return Arrived(order_line=self.lines.get(values.pop("line", "")), **values)


def line_words(line: OrderLine) -> str:
    """A line of an order as a choice names it."""
    words = {
        "species": line.species, "type": line.get_stock_type_display(), "n": figures.quantity(line.quantity),
    }  # fmt: skip
    return _("%(species)s, %(type)s, %(n)s asked for") % words


def species_choices(actor: Actor) -> list[tuple[str, str]]:
    """Every species there is to choose, as a select shows them."""
    return [(row.slug, str(row)) for row in choosable_species(actor)]


class DeliveryForm(VersionedForm):
    """Words of a delivery that can be corrected."""

    class Meta:
        model = Delivery
        fields = ["note_number", "carrier", "note"]
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}
