"""The hash chain over submissions and decisions: what is hashed, the next link, and the checking walk."""

import hashlib
import secrets
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from projects.models import ChainHead, Decision, Organisation, Person, Submission

START = "0" * 64
LOGGED = (Submission, Decision)


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


def breaks(organisation: Organisation) -> Iterator[Break]:
    """Walk the chain of one organisation and yield every row that was edited, removed or added.

    Counts may arrive meanwhile: the walk ends where the head stood when it began. What no chain can see from
    inside is its own end cut off: the last rows deleted and the head set back to the row before them. For that,
    compare the number and hash of the head with a copy kept elsewhere.
    """
    head = ChainHead.objects.filter(organisation=organisation).first()
    last = head.seq if head else 0
    prev, expected = START, 1
    for row in rows_in_order(organisation, last):
        table = row._meta.db_table
        if row.seq != expected:
            yield Break(expected, table, None, gap(expected, row.seq))
        yield from row_breaks(organisation, row, prev, table)
        prev, expected = row.hash, row.seq + 1
    if (last, head.hash if head else START) != (expected - 1, prev):
        yield Break(last, "projects_chainhead", None, "the head does not point at the last row")
    yield from beyond_the_head(organisation)


def gap(expected: int, found: int) -> str:
    """Say which numbers are not there."""
    if found < expected:
        return f"number {found} is given twice"
    return f"numbers {expected} to {found - 1} are missing"


def beyond_the_head(organisation: Organisation) -> Iterator[Break]:
    """Yield rows with a greater number than any that was given; the rows are read first, as more may arrive."""
    last_rows = [model.objects.filter(organisation=organisation).order_by("seq").last() for model in LOGGED]
    given = revision_of(organisation)
    for row in last_rows:
        if row is not None and row.seq > given:
            yield Break(row.seq, row._meta.db_table, row.pk, "it stands beyond the head")


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
    if isinstance(row, Submission):
        problem = personal_problem(row)
        if problem:
            yield Break(row.seq, table, row.pk, problem)


def personal_problem(row: Submission) -> str:
    """Say what is wrong with the personal part of a record; erased parts are whole when nothing is left."""
    part = getattr(row, "personal_part", None)
    if part is None:
        return "its personal part was removed, not erased" if row.personal_hash else ""
    if part.erased_at is not None:
        return "its personal part was to be erased and is still there" if part.personal else ""
    if personal_commitment(part.personal_salt, part.personal) != row.personal_hash:
        return "its personal part was edited"
    return ""


def full_kind(row: Any) -> str:
    """Return kind and schema as hashed."""
    if isinstance(row, Submission):
        return f"{row.kind}|{row.schema}|{row.source}"
    return f"{row.kind}|{row.subject_uid}"


def leaves(body_sha256: str, personal_hash: str = "", by: Person | None = None) -> str:
    """Return what a row carries as hashed: its body, its personal part, and who sent it, by reference."""
    return f"{body_sha256}|{personal_hash}|{by.uid if by else ''}"


def leaves_of(row: Submission | Decision) -> str:
    """Return the leaves of a stored row."""
    if isinstance(row, Submission):
        return leaves(row.body_sha256, row.personal_hash, row.submitted_by)
    return leaves(row.body_sha256, by=row.decided_by)


def rows_in_order(organisation: Organisation, last: int, size: int = 2000) -> Iterator[Any]:
    """Yield submissions and decisions up to a number, a slice of each at a time."""
    for start in range(0, last, size):
        window = {
            "organisation": organisation,
            "seq__gt": start if start else -(2**62),
            "seq__lte": min(start + size, last),
        }
        rows: list[Submission | Decision] = [
            *Submission.objects.filter(**window).select_related("personal_part", "submitted_by"),
            *Decision.objects.filter(**window).select_related("decided_by"),
        ]
        yield from sorted(rows, key=lambda row: row.seq)
