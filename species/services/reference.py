"""Bring the shared reference in the database to what the version-controlled files say."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from django.db import transaction
from django.db.models import Model
from django.utils.translation import gettext as _

from species import reference_files as files
from species import reference_rows as build
from species.errors import SupersedingRefused
from species.models import RangeStatus, Species, SpeciesName, SpeciesSynonym, SpeciesTrait
from species.reference_files import ReferenceFile, Row
from species.services.superseding import refuse_circle

CHILDREN: tuple[tuple[ReferenceFile, type[Model], build.Builder], ...] = (
    (files.NAMES, SpeciesName, build.name_row),
    (files.SYNONYMS, SpeciesSynonym, build.synonym_row),
    (files.TRAITS, SpeciesTrait, build.trait_row),
    (files.RANGES, RangeStatus, build.range_row),
)

SPECIES_FIELDS = tuple(
    "superseded_by_id" if column == "superseded_by" else column for column in files.SPECIES.columns[1:]
)


@dataclass(slots=True)
class FileCounts:
    """What became of the rows of one file.

    `removed` counts rows that the file no longer holds; a species is never removed, so one that the file no
    longer holds is `kept`.
    """

    added: int = 0
    changed: int = 0
    unchanged: int = 0
    removed: int = 0
    kept: int = 0


@dataclass(slots=True)
class LoadReport:
    """Counts per file, in the order the files were read."""

    files: dict[str, FileCounts] = field(default_factory=dict)


def load_reference(*, folder: Path = files.DATA_FOLDER) -> LoadReport:
    """Load all five files in one transaction; a row that cannot be used raises and nothing is written.

    Loading the same files again changes nothing. Species of an organisation are left alone.
    """
    rows = {file.name: files.read_rows(folder, file) for file in files.FILES}
    report = LoadReport()
    with transaction.atomic():
        report.files[files.SPECIES.name] = _load_species(rows[files.SPECIES.name])
        slugs = {row.cells["slug"] for row in rows[files.SPECIES.name]}
        species_by_slug = {
            row.slug: row for row in Species.objects.filter(owner_organisation_uid=None, slug__in=slugs)
        }
        for file, model, builder in CHILDREN:
            wanted = [builder(row, species_by_slug) for row in rows[file.name]]
            if model is SpeciesName:
                _refuse_two_main_names(rows[file.name])
            report.files[file.name] = _mirror(model, file, wanted)
    return report


def _load_species(rows: list[Row]) -> FileCounts:
    wanted = [build.species_row(row) for row in rows]
    before = {species.slug: species for species in Species.objects.all()}
    _refuse_taken(rows, before)
    new = [species for species in wanted if species.slug not in before]
    _add(Species, new)
    stored = {species.slug: species for species in Species.objects.filter(owner_organisation_uid=None)}
    counts = FileCounts(added=len(new), kept=len(stored) - len(rows))
    for row, species in zip(rows, wanted, strict=True):
        species.superseded_by = _successor(row, stored)
        changed = _copy(species, stored[species.slug], SPECIES_FIELDS)
        if species.slug in before:
            counts.changed += changed
            counts.unchanged += not changed
    _refuse_circles(rows, stored)
    return counts


def _refuse_taken(rows: list[Row], stored: Mapping[str, Species]) -> None:
    """Refuse a slug that an organisation uses and a scientific name that another slug holds."""
    slug_of_name = {s.scientific_name: s.slug for s in stored.values() if s.is_shared}
    renamed = {row.cells["slug"] for row in rows}
    slug_of_name = {name: slug for name, slug in slug_of_name.items() if slug not in renamed}
    for row in rows:
        slug, name = row.cells["slug"], row.cells["scientific_name"]
        if slug in stored and not stored[slug].is_shared:
            raise row.refusal("slug", _("an organisation's own species has this slug; choose another."))
        if slug_of_name.setdefault(name, slug) != slug:
            reason = _("“%(slug)s” already has this name; a slug is permanent, so keep that one.")
            raise row.refusal("scientific_name", reason % {"slug": slug_of_name[name]})


def _successor(row: Row, stored: Mapping[str, Species]) -> Species | None:
    slug = row.cells["superseded_by"]
    if slug == row.cells["slug"]:
        raise row.refusal("superseded_by", _("a species cannot supersede itself."))
    if slug and slug not in stored:
        raise row.refusal("superseded_by", _("“%(slug)s” is not a slug of species.csv.") % {"slug": slug})
    return stored[slug] if slug else None


def _refuse_circles(rows: list[Row], stored: Mapping[str, Species]) -> None:
    by_id = {species.pk: species for species in stored.values()}
    for row in rows:
        species = stored[row.cells["slug"]]
        if species.superseded_by_id is None:
            continue
        try:
            refuse_circle(
                start=species.pk,
                target=species.superseded_by_id,
                next_of=lambda pk: by_id[pk].superseded_by_id,
            )
        except SupersedingRefused as circle:
            raise row.refusal("superseded_by", str(circle)) from circle


def _refuse_two_main_names(rows: list[Row]) -> None:
    seen: dict[tuple[str, str], int] = {}
    for row in rows:
        key = (row.cells["species"], row.cells["language"])
        if row.cells["is_main"] == "yes" and seen.setdefault(key, row.line) != row.line:
            reason = _("the main name in this language stands on line %(line)d.") % {"line": seen[key]}
            raise row.refusal("is_main", reason)


def _mirror(model: type[Model], file: ReferenceFile, wanted: list[Any]) -> FileCounts:
    """Make the shared rows about shared species exactly those of the file; an organisation's own stay."""
    key = tuple("species_id" if column == "species" else column for column in file.key)
    compared = tuple(column for column in file.columns if column not in file.key)
    shared = {"species__owner_organisation_uid": None}
    if any(column.name == "owner_organisation_uid" for column in model._meta.fields):
        shared["owner_organisation_uid"] = None
    stored = {_values(row, key): row for row in model._default_manager.filter(**shared)}
    counts, new, demoted_first = (
        FileCounts(),
        [],
        sorted(wanted, key=lambda row: getattr(row, "is_main", False)),
    )
    gone = set(stored) - {_values(row, key) for row in wanted}
    model._default_manager.filter(pk__in=[stored[value].pk for value in gone]).delete()
    counts.removed = len(gone)
    for row in demoted_first:
        if (old := stored.get(_values(row, key))) is None:
            new.append(row)
            continue
        changed = _copy(row, old, compared)
        counts.changed += changed
        counts.unchanged += not changed
    counts.added = len(new)
    _add(model, new)
    return counts


def _values(row: Any, names: Iterable[str]) -> tuple:
    return tuple(getattr(row, name) for name in names)


def _copy(source: Any, target: Any, names: tuple[str, ...]) -> bool:
    """Copy what differs and save it; say whether anything did."""
    if _values(source, names) == _values(target, names):
        return False
    for name in names:
        setattr(target, name, getattr(source, name))
    target.save()
    return True


def _add(model: type[Model], rows: list[Any]) -> None:
    for row in rows:
        if hasattr(row, "fold"):
            row.fold()
    model._default_manager.bulk_create(rows, batch_size=200)
