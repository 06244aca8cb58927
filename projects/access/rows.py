"""One row of what may be seen: 404 for what the actor may not see, 403 for what they may see but not do."""

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import Http404
from django.utils.translation import gettext as _

from projects.access.actors import Actor


def get_or_404(rows: QuerySet, **lookup: Any) -> Any:
    """Return one row of a queryset that was already limited to what may be seen, else 404."""
    try:
        if any(isinstance(value, str) and "\x00" in value for value in lookup.values()):
            raise ValueError("no row holds a NUL, and PostgreSQL will not look for one")
        return rows.get(**lookup)
    except (rows.model.DoesNotExist, ValueError) as missing:
        raise Http404(_("There is nothing at this address.")) from missing


def one(actor: Actor, verb: str, rows: QuerySet, uid: UUID) -> Any:
    row = get_or_404(rows, uid=uid)
    actor.require(verb)
    return row
