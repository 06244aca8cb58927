"""Holdings: the farms or gardens of a block that is a list of them."""

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects.access import Actor
from projects.errors import Refusal
from projects.models import Block, Holding, Layout, Person
from projects.services import editing

FIELDS = ("label", "latitude", "longitude", "trees_received")


@transaction.atomic
def make_holding(*, actor: Actor, block: Block, person_name: str = "", **values: Any) -> Holding:
    """Add a holding to a block's list; the grower's name is kept with the people, not here."""
    actor.require("block.edit")
    editing.ours(actor, block)
    if block.layout != Layout.HOLDINGS:
        raise Refusal(_("This block is one piece of ground. Change its layout to a list of holdings first."))
    holding = Holding(block=block, person=_person(actor, None, person_name), **_checked(values))
    with editing.refusing_duplicates("label", _taken(holding.label)):
        return editing.make(actor, holding, "holding.added")


@transaction.atomic
def edit_holding(
    *, actor: Actor, holding: Holding, version: str = "", person_name: str | None = None, **values: Any
) -> Holding:
    """Change a holding."""
    actor.require("block.edit")
    editing.ours(actor, holding)
    changes = _checked(values)
    if person_name is not None:
        changes["person"] = _person(actor, holding.person, person_name)
    with editing.refusing_duplicates("label", _taken(str(values.get("label", "")))):
        return editing.change(actor, holding, changes, "holding.edited", version=version)


def _taken(label: str) -> str:
    return _("This block already lists a holding called “%(label)s”. Give this one another label.") % {
        "label": label
    }


def _person(actor: Actor, person: Person | None, name: str) -> Person | None:
    """Return the grower: renamed where they are known, made where they are new."""
    name = name.strip()
    if not name:
        return None
    if person is None:
        return Person.objects.create(organisation=actor.organisation, name=name)
    if person.name != name:
        Person.objects.filter(pk=person.pk, erased_at__isnull=True).update(name=name)
        person.refresh_from_db()
    return person


def _checked(values: dict[str, Any]) -> dict[str, Any]:
    values = {name: value for name, value in values.items() if name in FIELDS}
    for name, most in (("latitude", 90), ("longitude", 180)):
        degrees = values.get(name)
        if degrees is not None and not -most <= degrees <= most:
            raise Refusal(
                _("Degrees lie between −%(most)s and %(most)s; decimals, not minutes.") % {"most": most},
                field=name,
            )
    if "latitude" in values and (values["latitude"] is None) != (values.get("longitude") is None):
        raise Refusal(_("Give both latitude and longitude, or neither."), field="latitude")
    return values
