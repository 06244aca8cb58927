"""Which revision of a visit stands, and which visit counts for a plot: the same for any order of arrival."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

Parents = Mapping[UUID, tuple[UUID, ...]]


@dataclass(frozen=True)
class Revision:
    """One revision of a visit: its id, its visit, and the revisions its author was looking at."""

    id: UUID
    root: UUID
    parents: tuple[UUID, ...]
    observed_on: date
    is_missing: bool = False


@dataclass(frozen=True)
class Forest:
    """How the revisions of some visits stand, wherever each revision places its visit.

    Attributes
    ----------
    depth : depth of each revision, 0 for a root.
    heads : the revision that stands for each visit (root -> id): the leaf with the greatest (depth, id).
    forked : visits with more than one leaf.
    orphans : revisions with a parent that has not arrived.
    """

    depth: Mapping[UUID, int]
    heads: Mapping[UUID, UUID]
    forked: frozenset[UUID]
    orphans: frozenset[UUID]


@dataclass(frozen=True)
class Contest:
    """Which head counts for one plot and round (or None), and the visits that claim it if several do."""

    counting: UUID | None = None
    rivals: tuple[UUID, ...] = ()


def forest(revisions: Iterable[Revision]) -> Forest:
    """Work out depths and heads of whole visits.

    Examples
    --------
    >>> a, b = UUID(int=1), UUID(int=2)
    >>> first = Revision(a, a, (), date(2025, 9, 1))
    >>> second = Revision(b, a, (a,), date(2025, 9, 1))
    >>> forest([second, first]).heads[a] == b
    True
    """
    known = {revision.id: revision for revision in revisions}
    named = {id_: named_parents(revision) for id_, revision in known.items()}
    parents = {id_: within_visit(known[id_], above, known) for id_, above in named.items()}
    orphans = frozenset(id_ for id_ in known if len(parents[id_]) < len(named[id_]))
    depth, leaves = depths(parents, orphans), leaves_by_root(known, parents)
    return Forest(
        depth=depth,
        heads={root: max(ids, key=lambda id_: (depth[id_], id_)) for root, ids in leaves.items()},
        forked=frozenset(root for root, ids in leaves.items() if len(ids) > 1),
        orphans=orphans,
    )


def named_parents(revision: Revision) -> tuple[UUID, ...]:
    """Return what a revision corrects: the first record of a visit nothing, one that names nothing the first."""
    if revision.id == revision.root:
        return ()
    return tuple(p for p in revision.parents if p != revision.id) or (revision.root,)


def within_visit(
    revision: Revision, named: Iterable[UUID], known: Mapping[UUID, Revision]
) -> tuple[UUID, ...]:
    """Return the parents that have arrived; a record of another visit is none of this one's."""
    return tuple(p for p in named if p in known and known[p].root == revision.root)


def depths(parents: Parents, orphans: Collection[UUID]) -> dict[UUID, int]:
    """Return the length of the longest chain of parents above each revision; a loop adds nothing."""
    found: dict[UUID, int] = {}
    for start in sorted(parents):
        path: dict[UUID, None] = {start: None}  # in order, and quick to look in
        while path:
            here = next(reversed(path))
            above = next((p for p in parents[here] if p not in found and p not in path), None)
            if above is not None:
                path[above] = None
                continue
            least = 1 if here in orphans else 0
            found[here] = max([least, *(found.get(p, -1) + 1 for p in parents[here])])
            del path[here]
    return found


def leaves_by_root(known: Mapping[UUID, Revision], parents: Parents) -> dict[UUID, list[UUID]]:
    """Return for each visit the revisions that nobody corrected; in a loop, all of them."""
    corrected = {parent for above in parents.values() for parent in above}
    members: dict[UUID, list[UUID]] = {}
    for id_ in sorted(known):
        members.setdefault(known[id_].root, []).append(id_)
    return {root: [id_ for id_ in ids if id_ not in corrected] or ids for root, ids in members.items()}


def leaves_of(root: UUID, revisions: Iterable[Revision]) -> list[UUID]:
    """Return the revisions of one visit that nobody corrected yet."""
    known = {revision.id: revision for revision in revisions if revision.root == root}
    parents = {id_: within_visit(r, named_parents(r), known) for id_, r in known.items()}
    return leaves_by_root(known, parents).get(root, [])


def contest(
    heads: Sequence[Revision], *, chosen_root: UUID | None = None, discarded: Collection[UUID] = ()
) -> Contest:
    """Say which of the heads of one plot and round counts.

    Until a lead chooses, the visit with the smaller (observed_on, root) counts. A visit that only says
    “could not be reached” gives way to one that counted; `discarded` roots never count.

    Examples
    --------
    >>> a, b = UUID(int=1), UUID(int=2)
    >>> early, late = Revision(b, b, (), date(2025, 9, 1)), Revision(a, a, (), date(2025, 9, 2))
    >>> contest([late, early]).counting == b
    True
    """
    rivals = contenders([head for head in heads if head.root not in discarded])
    winner = next((r for r in rivals if r.root == chosen_root), rivals[0] if rivals else None)
    return Contest(
        counting=winner.id if winner else None,
        rivals=tuple(r.root for r in rivals) if len(rivals) > 1 else (),
    )


def contenders(heads: Sequence[Revision]) -> list[Revision]:
    """Return the heads that may count, the one that does first."""
    counted = [head for head in heads if not head.is_missing]
    return sorted(counted or heads, key=lambda r: (r.observed_on, r.root))[: None if counted else 1]
