"""Which revision of a visit stands, and which visit counts for a plot: the same for any order of arrival."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from uuid import UUID


@dataclass(frozen=True)
class Revision:
    """One revision of a visit: its id, its visit, and the revisions its author was looking at."""

    id: UUID
    root: UUID
    parents: tuple[UUID, ...]
    observed_on: date
    is_missing: bool = False


@dataclass(frozen=True)
class Standing:
    """How the revisions of one plot and round stand.

    Attributes
    ----------
    depth : depth of each revision, 0 for a root.
    heads : the revision that stands for each visit (root -> id): the leaf with the greatest (depth, id).
    forked : visits with more than one leaf.
    orphans : revisions with a parent that has not arrived.
    counting : the head that counts, or None.
    rivals : roots that claim the same plot and round, when more than one does.
    """

    depth: dict[UUID, int] = field(default_factory=dict)
    heads: dict[UUID, UUID] = field(default_factory=dict)
    forked: frozenset[UUID] = frozenset()
    orphans: frozenset[UUID] = frozenset()
    counting: UUID | None = None
    rivals: tuple[UUID, ...] = ()


def standing(
    revisions: Sequence[Revision], *, chosen_root: UUID | None = None, discarded: Iterable[UUID] = ()
) -> Standing:
    """Work out how revisions of one plot and round stand.

    Until a lead chooses, the visit whose head has the smaller (observed_on, id) counts. A visit that only
    says “could not be reached” gives way to one that counted; `discarded` roots never count.

    Examples
    --------
    >>> a, b = UUID(int=1), UUID(int=2)
    >>> first = Revision(a, a, (), date(2025, 9, 1))
    >>> second = Revision(b, a, (a,), date(2025, 9, 1))
    >>> standing([second, first]).counting == b
    True
    """
    known = {revision.id: revision for revision in revisions}
    depth = depths(known)
    leaves = leaves_by_root(known)
    heads = {root: max(ids, key=lambda id_: (depth[id_], id_)) for root, ids in leaves.items()}
    barred = set(discarded)
    rivals = contenders([known[id_] for root, id_ in heads.items() if root not in barred])
    winner = next((r for r in rivals if r.root == chosen_root), rivals[0] if rivals else None)
    return Standing(
        depth=depth,
        heads=heads,
        forked=frozenset(root for root, ids in leaves.items() if len(ids) > 1),
        orphans=frozenset(r.id for r in known.values() if any(p not in known for p in r.parents)),
        counting=winner.id if winner else None,
        rivals=tuple(r.root for r in rivals) if len(rivals) > 1 else (),
    )


def depths(known: dict[UUID, Revision]) -> dict[UUID, int]:
    """Return the length of the longest chain of parents above each revision; a loop adds nothing."""
    found: dict[UUID, int] = {}
    for start in sorted(known):
        stack = [start]
        while stack:
            here = stack[-1]
            waiting = [p for p in known[here].parents if p in known and p not in found and p not in stack]
            if waiting:
                stack.append(waiting[0])
                continue
            parents = known[here].parents
            found[here] = max((found.get(p, -1) + 1 if p in known else 1 for p in parents), default=0)
            stack.pop()
    return found


def leaves_by_root(known: dict[UUID, Revision]) -> dict[UUID, list[UUID]]:
    """Return for each visit the revisions that nobody corrected; in a loop, all of them."""
    parents = {parent for revision in known.values() for parent in revision.parents}
    leaves: dict[UUID, list[UUID]] = {}
    for revision in sorted(known.values(), key=lambda r: r.id):
        if revision.id not in parents:
            leaves.setdefault(revision.root, []).append(revision.id)
    for revision in sorted(known.values(), key=lambda r: r.id):
        if revision.root not in leaves:
            leaves[revision.root] = [r.id for r in known.values() if r.root == revision.root]
    return leaves


def contenders(heads: list[Revision]) -> list[Revision]:
    """Return the heads that may count, the one that does first."""
    counted = [head for head in heads if not head.is_missing]
    return sorted(counted or heads[:], key=lambda r: (r.observed_on, r.id))[: None if counted else 1]
