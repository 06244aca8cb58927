"""What an organisation holds otherwise than the shared reference, or adds to it: traits and status, each with a source.

Every function belongs inside a transaction with its history entry, which the caller writes.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from species.access import own_ranges, own_traits, shared_ranges, standing_traits
from species.calc.cells import plain_number
from species.errors import OwnValueRefused
from species.fact_groups import order_words, out_of_order, unbelievable
from species.models import Basis, RangeStatus, Species, SpeciesTrait
from species.traits import CATALOGUE, FROM_MEMORY

Value = Decimal | tuple[str, ...] | None
Changes = dict[str, list[str]]  # trait → [before, after], as history keeps it


@dataclass(frozen=True, slots=True)
class Stated:
    """A value as somebody states it: what it is, where it comes from, what it rests on."""

    value: Decimal | tuple[str, ...]
    source: str
    basis: str


@transaction.atomic
def state_traits(*, owner_uid: UUID, species: Species, stated: Mapping[str, Stated | None]) -> Changes:
    """Hold these values from now on; None takes an own value back. Return what changed."""
    locked = Species.objects.select_for_update(no_key=True).get(pk=species.pk)
    held = {row.trait: row for row in own_traits(owner_uid).filter(species=locked)}
    checked = {key: believed(key, each) for key, each in stated.items()}
    changes: Changes = {}
    for key, each in checked.items():
        row = held.get(key)
        if each == (None if row is None else as_stated(row)):
            continue
        changes[key] = ["" if row is None else told(as_stated(row)), "" if each is None else told(each)]
        if each is not None:
            _put(row or SpeciesTrait(species=locked, trait=key, owner_organisation_uid=owner_uid), each)
        elif row is not None:
            row.delete()
    refuse_out_of_order(owner_uid, locked, set(stated))
    return changes


def believed(key: str, each: Stated | None) -> Stated | None:
    """Return a statement as it is stored, or refuse it."""
    refuse_unbelievable(key, None if each is None else each.value)
    return None if each is None else Stated(each.value, cited(each.source, each.basis), each.basis)


def as_stated(row: SpeciesTrait) -> Stated:
    """A stored row as a statement."""
    return Stated(row.words or row.value_number, row.source, row.basis)  # type: ignore[arg-type]


def refuse_unbelievable(key: str, value: Value) -> None:
    """Refuse a number beyond the catalogue's limits and words it does not hold."""
    kind = CATALOGUE.get(key)
    if kind is None:
        raise OwnValueRefused(_("“%(key)s” is not a trait we know.") % {"key": key}, field=key)
    if value is None:
        return
    if kind.words is None:
        why = unbelievable(kind, value) if isinstance(value, Decimal) else _("Write a number.")
        if not why and kind.unit == "month" and value != int(value):  # type: ignore[arg-type]
            why = _("Write the month as a whole number from 1 to 12.")
    else:
        known = isinstance(value, tuple) and value and set(value) <= set(kind.words)
        why = "" if known else _("Use one or more of: %(words)s.") % {"words": ", ".join(kind.words)}
    if why:
        raise OwnValueRefused(why, field=key)


def refuse_out_of_order(owner_uid: UUID, species: Species, among: set[str]) -> None:
    """Refuse a tolerance whose points fall; a point not stated is the shared one. Named where `among` holds it."""
    rows = standing_traits(owner_uid).filter(species=species, value_number__isnull=False)
    facts = {row.trait: row.value_number for row in rows}
    for pair in out_of_order(facts):
        if among & set(pair):
            field = pair[0] if pair[0] in among else pair[1]
            raise OwnValueRefused(order_words(pair, facts), field=field)


def cited(source: str, basis: str) -> str:
    """Return the source to store: what is from memory always says so in the same words, and the rest cites."""
    source = " ".join(source.split())
    if basis not in Basis.values:
        raise OwnValueRefused(_("Say what the value rests on."), field="basis")
    if basis == Basis.FROM_MEMORY:
        if source not in ("", FROM_MEMORY):
            raise OwnValueRefused(
                _("What is from memory has no source: leave this empty, or choose what the value rests on."),
                field="source",
            )
        return FROM_MEMORY
    if source in ("", FROM_MEMORY):
        raise OwnValueRefused(
            _("Write where the value comes from: a book, a list, who measured it and when."), field="source"
        )
    return source


@transaction.atomic
def state_range(
    *, owner_uid: UUID, species: Species, country_code: str, region: str, status: str, source: str
) -> list[str]:
    """Hold this status there from now on; return [before, after], empty where nothing changed."""
    Species.objects.select_for_update(no_key=True).get(pk=species.pk)
    region, source = region.strip(), " ".join(source.split())
    here = {"species": species, "country_code": country_code, "region": region}
    row = own_ranges(owner_uid).filter(**here).first() or RangeStatus(
        **here, owner_organisation_uid=owner_uid
    )
    before = f"{row.status} ({row.source})" if row.pk else ""
    row.status, row.source = status, source
    _well_formed(row)
    _refuse_lifting_from_memory(row)
    after = f"{status} ({source})"
    if before == after:
        return []
    row.save()
    return [before, after]


def _refuse_lifting_from_memory(row: RangeStatus) -> None:
    """An invasive species stays refused until somebody cites the list that says otherwise."""
    here = {"species": row.species, "country_code": row.country_code, "region__in": {"", row.region}}
    shared = shared_ranges().filter(**here).order_by("-region").first()  # the region's own row first
    if shared is not None and (why := why_not_lifted(shared.status, shared.source, row.status, row.source)):
        raise OwnValueRefused(why, field="source")


def why_not_lifted(shared_status: str, shared_source: str, status: str, source: str) -> str:
    """Say why a species the shared reference holds invasive may not be held otherwise; nothing where it may."""
    is_lifted = shared_status == RangeStatus.Status.INVASIVE != status
    if not is_lifted or FROM_MEMORY.split(",")[0] not in source.lower():
        return ""
    words = _(
        "The shared reference holds it invasive there (%(source)s). To hold it otherwise, cite the list in force."
    )
    return words % {"source": shared_source}


@transaction.atomic
def take_back_range(*, owner_uid: UUID, species: Species, country_code: str, region: str) -> list[str]:
    """Go back to the shared status there; return [before, after]."""
    row = own_ranges(owner_uid).filter(species=species, country_code=country_code, region=region).first()
    if row is None:
        raise OwnValueRefused(_("You have stated nothing about this place."))
    before = f"{row.status} ({row.source})"
    row.delete()
    return [before, ""]


def _put(row: SpeciesTrait, each: Stated) -> None:
    is_number = isinstance(each.value, Decimal)
    row.value_number = each.value if is_number else None  # type: ignore[assignment]
    row.value_text = "" if is_number else " ".join(each.value)  # type: ignore[arg-type]
    row.unit = CATALOGUE[row.trait].unit if is_number else ""
    row.source, row.basis = each.source, each.basis
    _well_formed(row)
    row.save()


def _well_formed(row: SpeciesTrait | RangeStatus) -> None:
    try:
        row.clean_fields(exclude=["species"])
        row.clean()
    except ValidationError as wrong:
        field, reasons = next(iter(wrong.message_dict.items()))
        raise OwnValueRefused(" ".join(reasons), field=field) from wrong


def told(each: Stated) -> str:
    """A statement as history keeps it."""
    return f"{value_text(each.value)} ({each.source})"


def value_text(value: Decimal | tuple[str, ...]) -> str:
    """A value as files write it: a plain number, or words with spaces between."""
    return plain_number(value) if isinstance(value, Decimal) else " ".join(value)
