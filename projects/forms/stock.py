"""Forms about nurseries, lots, their movements, planting days and orders."""

from typing import Any

from django import forms
from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects import access, figures
from projects.access import Actor
from projects.forms.fields import CountField, CountryField, DayField, MoneyField
from projects.forms.versioned import VersionedForm
from projects.models import (
    Block,
    Cohort,
    Holding,
    LotMovement,
    Nursery,
    OrderStatus,
    Season,
    SeasonKind,
    SeedCollection,
    StockLot,
    StockOrder,
    StockType,
    StoreKind,
)
from species.models import Species


def collection_label(row: SeedCollection) -> str:
    """A collection of seed as a choice names it."""
    words = {"lot": row.seed_lot, "species": row.species, "day": figures.day(row.collected_on)}
    return _("%(lot)s, %(species)s, %(day)s") % words


def collections_to_choose(actor: Actor, kept: int | None = None) -> Any:
    """Collections of seed the actor may read, the newest first; and the one a lot names already."""
    seen = access.visible_seed_collections(actor).values("pk")
    return SeedCollection.objects.filter(Q(pk__in=seen) | Q(pk=kept)).select_related("species")


def choosable_species(actor: Actor) -> Any:
    """Species the organisation may choose."""
    return (
        Species.objects.shared_or_owned_by(actor.organisation.uid).current().order_by("scientific_name", "id")
    )


class NurseryForm(VersionedForm):
    """Where plants are raised."""

    country_code = CountryField(label=gettext_lazy("Country"), required=False)
    lead_time_weeks = CountField(
        label=gettext_lazy("Weeks from order to delivery"),
        help_text=gettext_lazy("The latest order date is counted back by this."),
    )

    class Meta:
        model = Nursery
        fields = ["name", "country_code", "lead_time_weeks", "contact", "notes"]
        widgets = {"notes": forms.Textarea(attrs={"rows": 3})}


class LotForm(VersionedForm):
    """A stock lot: what came, from where, lifted when."""

    received = CountField(label=gettext_lazy("How many were received"), min_value=1)
    stated = CountField(label=gettext_lazy("On the delivery note"), required=False)
    received_on = DayField(label=gettext_lazy("Received on"))
    lifted_on = DayField(
        label=gettext_lazy("Lifted on"),
        required=False,
        help_text=gettext_lazy(
            "When the plants left the nursery ground; the clock of days out of store starts here."
        ),
    )
    unit_cost = MoneyField(label=gettext_lazy("Cost of one"), required=False)
    order = forms.ModelChoiceField(
        queryset=StockOrder.objects.none(),
        to_field_name="uid",
        required=False,
        label=gettext_lazy("Against the order"),
    )

    class Meta:
        model = StockLot
        fields = [
            "code", "nursery", "species", "stock_type", "unit", "received", "stated", "received_on", "lifted_on",
            "age_code", "provenance", "category", "certificate", "seed_lot", "seed_collection", "currency", "note",
        ]  # fmt: skip
        widgets = {"note": forms.Textarea(attrs={"rows": 2})}
        help_texts = {"code": gettext_lazy("As it stands on the label, so that the field can find it.")}

    def __init__(self, actor: Actor, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["nursery"].queryset = access.visible_nurseries(actor).current()
        self.fields["nursery"].empty_label = _("Choose a nursery")
        self.fields["species"].empty_label = _("Choose a species")
        self.fields["species"].queryset = choosable_species(actor)
        orders = access.visible_orders(actor).filter(status__in=(OrderStatus.PLACED, OrderStatus.CONFIRMED))
        self.fields["order"].queryset = orders
        if self.instance.pk or not orders.exists():
            del self.fields["order"]
        self.fields["seed_collection"].queryset = collections_to_choose(
            actor, self.instance.seed_collection_id
        )
        self.fields["seed_collection"].label_from_instance = collection_label
        self.fields["seed_collection"].label = _("Raised from seed you gathered")
        self.fields["seed_collection"].empty_label = _("no seed lot of your own")
        if not self.fields["seed_collection"].queryset.exists():
            del self.fields["seed_collection"]
        self.order_fields([*self.Meta.fields[:-2], "currency", "unit_cost", "order", "note"])
        if self.instance.pk and self.instance.received == 0:  # its plants came over from other lots
            self.fields["received"] = CountField(label=_("How many were received with it"))
        self.initial.setdefault(
            "unit_cost", MoneyField.shown(self.instance.unit_cost_minor, self.instance.currency)
        )

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        values["currency"] = values.get("currency", "").strip().upper()
        try:
            values["unit_cost_minor"] = MoneyField.settle(values.pop("unit_cost", None), values["currency"])
        except forms.ValidationError as wrong:
            self.add_error("unit_cost", wrong)
        return values


class MovementForm(forms.ModelForm):
    """What became of plants that were not planted in a block."""

    quantity = CountField(label=gettext_lazy("How many"), min_value=1)
    moved_on = DayField(label=gettext_lazy("When"))

    class Meta:
        model = LotMovement
        fields = ["kind", "quantity", "moved_on", "holding", "note"]
        widgets = {"kind": forms.RadioSelect}
        help_texts = {
            "holding": gettext_lazy("Where plants are given out to a grower on a list of holdings.")
        }

    def __init__(self, actor: Actor, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["kind"].choices = LotMovement._meta.get_field("kind").choices
        self.fields["holding"].empty_label = _("no holding")
        holdings = access.visible_holdings(actor).select_related("block")
        self.fields["holding"].queryset = holdings
        self.fields["holding"].label_from_instance = lambda holding: f"{holding.block}: {holding.label}"

    def _post_clean(self) -> None:
        """Writes go through a service."""


class StockTakeForm(forms.Form):
    """A count of what is on hand."""

    counted_on = DayField(label=gettext_lazy("Counted on"), help_text=gettext_lazy("At the end of this day."))
    on_hand = CountField(label=gettext_lazy("How many are on hand"))
    note = forms.CharField(label=gettext_lazy("Note"), max_length=300, required=False)


class StorageForm(forms.Form):
    """Into store, or out of it."""

    kind = forms.ChoiceField(label=gettext_lazy("Where"), choices=StoreKind.choices, widget=forms.RadioSelect)
    from_on = DayField(label=gettext_lazy("Into store on"))
    until_on = DayField(
        label=gettext_lazy("Out of store on"),
        required=False,
        help_text=gettext_lazy("Empty while it is still stored."),
    )


class StorageEndForm(forms.Form):
    """A lot comes out of store."""

    until_on = DayField(label=gettext_lazy("Out of store on"))


class PlantingDayForm(forms.Form):
    """What one crew planted of one lot in one block on one day."""

    planted_on = DayField(label=gettext_lazy("Planted on"))
    lot = forms.ModelChoiceField(
        queryset=StockLot.objects.none(), to_field_name="uid", required=False, label=gettext_lazy("Stock lot")
    )
    quantity = CountField(label=gettext_lazy("How many"), min_value=1)
    crew = forms.CharField(label=gettext_lazy("Crew"), max_length=120, required=False)
    holding = forms.ModelChoiceField(
        queryset=Holding.objects.none(), required=False, label=gettext_lazy("Holding")
    )
    season = forms.ModelChoiceField(
        queryset=Season.objects.none(),
        required=False,
        label=gettext_lazy("Planting season"),
        help_text=gettext_lazy("Empty: the season that holds the day."),
    )
    replaces = forms.ModelChoiceField(
        queryset=Cohort.objects.none(),
        required=False,
        label=gettext_lazy("Replaces losses of"),
        help_text=gettext_lazy(
            "A replacement planting (beating up, gap filling) is counted on its own from then on. Empty for a lot"
            " that was ordered as a replacement here: what its order names."
        ),
    )
    species = forms.ModelChoiceField(
        queryset=Species.objects.none(),
        required=False,
        label=gettext_lazy("Species, where the lot is not known"),
    )
    stock_type = forms.ChoiceField(
        choices=[("", "–"), *StockType.choices],
        required=False,
        label=gettext_lazy("Stock type, where the lot is not known"),
    )
    note = forms.CharField(label=gettext_lazy("Note"), max_length=300, required=False)

    def __init__(self, actor: Actor, block: Block, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        lots = access.visible_lots(actor).current().select_related("species").order_by("-received_on", "code")
        self.fields["lot"].queryset = lots
        self.fields["lot"].empty_label = _("not known")
        self.fields["lot"].label_from_instance = lambda lot: (
            f"{lot.code}, {lot.species}, {lot.get_stock_type_display()}"
        )
        self.fields["holding"].queryset = block.holdings.all()
        self.fields["season"].empty_label = _("the one that holds the day")
        self.fields["replaces"].empty_label = _("what its order names, else nothing: a first planting")
        self.fields["season"].queryset = access.visible_seasons(actor).filter(kind=SeasonKind.PLANTING)
        self.fields["replaces"].queryset = access.visible_cohorts(actor).filter(block=block)
        self.fields["species"].queryset = choosable_species(actor)
        for name in ("holding", "replaces"):
            if not self.fields[name].queryset.exists():
                del self.fields[name]
