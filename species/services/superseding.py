"""Superseding: the way a species leaves the list of choices while old counts still point at it."""

from collections.abc import Callable

from django.db import transaction
from django.utils.translation import gettext as _

from species.errors import SupersedingRefused
from species.models import Species


@transaction.atomic
def supersede(*, species: Species, by: Species) -> Species:
    """Let `by` stand for `species` from now on; rows that name the old species keep it."""
    rows = {row.pk: row for row in Species.objects.select_for_update()}
    old, new = rows[species.pk], rows[by.pk]
    if not new.is_shared and new.owner_organisation_uid != old.owner_organisation_uid:
        raise SupersedingRefused(_("A species can only be superseded by one that all of its users can see."))
    refuse_circle(start=old.pk, target=new.pk, next_of=lambda pk: rows[pk].superseded_by_id)
    old.superseded_by = new
    old.save(update_fields=["superseded_by"])
    return old


def refuse_circle(*, start: int, target: int, next_of: Callable[[int], int | None]) -> None:
    """Refuse when following `target` and its successors would lead back to `start`."""
    seen = {start}
    here: int | None = target
    while here is not None:
        if here in seen:
            raise SupersedingRefused(_("This would lead in a circle: no species would be left to choose."))
        seen.add(here)
        here = next_of(here)
