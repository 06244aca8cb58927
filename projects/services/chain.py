"""The hash chain over submissions and decisions: what is hashed, the next link, and the checking walk."""

import hashlib
import secrets
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.db import transaction

from projects.models import ChainHead, Decision, Organisation, Submission

START = "0" * 64


def sha256_text(text: str) -> str:
    """Return the SHA-256 of a text's UTF-8 bytes, in hex."""
    return hashlib.sha256(text.encode()).hexdigest()


def new_salt() -> str:
    return secrets.token_hex(32)


def personal_commitment(salt: str, personal: str) -> str:
    """Hash the personal part with its own salt: erasing both leaves the chain whole and tells nothing."""
    return sha256_text(salt + personal) if personal else ""


@dataclass(frozen=True)
class Link:
    """The place of a new row in the chain."""

    seq: int
    prev_hash: str
    hash: str


def link_hash(
    *,
    prev: str,
    organisation: Organisation,
    seq: int,
    client_id: Any,
    kind: str,
    received_at: datetime,
    leaves: str,
) -> str:
    """Return the hash of one row: previous hash, fixed-form facts, then the leaves (body and personal hashes)."""
    moment = received_at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    return sha256_text(f"{prev}\n{organisation.uid}|{seq}|{client_id}|{kind}|{moment}\n{leaves}")


def locked_head(organisation: Organisation) -> ChainHead:
    """Lock and return the head; inside a transaction, so number order is commit order."""
    rows = ChainHead.objects.select_for_update().filter(organisation=organisation)
    head = rows.first()
    if head is None:
        ChainHead.objects.get_or_create(organisation=organisation)
        head = rows.get()
    head.organisation = organisation
    return head


def next_link(head: ChainHead, *, client_id: Any, kind: str, received_at: datetime, leaves: str) -> Link:
    """Return the next link and move the head on to it; whoever holds the lock saves the head."""
    seq = head.seq + 1
    digest = link_hash(
        prev=head.hash, organisation=head.organisation, seq=seq, client_id=client_id,
        kind=kind, received_at=received_at, leaves=leaves,
    )  # fmt: skip
    link = Link(seq=seq, prev_hash=head.hash, hash=digest)
    head.seq, head.hash = seq, digest
    return link


def revision_of(organisation: Organisation) -> int:
    """Return the number of the last log row: “revision n” on any figure."""
    head = ChainHead.objects.filter(organisation=organisation).first()
    return head.seq if head else 0


@dataclass(frozen=True)
class Break:
    """A row of the log that does not fit."""

    seq: int
    table: str
    row_id: int | None
    problem: str


@transaction.atomic
def breaks(organisation: Organisation) -> Iterator[Break]:
    """Walk the whole chain of one organisation and yield every row that was edited, removed or added."""
    prev, expected = START, 1
    for row in rows_in_order(organisation):
        table = row._meta.db_table
        if row.seq != expected:
            yield Break(expected, table, None, f"numbers {expected} to {row.seq - 1} are missing")
        yield from row_breaks(organisation, row, prev, table)
        prev, expected = row.hash, row.seq + 1
    head = ChainHead.objects.filter(organisation=organisation).first()
    if head is not None and (head.seq, head.hash) != (expected - 1, prev):
        yield Break(head.seq, "projects_chainhead", None, "the head does not point at the last row")


def row_breaks(organisation: Organisation, row: Any, prev: str, table: str) -> Iterator[Break]:
    """Check one row against its own bytes and the row before it."""
    if row.prev_hash != prev:
        yield Break(row.seq, table, row.pk, "it does not follow the row before it")
    if sha256_text(row.body) != row.body_sha256:
        yield Break(row.seq, table, row.pk, "its body was edited")
    again = link_hash(
        prev=row.prev_hash, organisation=organisation, seq=row.seq, client_id=row.client_id,
        kind=full_kind(row), received_at=row.received_at, leaves=leaves_of(row),
    )  # fmt: skip
    if again != row.hash:
        yield Break(row.seq, table, row.pk, "its hash does not match what it holds")
    part = getattr(row, "personal_part", None)
    kept = part is not None and part.erased_at is None
    if kept and personal_commitment(part.personal_salt, part.personal) != row.personal_hash:
        yield Break(row.seq, table, row.pk, "its personal part was edited")


def full_kind(row: Any) -> str:
    """Return kind and schema as hashed."""
    if isinstance(row, Submission):
        return f"{row.kind}|{row.schema}|{row.source}"
    return f"{row.kind}|{row.subject_uid}"


def leaves_of(row: Any) -> str:
    """Return the hashes of what a row carries."""
    return f"{row.body_sha256}|{getattr(row, 'personal_hash', '')}"


def rows_in_order(organisation: Organisation, size: int = 2000) -> Iterator[Any]:
    """Yield submissions and decisions by number, a slice of each at a time."""
    start = 0
    while True:
        window = {"organisation": organisation, "seq__gt": start, "seq__lte": start + size}
        rows: list[Submission | Decision] = [
            *Submission.objects.filter(**window).select_related("personal_part"),
            *Decision.objects.filter(**window),
        ]
        yield from sorted(rows, key=lambda row: row.seq)
        start += size
        if not rows and not more_after(organisation, start):
            return


def more_after(organisation: Organisation, seq: int) -> bool:
    """Say whether any row has a greater number."""
    later = {"organisation": organisation, "seq__gt": seq}
    return Submission.objects.filter(**later).exists() or Decision.objects.filter(**later).exists()
