"""Append to the log. Bytes are kept as they came; each item has its own savepoint and outcome.

What an item means is known higher up: `monitoring` registers a handler for each kind.
"""

import logging
import re
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field
from typing import Any, Protocol
from uuid import UUID

from django.db import DatabaseError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from projects.access import Actor
from projects.models import ChainHead, Decision, RefusedItem, Submission, SubmissionPersonal
from projects.services import chain

logger = logging.getLogger(__name__)

UNSTORABLE = re.compile("[\x00\ud800-\udfff]")

STORED, FLAGGED, ALREADY = "stored", "stored_flagged", "already"
REUSED, REJECTED, RETRY = "id_reused", "rejected", "retry"


@dataclass(frozen=True)
class Item:
    """One record as it travels."""

    id: UUID
    kind: str
    schema: str
    sha256: str
    body: str
    personal: str = ""


@dataclass(frozen=True)
class Fault:
    """One thing wrong with an item: where (a JSON pointer) and what to do."""

    pointer: str
    detail: str


@dataclass(frozen=True)
class Outcome:
    """What became of one item."""

    id: UUID
    outcome: str
    seq: int | None = None
    flags: tuple[str, ...] = ()
    code: str = ""
    faults: tuple[Fault, ...] = ()
    after_s: int | None = None


class Rejected(Exception):
    """The item cannot be attributed or read; its bytes are kept with the reasons."""

    def __init__(self, code: str, faults: Sequence[Fault]) -> None:
        super().__init__(code)
        self.code, self.faults = code, tuple(faults)


class Handler(Protocol):
    """What a kind of submission means to the app that registered it."""

    def screen(self, actor: Actor, item: Item) -> Any:
        """Return the parsed body, or raise `Rejected`."""

    def project(self, submission: Submission, parsed: Any) -> Sequence[str]:
        """Write the derived rows of a stored submission and return its flags."""


@dataclass
class Kinds:
    """The handlers registered by higher apps, and what they wrap around a whole batch."""

    submissions: dict[str, Handler] = field(default_factory=dict)
    decisions: dict[str, Any] = field(default_factory=dict)
    around_batch: Callable[[], AbstractContextManager[None]] = nullcontext


kinds = Kinds()


@dataclass
class Batch:
    """Who sends, the locked head of the chain, and what of the batch is stored already: id -> (sha256, seq)."""

    actor: Actor
    head: ChainHead
    source: str
    stored: dict[UUID, tuple[str, int]]


def append_items(actor: Actor, items: Sequence[Item], *, source: str = "phone") -> list[Outcome]:
    """Store items one by one under the organisation's lock; the order of arrival never matters."""
    with transaction.atomic(), kinds.around_batch():
        head = chain.locked_head(actor.organisation)
        batch = Batch(actor, head, source, stored_before(actor, [item.id for item in items]))
        seq = head.seq
        outcomes = [append_one(batch, item) for item in items]
        if head.seq != seq:
            head.save(update_fields=["seq", "hash"])
        return outcomes


def stored_before(actor: Actor, ids: Sequence[UUID]) -> dict[UUID, tuple[str, int]]:
    """Return the digest and number of each id that is in the log."""
    rows = Submission.objects.filter(organisation=actor.organisation, client_id__in=ids)
    return {id_: (sha256, seq) for id_, sha256, seq in rows.values_list("client_id", "body_sha256", "seq")}


def append_one(batch: Batch, item: Item) -> Outcome:
    """Store one item inside its own savepoint."""
    if not storable(item):
        fault = Fault(
            "/body", _("The record holds characters that cannot be stored. Save it again on the phone.")
        )
        return refused(batch, item, Rejected("body_unreadable", [fault]))
    if item.id in batch.stored:
        return told_again(item, *batch.stored[item.id])
    head = batch.head
    before = (head.seq, head.hash)
    try:
        with transaction.atomic():
            outcome = store(batch, item)
    except Rejected as rejected:
        head.seq, head.hash = before
        return refused(batch, item, rejected)
    except Exception as error:  # also a mistake of ours: one item must never hold up the others
        head.seq, head.hash = before
        logger.exception("item %s could not be stored now", item.id)
        return Outcome(item.id, RETRY, after_s=30 if isinstance(error, DatabaseError) else 600)
    batch.stored[item.id] = (chain.sha256_text(item.body), head.seq)
    return outcome


def told_again(item: Item, sha256: str, seq: int) -> Outcome:
    """Answer `already` for the same bytes, `id_reused` for others; the first stays."""
    if sha256 == chain.sha256_text(item.body):
        return Outcome(item.id, ALREADY, seq=seq)
    fault = Fault("/id", _("This id was used before for other content. The first content stays."))
    return Outcome(item.id, REUSED, seq=seq, code="id_reused", faults=(fault,))


def store(batch: Batch, item: Item) -> Outcome:
    """Check, chain and project one item."""
    handler = kinds.submissions.get(item.kind)
    if handler is None:
        raise Rejected("kind_unknown", [Fault("/kind", _("This kind of record is not known here."))])
    if chain.sha256_text(item.body) != item.sha256.lower():
        raise Rejected(
            "digest_differs", [Fault("/sha256", _("The record was damaged on its way. Send it again."))]
        )
    parsed = handler.screen(batch.actor, item)
    submission = chained(batch, item)
    flags = tuple(handler.project(submission, parsed))
    return Outcome(item.id, FLAGGED if flags else STORED, seq=submission.seq, flags=flags)


def chained(batch: Batch, item: Item) -> Submission:
    """Insert the submission as the next link of the chain, its personal part beside it."""
    actor, source = batch.actor, batch.source
    now, salt = timezone.now(), chain.new_salt()
    personal_hash = chain.personal_commitment(salt, item.personal)
    digest = chain.sha256_text(item.body)
    link = chain.next_link(
        batch.head, client_id=item.id, kind=f"{item.kind}|{item.schema}|{source}", received_at=now,
        leaves=chain.leaves(digest, personal_hash, actor.person),
    )  # fmt: skip
    submission = Submission.objects.create(
        organisation=actor.organisation, seq=link.seq, client_id=item.id, kind=item.kind, schema=item.schema,
        body=item.body, body_sha256=digest, source=source, field_pass=actor.field_pass,
        submitted_by=actor.person, received_at=now, personal_hash=personal_hash,
        prev_hash=link.prev_hash, hash=link.hash,
    )  # fmt: skip
    if item.personal:
        SubmissionPersonal.objects.create(
            submission=submission, organisation=actor.organisation, personal=item.personal, personal_salt=salt
        )
    return submission


def storable(item: Item) -> bool:
    """Say whether both databases can hold an item's texts: no NUL, no half characters."""
    texts = (item.kind, item.schema, item.sha256, item.body, item.personal)
    return not any(UNSTORABLE.search(text) for text in texts)


def refused(batch: Batch, item: Item, rejected: Rejected) -> Outcome:
    """Keep a refused item with its reasons and say so."""
    keep_refused(batch.actor, item, rejected, batch.source)
    return Outcome(item.id, REJECTED, code=rejected.code, faults=rejected.faults)


def keep_refused(actor: Actor, item: Item, rejected: Rejected, source: str) -> None:
    """Keep the bytes of a refused item with the reasons; the same bytes again are kept once."""
    body = UNSTORABLE.sub("\ufffd", item.body)
    RefusedItem.objects.get_or_create(
        organisation=actor.organisation,
        client_id=str(item.id),
        body_sha256=chain.sha256_text(body),
        defaults={
            "kind": UNSTORABLE.sub("", item.kind)[:30],
            "schema": UNSTORABLE.sub("", item.schema)[:40],
            "body": body,
            "problem": {
                "code": rejected.code,
                "errors": [{"pointer": f.pointer, "detail": str(f.detail)} for f in rejected.faults],
            },
            "source": source,
            "field_pass": actor.field_pass,
        },
    )


@transaction.atomic
def decide(actor: Actor, *, client_id: UUID, kind: str, subject_uid: UUID, body: str) -> Decision:
    """Append a lead's decision to the same chain and let its handler act on it."""
    head = chain.locked_head(actor.organisation)
    known = Decision.objects.filter(organisation=actor.organisation, client_id=client_id).first()
    if known is not None:
        return known
    now, digest = timezone.now(), chain.sha256_text(body)
    link = chain.next_link(
        head,
        client_id=client_id,
        kind=f"{kind}|{subject_uid}",
        received_at=now,
        leaves=chain.leaves(digest, by=actor.person),
    )
    decision = Decision.objects.create(
        organisation=actor.organisation, seq=link.seq, client_id=client_id, kind=kind, subject_uid=subject_uid,
        body=body, body_sha256=digest, decided_by=actor.person, received_at=now,
        prev_hash=link.prev_hash, hash=link.hash,
    )  # fmt: skip
    head.save(update_fields=["seq", "hash"])
    kinds.decisions[kind](decision)
    return decision
