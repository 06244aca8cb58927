"""Forms of stock orders: a new one, its lines, its terms, the nursery's answer, the end of it."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects import access, figures
from projects.access import Actor
from projects.forms.budget import RateField
from projects.forms.fields import CountField, DayField, MoneyField
from projects.forms.stock import choosable_species
from projects.forms.versioned import VersionedForm
from projects.models import Nursery, OrderLine, Project, StockOrder, StockType
from projects.services.order_lines import line_words, seen, seen_line
from species.models import Species

PLACES_FOR_SUBSTITUTES = 3


class OrderForm(VersionedForm):
    """A draft order: where to send it, by when, on what terms."""

    order_by = DayField(label=gettext_lazy("Latest order date"), required=False)
    needed_by = DayField(label=gettext_lazy("Needed by"), required=False)
    deposit = MoneyField(label=gettext_lazy("Deposit"), required=False)
    exchange_rate = RateField(
        label=gettext_lazy("Rate of exchange"),
        required=False,
        help_text=gettext_lazy(
            "Only where the nursery is paid in another currency than the project's: what one unit of it is worth in"
            " the project's."
        ),
    )
    exchange_rate_on = DayField(label=gettext_lazy("Day of that rate"), required=False)

    class Meta:
        model = StockOrder
        fields = [
            "nursery", "order_by", "needed_by", "deliver_to", "reference", "terms", "deposit", "exchange_rate",
            "exchange_rate_on", "reason",
        ]  # fmt: skip
        widgets = {
            "reason": forms.Textarea(attrs={"rows": 3}),
            "terms": forms.Textarea(attrs={"rows": 3}),
        }
        labels = {"deliver_to": gettext_lazy("Deliver to"), "reference": gettext_lazy("Your reference")}
        help_texts = {"terms": gettext_lazy("They stand on the order sheet.")}

    def __init__(self, actor: Actor, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["nursery"].empty_label = _("not chosen yet")
        self.fields["nursery"].queryset = access.visible_nurseries(actor).current()
        self.fields["deposit"].help_text = _("In %(currency)s.") % {"currency": self.instance.currency}
        self.initial.setdefault(
            "deposit", MoneyField.shown(self.instance.deposit_minor, self.instance.currency)
        )

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        try:
            values["deposit_minor"] = MoneyField.settle(values.pop("deposit", None), self.instance.currency)
        except forms.ValidationError as wrong:
            self.add_error("deposit", wrong)
        return values


class LineForm(VersionedForm):
    """One line of a draft, and what may come instead."""

    quantity = CountField(label=gettext_lazy("How many"), min_value=1)
    unit_price = MoneyField(
        label=gettext_lazy("Price of one"),
        required=False,
        help_text=gettext_lazy("Empty: as the nursery's price list says, where it does."),
    )
    currency = forms.CharField(
        label=gettext_lazy("Currency"), max_length=3, help_text=gettext_lazy("Three letters, such as EUR.")
    )

    class Meta:
        model = OrderLine
        fields = [
            "species", "stock_type", "quantity", "block", "age_code", "provenance", "unit_price", "currency",
            "substitution", "note",
        ]  # fmt: skip
        labels = {"block": gettext_lazy("For block"), "stock_type": gettext_lazy("Stock type")}
        widgets = {"substitution": forms.RadioSelect}
        help_texts = {
            "provenance": gettext_lazy("Where the seed should come from: the zone, region or stand."),
        }

    def __init__(self, actor: Actor, project: Project | None, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if "version" in self.fields:
            self.initial["version"] = seen_line(self.instance)
        choosable = choosable_species(actor)
        self.fields["species"].empty_label = _("Choose a species")
        self.fields["species"].queryset = choosable
        self.fields["stock_type"].choices = [("", _("Choose a stock type")), *StockType.choices]
        self._offer_blocks(actor, project)
        self.fields["substitution"].choices = OrderLine._meta.get_field("substitution").choices
        self._offer_substitutes(choosable)
        self.order_fields([*self.Meta.fields[:9], *self._substitute_names(), "note"])
        self.initial.setdefault(
            "unit_price", MoneyField.shown(self.instance.unit_price_minor, self.instance.currency)
        )

    def _offer_blocks(self, actor: Actor, project: Project | None) -> None:
        blocks = access.visible_blocks(actor).filter(archived_at__isnull=True).select_related("project")
        self.fields["block"].queryset = blocks if project is None else blocks.filter(project=project)
        self.fields["block"].empty_label = _("no block in particular")
        if project is None:
            self.fields["block"].label_from_instance = lambda block: f"{block.project}: {block}"

    def _offer_substitutes(self, species: Any) -> None:
        held = list(self.instance.substitutes.all()) if self.instance.pk else []
        for n in range(1, PLACES_FOR_SUBSTITUTES + 1):
            row = held[n - 1] if n <= len(held) else None
            self.fields[f"instead_{n}"] = forms.ModelChoiceField(
                queryset=species, required=False, empty_label=_("nothing"), initial=row and row.species_id,
                label=_("Instead, choice %(n)s") % {"n": n},
                help_text=_("Only with the rule “what is listed”; the wanted first.") if n == 1 else "",
            )  # fmt: skip
            self.fields[f"instead_{n}_as"] = forms.ChoiceField(
                choices=[("", _("any stock type")), *StockType.choices], required=False,
                initial=row.stock_type if row else "", label=_("Choice %(n)s as") % {"n": n},
            )  # fmt: skip

    @staticmethod
    def _substitute_names() -> list[str]:
        return [f"instead_{n}{end}" for n in range(1, PLACES_FOR_SUBSTITUTES + 1) for end in ("", "_as")]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        values["currency"] = (values.get("currency") or "").strip().upper()
        try:
            values["unit_price_minor"] = MoneyField.settle(values.pop("unit_price", None), values["currency"])
        except forms.ValidationError as wrong:
            self.add_error("unit_price", wrong)
        values["substitutes"] = self._substitutes(values)
        return values

    def _substitutes(self, values: dict[str, Any]) -> list[tuple[Species, str]]:
        found = []
        for n in range(1, PLACES_FOR_SUBSTITUTES + 1):
            species, stock_type = values.pop(f"instead_{n}", None), values.pop(f"instead_{n}_as", "")
            if species is not None:
                found.append((species, stock_type))
            elif stock_type:
                self.add_error(f"instead_{n}", _("Choose the species too."))
        return found


class NewOrderForm(LineForm):
    """A new order by hand with its first line."""

    project = forms.ModelChoiceField(
        queryset=Project.objects.none(), to_field_name="uid", label=gettext_lazy("For the project")
    )
    nursery = forms.ModelChoiceField(
        queryset=Nursery.objects.none(), to_field_name="uid", required=False, label=gettext_lazy("Nursery")
    )
    needed_by = DayField(label=gettext_lazy("Needed by"), required=False)
    order_by = DayField(
        label=gettext_lazy("Latest order date"),
        required=False,
        help_text=gettext_lazy("Empty: counted back from the day it is needed by the nursery's weeks."),
    )
    deliver_to = forms.CharField(label=gettext_lazy("Deliver to"), max_length=200, required=False)
    reason = forms.CharField(
        label=gettext_lazy("Reason"), required=False, widget=forms.Textarea(attrs={"rows": 2})
    )

    field_order = ["project", "nursery", "needed_by", "order_by", "deliver_to", "reason"]
    OF_THE_ORDER = tuple(field_order)

    def __init__(self, actor: Actor, *args: Any, **options: Any) -> None:
        super().__init__(actor, None, *args, **options)
        self.fields["project"].queryset = access.visible_projects(actor).current().order_by("name", "id")
        self.fields["project"].empty_label = _("Choose a project")
        self.fields["nursery"].queryset = access.visible_nurseries(actor).current()
        self.fields["nursery"].empty_label = _("not chosen yet")
        first = list(self.OF_THE_ORDER)
        self.order_fields([*first, *(name for name in self.fields if name not in first)])


class ConfirmForm(forms.Form):
    """What the nursery answered, line by line."""

    version = forms.CharField(widget=forms.HiddenInput, required=False)
    confirmed_on = DayField(label=gettext_lazy("Confirmed on"), required=False)
    promised_on = DayField(
        label=gettext_lazy("Promised for"),
        required=False,
        help_text=gettext_lazy("The day it is held to from now on; empty: the day it is needed."),
    )
    nursery_reference = forms.CharField(
        label=gettext_lazy("The nursery's own number"), max_length=60, required=False
    )

    def __init__(self, order: StockOrder, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.initial |= {
            "version": seen(order),
            "confirmed_on": order.confirmed_on or self.initial.get("confirmed_on"),
            "promised_on": order.promised_on or order.needed_by,
            "nursery_reference": order.nursery_reference,
        }
        for line in order.lines.select_related("species", "block"):
            number = line.quantity if line.confirmed_quantity is None else line.confirmed_quantity
            asked = _("Asked: %(n)s.") % {"n": figures.quantity(line.quantity)}
            where = f" ({line.block})" if line.block else ""
            self.fields[f"line-{line.pk}"] = CountField(
                label=f"{line_words(line)}{where}", required=False, initial=number, help_text=asked
            )


class CloseForm(forms.Form):
    """Why the rest will not come; nothing to say where everything came."""

    reason = forms.CharField(label=gettext_lazy("Why the rest will not come"), max_length=300, required=False)

    def __init__(self, is_short: bool, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if not is_short:
            self.fields["reason"].label = _("Anything to keep in mind")
