"""What handlers of field work share: pictures named by a record, what was odd about it, refusals of a service."""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from projects import history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Paper, PaperKind
from projects.services.log import Fault, Rejected


def name_pictures(actor: Actor, digests: Iterable[str], **subject: Any) -> None:
    """Make the papers of a record's pictures; their bytes may arrive later."""
    for sha256 in digests:
        Paper.objects.create(organisation=actor.organisation, kind=PaperKind.PHOTO, sha256=sha256, **subject)


def remember_doubts(actor: Actor, noun: str, subject: Any, doubts: Sequence[str]) -> tuple[str, ...]:
    """Write in the history what was odd about a record that was kept all the same."""
    if doubts:
        history.record(actor, f"{noun}.doubted", subject, change={"doubts": [None, words_of(doubts)]})
    return tuple(doubts)


def words_of(doubts: Sequence[str]) -> str:
    return ", ".join(code.replace("_", " ") for code in doubts)


@contextmanager
def refusals_rejected(pointers: dict[str, str]) -> Iterator[None]:
    """Turn what a service refuses into a rejection whose bytes are kept, with the place in the record."""
    try:
        yield
    except Refusal as refusal:
        pointer = pointers.get(refusal.field or "", "")
        raise Rejected("not_accepted", [Fault(pointer, str(refusal.message))]) from refusal
