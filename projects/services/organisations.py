"""The organisation's own settings."""

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import clocks
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Organisation
from projects.services import editing

FIELDS = ("name", "time_zone", "currency", "language", "units", "emergency_contact")


@transaction.atomic
def edit_organisation(*, actor: Actor, version: str = "", **values: Any) -> Organisation:
    """Change name, clock, currency, language, units or the emergency number."""
    actor.require("organisation.edit")
    values = {name: value for name, value in values.items() if name in FIELDS}
    known_zone(values.get("time_zone"))
    known_currency(values.get("currency"))
    organisation = actor.organisation
    return editing.change(actor, organisation, values, "organisation.edited", version=version)


def known_zone(name: str | None, field: str = "time_zone") -> None:
    """Refuse a time zone that is not in the IANA list."""
    if name is not None and name not in clocks.zone_names():
        raise Refusal(
            _("“%(name)s” is not a time zone; choose one such as Europe/Lisbon.") % {"name": name},
            field=field,
        )


def known_currency(code: str | None, field: str = "currency") -> None:
    """Refuse what cannot be an ISO 4217 code."""
    if code is not None and not (len(code) == 3 and code.isascii() and code.isalpha() and code.isupper()):
        raise Refusal(_("A currency is three capital letters, such as EUR or KES."), field=field)
