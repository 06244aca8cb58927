"""The steps every write shares: belong together, be well formed, not undo another's edit, be remembered."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction
from django.utils.translation import gettext as _

from projects import history, versions
from projects.access import Actor
from projects.errors import Refusal


class ChangedMeanwhile(Refusal):
    """Somebody saved this row after the form was opened. `stored` holds what stands there now."""

    code = "changed_meanwhile"

    def __init__(self, row: models.Model, stored: dict[str, Any], version: str = "") -> None:
        super().__init__(
            _(
                "Somebody else changed this while you were writing. Both versions are below; save again to keep yours."
            )
        )
        self.row, self.stored, self.version = row, stored, version or versions.token(row)


def ours(actor: Actor, *rows: Any) -> None:
    """Refuse rows of another organisation; on PostgreSQL the database refuses them too."""
    for row in rows:
        if row is not None and row.organisation_id != actor.organisation.pk:
            raise Refusal(_("This belongs to another organisation."), code="not_ours")


def species_for_use(actor: Actor, species: Any) -> None:
    """Refuse a species that another organisation added for itself."""
    owner = getattr(species, "owner_organisation_uid", None)
    if owner is not None and owner != actor.organisation.uid:
        raise Refusal(_("This species belongs to another organisation."), field="species", code="not_ours")


def well_formed(row: models.Model, *, besides: Iterable[str] = ()) -> None:
    """Refuse values their own fields refuse: too long, not a choice, out of range; `besides` are not looked at.

    An object without keys is a value like another where a column begins with one.
    """
    fields = row._meta.concrete_fields
    relations = [field.name for field in fields if field.is_relation]
    begun = [
        field.name
        for field in fields
        if isinstance(field, models.JSONField) and field.has_default() and not getattr(row, field.name)
    ]
    try:
        row.clean_fields(exclude=[*relations, *begun, *besides, "uid"])
    except ValidationError as wrong:
        name, messages = next(iter(wrong.message_dict.items()))
        raise Refusal(" ".join(messages), field=name, code="not_well_formed") from wrong


@contextmanager
def refusing_duplicates(field: str, message: str) -> Iterator[None]:
    """Turn a broken uniqueness constraint into a refusal on the field that must differ."""
    try:
        with transaction.atomic():
            yield
    except IntegrityError as broken:
        if "unique" not in str(broken).lower():
            raise
        raise Refusal(message, field=field, code="taken") from broken


def make(actor: Actor, row: models.Model, verb: str, *, reason: str = "") -> Any:
    """Store a new row of the actor's organisation with its history entry."""
    row.organisation = actor.organisation  # type: ignore[attr-defined]
    well_formed(row)
    row.save(force_insert=True)
    history.record(actor, verb, row, reason=reason)
    return row


def held(row: models.Model) -> Any:
    """Lock a row until the transaction ends and return it as it stands.

    Other rows may point to it meanwhile: a worker that writes figures of a round waits for nobody who holds it.
    """
    return type(row)._default_manager.select_for_update(no_key=True).get(pk=row.pk)


def change(
    actor: Actor, row: models.Model, values: dict[str, Any], verb: str, *, version: str = "", reason: str = ""
) -> Any:
    """Change fields of a locked row; refuse when `version` is not the row as it stands.

    Returns the fresh row; nothing is written or remembered when nothing differs.
    """
    locked = held(row)
    if version and version != versions.token(locked):
        raise ChangedMeanwhile(locked, {name: getattr(locked, name) for name in values})
    differences = history.differences(locked, values)
    if not differences:
        return locked
    for name in differences:
        setattr(locked, name, values[name])
    well_formed(locked)
    locked.save(update_fields=list(differences))
    history.record(actor, verb, locked, change=differences, reason=reason)
    return locked
