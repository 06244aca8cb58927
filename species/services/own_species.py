"""Species an organisation adds for itself: everybody else never meets them."""

import re
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.text import slugify
from django.utils.translation import gettext as _

from species.access import visible_species
from species.errors import OwnValueRefused
from species.folding import folded
from species.models import Species, SpeciesSynonym

FIELDS = (
    "scientific_name",
    "authority",
    "genus",
    "family",
    "growth_form",
    "is_nitrogen_fixer",
    "shade_class",
    "source",
)
NAME = re.compile(r"(× )?[A-Z][a-z-]+ (× ?)?[a-z][a-z-]+( .+)?")


@transaction.atomic
def add_species(*, owner_uid: UUID, **values: Any) -> Species:
    """Add a species of the organisation's own; refuse one that it can see already."""
    values = _checked(owner_uid, values)
    species = Species(
        slug=_free_slug(owner_uid, values["scientific_name"]), owner_organisation_uid=owner_uid, **values
    )
    _well_formed(species)
    species.save(force_insert=True)
    return species


@transaction.atomic
def edit_species(*, owner_uid: UUID, species: Species, **values: Any) -> Species:
    """Change an own species; its slug stays, since counts and files carry it."""
    locked = Species.objects.select_for_update(no_key=True).get(pk=species.pk)
    if locked.owner_organisation_uid != owner_uid:
        raise OwnValueRefused(
            _("A species of the shared reference is not changed here; state what you hold otherwise.")
        )
    for name, value in _checked(owner_uid, values, locked).items():
        setattr(locked, name, value)
    _well_formed(locked)
    locked.save()
    return locked


def _checked(owner_uid: UUID, values: dict[str, Any], species: Species | None = None) -> dict[str, Any]:
    values = {name: value for name, value in values.items() if name in FIELDS}
    name = " ".join(values.get("scientific_name", "").split())
    if not NAME.fullmatch(name):
        raise OwnValueRefused(
            _("Write genus and species as botanists do, such as Quercus robur."), field="scientific_name"
        )
    genus = (values.get("genus") or "").strip() or name.removeprefix("× ").split(" ")[0]
    _refuse_taken(owner_uid, name, species)
    return values | {"scientific_name": name, "genus": genus}


def _refuse_taken(owner_uid: UUID, name: str, species: Species | None) -> None:
    others = visible_species(owner_uid).exclude(pk=species.pk if species else None)
    held = others.filter(folded=folded(name)).first()
    synonym = (
        SpeciesSynonym.objects.filter(folded=folded(name), species__in=others)
        .select_related("species")
        .first()
    )
    if held is not None and held.is_shared:
        raise OwnValueRefused(
            _("%(name)s is in the shared reference. Open its page and state there what you hold otherwise.")
            % {"name": held.scientific_name},
            field="scientific_name",
        )
    if held is not None:
        raise OwnValueRefused(
            _("You have added %(name)s already.") % {"name": held.scientific_name}, field="scientific_name"
        )
    if synonym is not None:
        words = {"name": name, "in_use": synonym.species.scientific_name}
        raise OwnValueRefused(
            _(
                "%(name)s is an older name of %(in_use)s, which you have. Open its page and state there "
                "what you hold otherwise."
            )
            % words,
            field="scientific_name",
        )


def _free_slug(owner_uid: UUID, name: str) -> str:
    """A slug that no later species of the shared reference can want: it ends on the owner."""
    stem = slugify(name)[:100]
    for number in range(1, 1000):
        slug = f"{stem}-{owner_uid.hex[-8:]}" + (f"-{number}" if number > 1 else "")
        if not Species.objects.filter(slug=slug).exists():
            return slug
    raise OwnValueRefused(
        _("This name has been used too often; write it differently."), field="scientific_name"
    )


def _well_formed(species: Species) -> None:
    try:
        species.clean_fields(exclude=["superseded_by", "folded"])
        species.clean()
    except ValidationError as wrong:
        field, reasons = next(iter(wrong.message_dict.items()))
        raise OwnValueRefused(" ".join(reasons), field=field) from wrong
