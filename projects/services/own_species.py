"""An organisation's own species, values and status: its managers write them, its history keeps who and why."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction
from django.utils.translation import gettext as _

from projects import countries, history
from projects.access import Actor
from projects.announcements import announce
from projects.errors import Refusal
from projects.models import Organisation
from species.errors import OwnValueRefused
from species.fact_groups import FactGroup
from species.models import RangeStatus, Species
from species.services import own_species, own_values
from species.services.own_values import Changes, Stated, Value

VERB = "species.edit"
STATUS = "status_in"


class Remembered:
    """A species as one organisation's history knows it: the shared row itself belongs to nobody."""

    _meta = Species._meta

    def __init__(self, organisation: Organisation, species: Species) -> None:
        self.uid, self.label = remembered_uid(organisation, species), species.scientific_name

    def __str__(self) -> str:
        return self.label


def remembered_uid(organisation: Organisation, species: Species) -> UUID:
    """The subject under which an organisation's history keeps what it says of a species."""
    return uuid5(organisation.uid, species.slug)


@transaction.atomic
def add_species(*, actor: Actor, **values: Any) -> Species:
    """Add a species that only this organisation sees."""
    actor.require(VERB)
    with refusing():
        species = own_species.add_species(owner_uid=actor.organisation.uid, **values)
    remember(actor, species, "species.added")
    return species


@transaction.atomic
def edit_species(*, actor: Actor, species: Species, **values: Any) -> Species:
    """Change name and character of an own species."""
    actor.require(VERB)
    seen(actor, species)
    before = Species.objects.get(pk=species.pk)
    with refusing():
        changed = own_species.edit_species(owner_uid=actor.organisation.uid, species=species, **values)
    new = {name: getattr(changed, name) for name in own_species.FIELDS}
    if differences := history.differences(before, new):
        remember(actor, changed, "species.edited", differences)
    return changed


@transaction.atomic
def state_facts(
    *, actor: Actor, species: Species, values: Mapping[str, Value], source: str, basis: str
) -> Changes:
    """Hold these values of a species from now on, all of one source; an empty one is taken back."""
    stated = {key: None if value is None else Stated(value, source, basis) for key, value in values.items()}
    return state_each(actor=actor, species=species, stated=stated)


@transaction.atomic
def state_each(
    *, actor: Actor, species: Species, stated: Mapping[str, Stated | None], reason: str = ""
) -> Changes:
    """Hold these values of a species from now on, each with its own source; None is taken back."""
    actor.require(VERB)
    seen(actor, species)
    with refusing():
        changes = own_values.state_traits(owner_uid=actor.organisation.uid, species=species, stated=stated)
    if changes:
        taken_back = all(each is None for each in stated.values())
        verb = "species.values_taken_back" if taken_back else "species.values_stated"
        remember(actor, species, verb, changes, reason)
    return changes


@transaction.atomic
def take_back_facts(*, actor: Actor, species: Species, group: FactGroup) -> Changes:
    """Go back to what the shared reference says, for every trait of a group."""
    nothing: dict[str, Stated | None] = dict.fromkeys(kind.key for kind in group.traits)
    changes = state_each(actor=actor, species=species, stated=nothing)
    if not changes:
        raise Refusal(_("You have stated nothing of your own here."))
    return changes


@transaction.atomic
def state_status(
    *, actor: Actor, species: Species, country_code: str, status: str, source: str, region: str = ""
) -> list[str]:
    """Hold this status of a species in a country, or in a region of it, from now on."""
    actor.require(VERB)
    seen(actor, species)
    if country_code not in countries.names():
        raise Refusal(_("Choose the country; its code is two letters, such as PT."), field="country_code")
    with refusing():
        change = own_values.state_range(
            owner_uid=actor.organisation.uid, species=species, country_code=country_code, region=region,
            status=status, source=source,
        )  # fmt: skip
    if change:
        _status_changed(actor, species, country_code, region, change, "species.status_stated")
    return change


@transaction.atomic
def take_back_status(*, actor: Actor, species: Species, country_code: str, region: str = "") -> list[str]:
    """Go back to the shared status of a species in a place."""
    actor.require(VERB)
    seen(actor, species)
    with refusing():
        change = own_values.take_back_range(
            owner_uid=actor.organisation.uid, species=species, country_code=country_code, region=region
        )
    _status_changed(actor, species, country_code, region, change, "species.status_taken_back")
    return change


def _status_changed(
    actor: Actor, species: Species, country_code: str, region: str, change: list[str], verb: str
) -> None:
    remember(actor, species, verb, {" ".join(filter(None, (STATUS, country_code, region))): change})
    announce("status_changed", (actor.organisation, country_code))


def status_choices() -> list[tuple[str, Any]]:
    """What a species may be in a place."""
    return list(RangeStatus.Status.choices)


def seen(actor: Actor, species: Species) -> None:
    """Refuse a species of another organisation."""
    if species.owner_organisation_uid not in (None, actor.organisation.uid):
        raise Refusal(_("This species belongs to another organisation."), code="not_ours")


def remember(
    actor: Actor, species: Species, verb: str, change: Mapping[str, Any] | None = None, reason: str = ""
) -> None:
    """Write what was said of a species into the organisation's history."""
    subject = Remembered(actor.organisation, species)
    history.record(actor, verb, subject, change=dict(change or {}), reason=reason)


@contextmanager
def refusing() -> Iterator[None]:
    """Turn a refusal of the species rooms into one that a form can show."""
    try:
        yield
    except OwnValueRefused as refused:
        raise Refusal(refused.message, field=refused.field, code=refused.code) from refused
