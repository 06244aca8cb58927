"""Forms about seed trees, collections and what each mother tree gave."""

from typing import Any

from django import forms
from django.utils.dates import MONTHS
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects import access
from projects.access import Actor
from projects.forms.fields import CountField, DayField, MeasureField, PercentField
from projects.forms.stock import choosable_species
from projects.forms.versioned import VersionedForm
from projects.models import Person, SeedCollection, SeedTree


def month_field(label: Any) -> forms.TypedChoiceField:
    """A month by name; empty where nobody knows."""
    return forms.TypedChoiceField(
        label=label, required=False, coerce=int, empty_value=None,
        choices=lambda: [("", _("not known")), *MONTHS.items()],
    )  # fmt: skip


class SeedTreeForm(VersionedForm):
    """A tree whose seed may be gathered."""

    latitude = MeasureField(
        label=gettext_lazy("Latitude in degrees"), required=False, min_value=-90, max_value=90
    )
    longitude = MeasureField(
        label=gettext_lazy("Longitude in degrees"),
        required=False,
        min_value=-180,
        max_value=180,
        help_text=gettext_lazy(
            "Shown exactly to those who gather seed, to about a kilometre to others, and never outside."
        ),
    )
    ripe_from_month = month_field(gettext_lazy("Seed ripe from"))
    ripe_to_month = month_field(gettext_lazy("Seed ripe until"))

    class Meta:
        model = SeedTree
        fields = ["species", "label", "latitude", "longitude", "ripe_from_month", "ripe_to_month", "note"]
        help_texts = {"label": gettext_lazy("As it is marked on the tree or on your map, such as OAK 7.")}

    def __init__(self, actor: Actor, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["species"].queryset = choosable_species(actor)
        self.fields["species"].empty_label = _("Choose a species")


class SeedCollectionForm(VersionedForm):
    """Seed gathered of one species on one day."""

    collected_on = DayField(label=gettext_lazy("Collected on"))
    mother_trees = CountField(
        label=gettext_lazy("How many mother trees"),
        min_value=1,
        max_value=100_000,
        help_text=gettext_lazy("Trees that seed was taken from, unrelated as far as anybody can tell."),
    )
    apart_m = MeasureField(
        label=gettext_lazy("Least distance between two of them in metres"), required=False, min_value=0
    )
    weight_g = MeasureField(label=gettext_lazy("Weight in grams"), required=False, min_value=0)
    purity_share = PercentField(
        label=gettext_lazy("Purity, %"), required=False, help_text=gettext_lazy("Pure seed in the weight.")
    )
    germination_share = PercentField(
        label=gettext_lazy("Germination, %"),
        required=False,
        help_text=gettext_lazy("Of pure seed, as tested; note the day of the test."),
    )

    class Meta:
        model = SeedCollection
        fields = [
            "species", "seed_lot", "collected_on", "mother_trees", "apart_m", "weight_g", "purity_share",
            "germination_share", "collector", "permit_reference", "note",
        ]  # fmt: skip
        labels = {"collector": gettext_lazy("Collected by")}

    def __init__(self, actor: Actor, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["species"].queryset = choosable_species(actor)
        self.fields["species"].empty_label = _("Choose a species")
        people = Person.objects.filter(organisation=actor.organisation, erased_at__isnull=True)
        self.fields["collector"].queryset = people.exclude(name="").order_by("name", "id")
        self.fields["collector"].empty_label = _("not written down")


class SeedShareForm(forms.Form):
    """What one mother tree gave."""

    seed_tree = forms.ModelChoiceField(
        queryset=SeedTree.objects.none(), required=False, label=gettext_lazy("Mother tree")
    )
    label = forms.CharField(
        label=gettext_lazy("Or a tree that is not on the list"), max_length=60, required=False
    )
    weight_g = MeasureField(label=gettext_lazy("Weight of its seed in grams"))

    def __init__(self, actor: Actor, collection: SeedCollection, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        trees = access.visible_seed_trees(actor).filter(
            site_id=collection.site_id, species_id=collection.species_id
        )
        self.fields["seed_tree"].queryset = trees.order_by("label")
        self.fields["seed_tree"].empty_label = _("not on the list")
