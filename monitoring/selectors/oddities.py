"""Rows that contradict the log or themselves: what `manage.py verify` looks for beside the hash chain."""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass

from django.db.models import Exists, F, OuterRef, Q

from monitoring.models import DirtyKey, Estimate, Visit
from projects.models import LotCheck, Organisation, RefusedItem, Submission, Walk


@dataclass(frozen=True)
class Oddity:
    """A row that cannot be as it is."""

    table: str
    row: str
    problem: str


def oddities(organisation: Organisation) -> Iterator[Oddity]:
    """Yield every one of them."""
    yield from edited_refusals(organisation)
    yield from unprojected(organisation)
    yield from unfounded(organisation)
    yield from broken_figures(organisation)
    yield from parked(organisation)


def edited_refusals(organisation: Organisation) -> Iterator[Oddity]:
    """Refused bytes that no longer have the digest they were kept under."""
    rows = RefusedItem.objects.filter(organisation=organisation).order_by("id")
    for row in rows.only("id", "client_id", "body", "body_sha256").iterator(500):
        if hashlib.sha256(row.body.encode()).hexdigest() != row.body_sha256:
            yield Oddity("projects_refuseditem", row.client_id, "its body was edited")


def unprojected(organisation: Organisation) -> Iterator[Oddity]:
    """Stored records from which no row was written. What a task was told may not stand, so care is not asked for."""
    visit = Visit.objects.filter(organisation=organisation, uid=OuterRef("client_id"))
    rows = Submission.objects.filter(~Exists(visit), organisation=organisation, kind="visit").order_by("seq")
    for seq in rows.values_list("seq", flat=True):
        yield Oddity("projects_submission", f"number {seq}", "it stands in the log but not among the visits")
    for kind, model in (("handover", LotCheck), ("walk", Walk)):
        made = model._default_manager.filter(organisation=organisation, submission=OuterRef("pk"))
        lost = Submission.objects.filter(~Exists(made), organisation=organisation, kind=kind).order_by("seq")
        for seq in lost.values_list("seq", flat=True):
            yield Oddity("projects_submission", f"number {seq}", f"no row was made from this {kind}")


def unfounded(organisation: Organisation) -> Iterator[Oddity]:
    """Visits that no record of the log speaks of."""
    source = Submission.objects.filter(
        organisation=organisation, client_id=OuterRef("uid"), seq=OuterRef("submission_seq")
    )
    for uid in Visit.objects.filter(~Exists(source), organisation=organisation).values_list("uid", flat=True):
        yield Oddity("monitoring_visit", str(uid), "no record of the log speaks of it")


def broken_figures(organisation: Organisation) -> Iterator[Oddity]:
    """Points without their interval, and intervals that do not hold their point."""
    rows = Estimate.objects.filter(organisation=organisation)
    lacking = Q(value__isnull=False) & (Q(lower__isnull=True) | Q(upper__isnull=True))
    outside = Q(lower__gt=F("value")) | Q(upper__lt=F("value"))
    for uid in rows.filter(lacking | outside).order_by("uid").values_list("uid", flat=True):
        yield Oddity("monitoring_estimate", str(uid), "its interval does not hold its value")


def parked(organisation: Organisation) -> Iterator[Oddity]:
    """Keys of the work list that failed too often."""
    from monitoring.services.recompute import MOST_ATTEMPTS

    rows = DirtyKey.objects.filter(organisation=organisation, attempts__gte=MOST_ATTEMPTS).order_by("id")
    for kind, key, error in rows.values_list("kind", "key", "error"):
        lines = error.strip().splitlines()
        yield Oddity(
            "monitoring_dirtykey", f"{kind} {key}", f"cannot be computed: {lines[-1] if lines else '?'}"
        )
