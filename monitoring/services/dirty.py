"""The work list: what is behind the log. A row is written with the change that made it, a hint follows.

The row is the truth. The hint (a message to a worker, or a nudge to this process's own thread) only makes
the work start sooner, so losing, doubling or reordering hints changes nothing.
"""

import secrets
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import NamedTuple

from django.db import connection, transaction
from django.db.models import QuerySet
from django.utils import timezone

from monitoring.models import DirtyKey, RoundBlock, SurveyRound
from monitoring.services import hints
from projects.models import Block, Organisation, Project

ROUND_BLOCK, ROUND, PROJECT = "round_block", "round", "project"
KINDS = (ROUND_BLOCK, ROUND, PROJECT)  # in the order in which they are worked


class Key(NamedTuple):
    """One thing to recompute: ``round_block`` “round:block”, ``round`` “round”, ``project`` “project” (row ids)."""

    kind: str
    key: str


def keys_of_counts(*, round_id: int, block_id: int, project_id: int) -> list[Key]:
    """List what a change of counts in one block of a round makes stale."""
    return [
        Key(ROUND_BLOCK, f"{round_id}:{block_id}"),
        Key(ROUND, str(round_id)),
        Key(PROJECT, str(project_id)),
    ]


def mark_counts(*, organisation_id: int, round_id: int, block_id: int, project_id: int) -> None:
    """Say that counts changed in a block of a round; call it in the transaction that changed them."""
    mark(organisation_id, keys_of_counts(round_id=round_id, block_id=block_id, project_id=project_id))


def mark_round(survey_round: SurveyRound) -> None:
    """Say that everything computed of a round is stale, and what other rounds say of the change since theirs."""
    own = keys_of_rounds(SurveyRound.objects.filter(pk=survey_round.pk))
    others = SurveyRound.objects.filter(project_id=survey_round.project_id).exclude(pk=survey_round.pk)
    pks = others.values_list("id", flat=True)
    mark(survey_round.organisation_id, [*own, *(Key(ROUND, str(pk)) for pk in pks)])


def keys_that_follow(round_id: int) -> list[Key]:
    """List what rests on the counts of a round beside its own figures.

    Rounds that open on the same day or later look back on it, and needs and curves of its project are of all rounds.
    """
    found = SurveyRound.objects.filter(pk=round_id).values_list("project_id", "opens_on").first()
    if found is None:
        return []
    later = SurveyRound.objects.filter(project_id=found[0], opens_on__gte=found[1]).exclude(pk=round_id)
    rounds = [Key(ROUND, str(pk)) for pk in later.values_list("id", flat=True)]
    return [*rounds, Key(PROJECT, str(found[0]))]


def mark_project(project: Project) -> None:
    """Say that everything computed of a project is stale: its ledger, ground, targets or windows changed."""
    rounds = SurveyRound.objects.filter(project=project)
    mark(project.organisation_id, [Key(PROJECT, str(project.pk)), *keys_of_rounds(rounds)])


def mark_block(block: Block) -> None:
    """Say that everything computed of a block is stale: its trees, its ground or its target changed."""
    rounds = SurveyRound.objects.filter(round_blocks__block=block)
    keys = [Key(PROJECT, str(block.project_id))]
    for round_id, project_id in rounds.values_list("id", "project_id"):
        keys += keys_of_counts(round_id=round_id, block_id=block.pk, project_id=project_id)
    mark(block.organisation_id, keys)


def keys_of_rounds(rounds: QuerySet[SurveyRound]) -> list[Key]:
    """List every key of some rounds."""
    pairs = RoundBlock.objects.filter(round__in=rounds).values_list("round_id", "block_id")
    ids = list(rounds.values_list("id", "project_id"))
    return [
        *(Key(ROUND_BLOCK, f"{round_id}:{block_id}") for round_id, block_id in pairs),
        *(Key(ROUND, str(round_id)) for round_id, _project in ids),
        *(Key(PROJECT, str(project_id)) for _round, project_id in ids),
    ]


def mark(organisation: Organisation | int, keys: Iterable[Key]) -> None:
    """Put keys on the work list inside the caller's transaction and send a hint once it has committed.

    A key already there gets a new version, so work that began before this change does not clear it; its
    failed attempts are forgotten, since the new counts may be readable where the old were not.
    """
    owner = organisation if isinstance(organisation, int) else organisation.pk
    wanted = set(keys)
    collected = gathered.get()
    if collected is not None:
        collected.setdefault(owner, set()).update(wanted)
    elif wanted:
        put(owner, wanted)


gathered: ContextVar[dict[int, set[Key]] | None] = ContextVar("gathered", default=None)


@contextmanager
def gathering() -> Iterator[None]:
    """Collect what is marked inside, and put it on the list at the end, inside the caller's transaction.

    A batch of counts would otherwise take the rows of one block after those of another's project, and wait
    crosswise for a worker that takes them in order.
    """
    if gathered.get() is not None:
        yield
        return
    collected: dict[int, set[Key]] = {}
    token = gathered.set(collected)
    try:
        yield
    finally:
        gathered.reset(token)
    for owner in sorted(collected):
        put(owner, collected[owner])


def put(owner: int, keys: Iterable[Key]) -> None:
    """Write keys in the one order in which everybody takes them, and hint after the commit."""
    wanted = sorted(keys, key=lambda key: (KINDS.index(key.kind), key.key))
    with transaction.atomic():
        for key in wanted:
            upsert(owner, key)
        hints.after_commit(owner, wanted)


def upsert(organisation_id: int, key: Key) -> None:
    """Insert a dirty row, or raise its version; the same statement on both databases.

    A new row starts at a random version: one deleted and made again is never taken for the first.
    """
    now = connection.ops.adapt_datetimefield_value(timezone.now())
    with connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO {DirtyKey._meta.db_table} "  # noqa: S608  (our own table name)
            "(organisation_id, kind, key, version, since, attempts, error) VALUES (%s, %s, %s, %s, %s, 0, '') "
            "ON CONFLICT (organisation_id, kind, key) DO UPDATE SET "
            f"version = {DirtyKey._meta.db_table}.version + 1, attempts = 0, error = ''",
            [organisation_id, key.kind, key.key, secrets.randbits(62), now],
        )
