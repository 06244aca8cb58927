"""Field items on the wire: a batch in, what became of each item out.

A fault in one envelope is that item's outcome and never the batch's.
"""

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _

from api.errors import Problem, document
from projects.access import Actor
from projects.services import log
from projects.services.envelopes import append_entries, storable
from projects.services.log import Outcome

MOST_ITEMS = 50


def receive(actor: Actor, data: Any) -> list[dict[str, Any]]:
    """Store a batch and return one outcome for each item, in the order sent."""
    source = "phone" if actor.field_pass else "desk"
    return [told(outcome) for outcome in append_entries(actor, entries_of(data), source=source)]


def entries_of(data: Any) -> Sequence[Any]:
    """Return the items of a batch, or refuse the batch as a whole."""
    entries = data.get("items") if isinstance(data, dict) else None
    if not isinstance(entries, list):
        raise batch_problem(400, "items_missing", _('Send {"items": [...]}, a list of items.'))
    if len(entries) > MOST_ITEMS:
        raise batch_problem(
            413,
            "too_many_items",
            _("Send at most %(most)d items at once. Send the rest after it.") % {"most": MOST_ITEMS},
        )
    return entries


def batch_problem(status: int, code: str, detail: str) -> Problem:
    return Problem(status, code, detail, errors=[{"pointer": "/items", "detail": detail}])


def told(outcome: Outcome) -> dict[str, Any]:
    """Return an outcome as the phone reads it."""
    answer: dict[str, Any] = {"id": told_id(outcome.id), "outcome": outcome.outcome}
    if outcome.seq is not None:
        answer["seq"] = outcome.seq
    if outcome.flags:
        answer["flags"] = list(outcome.flags)
    if outcome.code:
        answer["problem"] = item_problem(outcome)
    if outcome.after_s is not None:
        answer["after_s"] = outcome.after_s
    return answer


def told_id(sent: Any) -> str | None:
    """Return an id as it was sent, or nothing where what was sent is no text."""
    if isinstance(sent, UUID):
        return str(sent)
    return storable(sent) if isinstance(sent, str) else None


def item_problem(outcome: Outcome) -> dict[str, Any]:
    """Return why an item was not taken; pointers lead into the item, or into its body."""
    status = 409 if outcome.outcome == log.REUSED else 422
    errors = [{"pointer": fault.pointer, "detail": str(fault.detail)} for fault in outcome.faults]
    detail = errors[0]["detail"] if errors else _("This item was not accepted.")
    return document(status, outcome.code, detail, errors)
