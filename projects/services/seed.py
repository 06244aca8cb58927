"""Seed trees of a site, and what was gathered from them."""

from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import clocks, history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import SeedCollection, SeedShare, SeedTree, Site
from projects.services import editing

TREE = ("species", "label", "latitude", "longitude", "ripe_from_month", "ripe_to_month", "note")
COLLECTION = (
    "species", "seed_lot", "collected_on", "mother_trees", "apart_m", "weight_g", "purity_share",
    "germination_share", "collector", "permit_reference", "note",
)  # fmt: skip
BOUNDS = {
    "latitude": (-90, 90), "longitude": (-180, 180), "apart_m": (0, 100_000), "weight_g": (0, 10_000_000),
}  # fmt: skip
PAIRS = (("latitude", "longitude"), ("ripe_from_month", "ripe_to_month"))


@transaction.atomic
def add_tree(*, actor: Actor, site: Site, **values: Any) -> SeedTree:
    """Put a seed tree on a site's list."""
    values = _checked(actor, site, values, TREE)
    with _label_taken_once():
        return editing.make(actor, SeedTree(site=site, **values), "seed_tree.added")


@transaction.atomic
def edit_tree(*, actor: Actor, tree: SeedTree, version: str = "", **values: Any) -> SeedTree:
    """Change a seed tree; one that gave seed keeps its species."""
    values = _checked(actor, tree.site, values, TREE)
    if values.get("species", tree.species) != tree.species and tree.shares.exists():
        raise Refusal(_("Seed of this tree is in a collection, so its species stays."), field="species")
    with _label_taken_once():
        return editing.change(actor, tree, values, "seed_tree.edited", version=version)


@transaction.atomic
def remove_tree(*, actor: Actor, tree: SeedTree) -> None:
    """Take a tree off the list that never gave seed; the history keeps that it was there."""
    _may(actor, tree.site)
    if tree.shares.exists():
        raise Refusal(
            _("Seed of this tree is in a collection. Take its share out first."), code="has_given_seed"
        )
    history.record(actor, "seed_tree.taken_away", tree)
    tree.delete()


@transaction.atomic
def add_collection(*, actor: Actor, site: Site, **values: Any) -> SeedCollection:
    """Record what was gathered on one day of one species."""
    values = _checked_collection(actor, site, values)
    with _lot_taken_once(values["seed_lot"]):
        return editing.make(actor, SeedCollection(site=site, **values), "seed_collection.added")


@transaction.atomic
def edit_collection(
    *, actor: Actor, collection: SeedCollection, version: str = "", **values: Any
) -> SeedCollection:
    """Change a collection; one with shares or with plants raised from it keeps its species."""
    values = _checked_collection(actor, collection.site, values)
    changes_species = values.get("species", collection.species) != collection.species
    if changes_species and (collection.shares.exists() or collection.lots.exists()):
        raise Refusal(
            _("Shares of mother trees or stock lots rest on this species. Take them out first."),
            field="species",
        )
    with _lot_taken_once(values.get("seed_lot", collection.seed_lot)):
        return editing.change(actor, collection, values, "seed_collection.edited", version=version)


@transaction.atomic
def add_share(
    *, actor: Actor, collection: SeedCollection, weight_g: float, seed_tree: SeedTree | None = None,
    label: str = "",
) -> SeedShare:  # fmt: skip
    """Say how much seed of a collection came from one mother tree, listed or only named."""
    _may(actor, collection.site)
    editing.ours(actor, seed_tree)
    label = label.strip()
    held = editing.held(collection)
    if weight_g <= 0:
        raise Refusal(_("Write a weight above 0."), field="weight_g")
    if (seed_tree is None) == (not label):
        raise Refusal(
            _("Choose a tree of the list, or give another one a name: one of the two."), field="label"
        )
    if seed_tree is not None:
        _check_tree(held, seed_tree)
    taken = held.shares.filter(seed_tree=seed_tree) if seed_tree else held.shares.filter(label=label)
    if taken.exists():
        raise Refusal(
            _("The share of this tree is there already; take it out to write another."),
            field="seed_tree" if seed_tree else "label",
        )
    share = SeedShare(collection=held, seed_tree=seed_tree, label=label, weight_g=weight_g)
    share.organisation = actor.organisation
    editing.well_formed(share)
    share.save(force_insert=True)
    name = str(seed_tree or label)
    history.record(actor, "seed_collection.share_added", held, change={name: [None, weight_g]})
    return share


@transaction.atomic
def remove_share(*, actor: Actor, share: SeedShare) -> None:
    """Take the share of a mother tree out of a collection."""
    _may(actor, share.collection.site)
    name = str(share.seed_tree or share.label)
    change = {name: [share.weight_g, None]}
    history.record(actor, "seed_collection.share_taken_away", share.collection, change=change)
    share.delete()


def _check_tree(collection: SeedCollection, tree: SeedTree) -> None:
    if tree.site_id != collection.site_id:
        raise Refusal(_("This tree stands on another site."), field="seed_tree")
    if tree.species_id != collection.species_id:
        raise Refusal(_("This tree is of another species than the collection."), field="seed_tree")


def _label_taken_once() -> Any:
    return editing.refusing_duplicates("label", _("Another seed tree of this site has this label."))


def _lot_taken_once(name: str) -> Any:
    words = _("A seed lot called “%(name)s” exists. Add the year or a letter to tell them apart.")
    return editing.refusing_duplicates("seed_lot", words % {"name": name})


def _may(actor: Actor, site: Site) -> None:
    actor.require("seed.edit")
    editing.ours(actor, site)


def _checked(actor: Actor, site: Site, values: Mapping[str, Any], names: tuple[str, ...]) -> dict[str, Any]:
    _may(actor, site)
    values = {name: value for name, value in values.items() if name in names}
    editing.species_for_use(actor, values.get("species"))
    for name, (lowest, highest) in BOUNDS.items():
        value = values.get(name)
        if value is not None and not lowest <= value <= highest:
            words = _("Write a number from %(lowest)s to %(highest)s.")
            raise Refusal(words % {"lowest": lowest, "highest": highest}, field=name)
    for pair in PAIRS:
        missing = [name for name in pair if name in values and values[name] is None]
        if len(missing) == 1:
            raise Refusal(_("Give both, or neither."), field=missing[0])
    return values


def _checked_collection(actor: Actor, site: Site, values: Mapping[str, Any]) -> dict[str, Any]:
    values = _checked(actor, site, values, COLLECTION)
    editing.ours(actor, values.get("collector"))
    if values.get("collected_on") and values["collected_on"] > clocks.today_at(site):
        raise Refusal(_("This day has not come yet."), field="collected_on", code="future")
    if values.get("mother_trees", 1) < 1:
        raise Refusal(_("Seed comes of at least one tree."), field="mother_trees")
    for name in ("purity_share", "germination_share"):
        if values.get(name) is not None:
            values[name] = float(values[name])
    return values
