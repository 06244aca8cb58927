"""Seed trees and collections of a site, read for their pages; places of trees told as exactly as a reader may know."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.dates import MONTHS
from django.utils.translation import gettext as _

from projects import access, seed_words
from projects.access import Actor
from projects.calc import seed_trees as calc
from projects.models import SeedCollection, SeedShare, SeedTree, Site


@dataclass(frozen=True)
class TreeRow:
    """A seed tree with its months and its place in words."""

    tree: SeedTree
    months: str
    place: str


@dataclass(frozen=True)
class CollectionRow:
    """A collection with what its parents come to."""

    collection: SeedCollection
    parents: calc.Parents


@dataclass(frozen=True)
class RipeRow:
    """A species and the months in which some listed tree of it bears ripe seed."""

    species: Any
    months: Sequence[bool]
    words: str


@dataclass(frozen=True)
class SiteSeed:
    """What the seed page of a site shows."""

    trees: Sequence[TreeRow]
    collections: Sequence[CollectionRow]
    calendar: Sequence[RipeRow]


def site_seed(actor: Actor, site: Site) -> SiteSeed:
    """Read a site's seed trees and collections; three queries."""
    trees = list(
        access.visible_seed_trees(actor)
        .filter(site=site)
        .select_related("species")
        .order_by("species__scientific_name", "label")
    )
    collections = (
        access.visible_seed_collections(actor)
        .filter(site=site)
        .select_related("species")
        .prefetch_related("shares")
    )
    exact = actor.may("seed.edit")
    return SiteSeed(
        [TreeRow(tree, month_words(tree), place_words(tree, exact=exact)) for tree in trees],
        [CollectionRow(each, parents_of(each, each.shares.all())) for each in collections],
        _calendar(trees),
    )


def parents_of(collection: SeedCollection, shares: Iterable[SeedShare]) -> calc.Parents:
    """Judge the parents of a collection by number, share and distance."""
    return calc.parents(collection.mother_trees, [share.weight_g for share in shares], collection.apart_m)


@dataclass(frozen=True)
class ShareRow:
    """What one mother tree gave."""

    share: SeedShare
    name: str
    of_all: float


@dataclass(frozen=True)
class CollectionPage:
    """What the page of a collection shows; `closest_m` is the least distance between its listed trees."""

    parents: calc.Parents
    warnings: Sequence[str]
    shares: Sequence[ShareRow]
    closest_m: float | None
    lots: Sequence[Any]


def collection_page(actor: Actor, collection: SeedCollection) -> CollectionPage:
    """Read one collection with its shares and the stock lots raised from it."""
    shares = list(collection.shares.select_related("seed_tree"))
    total = sum(share.weight_g for share in shares)
    trees = [share.seed_tree for share in shares if share.seed_tree]
    places = [(tree.latitude, tree.longitude) for tree in trees if tree.latitude is not None]
    found = parents_of(collection, shares)
    return CollectionPage(
        found,
        [seed_words.warning_words(code) for code in found.warnings],
        [ShareRow(share, str(share.seed_tree or share.label), share.weight_g / total) for share in shares],
        calc.closest_m(places),
        list(access.visible_lots(actor).filter(seed_collection=collection).select_related("nursery")),
    )


def month_words(tree: SeedTree) -> str:
    """The months in which a tree's seed ripens, in words."""
    first, last = tree.ripe_from_month, tree.ripe_to_month
    if first is None or last is None:
        return _("not known")
    if first == last:
        return str(MONTHS[first])
    return _("%(first)s to %(last)s") % {"first": MONTHS[first], "last": MONTHS[last]}


def place_words(tree: SeedTree, *, exact: bool) -> str:
    """Where a tree stands: as written for those who gather seed, to about a kilometre for everybody else."""
    if tree.latitude is None or tree.longitude is None:
        return ""
    if exact:
        return f"{tree.latitude:g}, {tree.longitude:g}"
    latitude, longitude = calc.rounded_place(tree.latitude, tree.longitude)
    return _("about %(latitude)s, %(longitude)s") % {
        "latitude": f"{latitude:.2f}", "longitude": f"{longitude:.2f}",
    }  # fmt: skip


def _calendar(trees: Iterable[SeedTree]) -> list[RipeRow]:
    months: dict[int, set[int]] = {}
    species = {}
    for tree in trees:
        if tree.ripe_from_month and tree.ripe_to_month:
            species[tree.species_id] = tree.species
            ripe = calc.months_between(tree.ripe_from_month, tree.ripe_to_month)
            months.setdefault(tree.species_id, set()).update(ripe)
    return [
        RipeRow(
            species[key],
            [month in months[key] for month in range(1, 13)],
            ", ".join(str(MONTHS[month]) for month in sorted(months[key])),
        )
        for key in species
    ]
