"""The engine of the list: what its families say should stand there is made to stand there, and nothing else.

A family is a few kinds that are read from the records together; each app adds its own. Rows are derived:
dropped and made again at any time, with the same keys.
"""

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction

from projects import clocks
from projects.models import Organisation, Reminder, Site

NAMESPACE = UUID("6f0f6a3e-6c0a-5d0f-9a55-52b0a4a3f0c1")
WRITTEN = ("project_id", "due_on", "facts", "link", "rank")


@dataclass(frozen=True)
class ReminderRow:
    """One thing to decide: the facts its words are built from, and the page where it is decided."""

    kind: str
    subject_uid: UUID
    link: str
    due_on: date | None = None
    project_id: int | None = None
    rank: int = 50
    facts: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Days:
    """The day a list is made for: the organisation's, and a site's own where a fact belongs to the field."""

    today: date
    is_given: bool = False  # a day somebody asked for holds everywhere

    @classmethod
    def of(cls, organisation: Organisation, today: date | None = None) -> "Days":
        return cls(today or clocks.today_of(organisation), today is not None)

    def at(self, site: Site) -> date:
        """The day at a site, which planting and counting happen on."""
        return self.today if self.is_given else clocks.today_at(site)


Rows = Callable[[Organisation, Days], Iterable[ReminderRow]]


@dataclass(frozen=True)
class Family:
    """Kinds of reminders that are read together."""

    kinds: tuple[str, ...]
    rows: Rows


families: list[Family] = []


def register(kinds: Iterable[str], rows: Rows) -> None:
    """Add a family to the list; done twice, nothing more happens."""
    family = Family(tuple(kinds), rows)
    if family not in families:
        families.append(family)


def renew(organisation: Organisation, *, today: date | None = None) -> None:
    """Make every reminder of an organisation again, as of its day."""
    days = Days.of(organisation, today)
    standing = list(Reminder.objects.filter(organisation=organisation))
    for family in families:
        held = [row for row in standing if row.kind in family.kinds]
        renew_family(organisation, family, days, held=held)


def renew_family(
    organisation: Organisation, family: Family, days: Days, *, held: Sequence[Reminder] | None = None
) -> int:
    """Make the reminders of one family again; return how many rows were written or taken away.

    Where any were, the records are read once more: a service may have settled a fact between the first reading
    and the writing. The second time nothing but that is written, so that nobody's change is undone.
    """
    changed = _set(organisation, family.kinds, family.rows(organisation, days), held=held)
    if changed:
        _set(organisation, family.kinds, family.rows(organisation, days))
    return changed


def replace(
    organisation: Organisation,
    kinds: Iterable[str],
    rows: Iterable[ReminderRow],
    *,
    subjects: Iterable[UUID] | None = None,
) -> int:
    """Make the reminders of these kinds (of these subjects, where given) exactly `rows`; return how many."""
    kinds, rows = tuple(kinds), list(rows)
    _set(organisation, kinds, rows, None if subjects is None else list(subjects))
    return len({(row.kind, row.subject_uid) for row in rows if row.kind in kinds})


def _set(
    organisation: Organisation,
    kinds: Collection[str],
    rows: Iterable[ReminderRow],
    subjects: Collection[UUID] | None = None,
    held: Iterable[Reminder] | None = None,
) -> int:
    wanted = {(row.kind, row.subject_uid): row for row in rows if row.kind in kinds}
    if held is None:
        standing = Reminder.objects.filter(organisation=organisation, kind__in=kinds)
        held = standing if subjects is None else standing.filter(subject_uid__in=subjects)
    there = {(row.kind, row.subject_uid): row for row in held}
    gone = [row.pk for key, row in there.items() if key not in wanted]
    changed = [
        _stored(organisation, row)
        for key, row in sorted(wanted.items(), key=lambda pair: str(pair[0]))
        if key not in there or _differs(there[key], row)
    ]
    if gone or changed:
        _write(gone, changed)
    return len(gone) + len(changed)


@transaction.atomic
def _write(gone: Collection[int], changed: Collection[Reminder]) -> None:
    Reminder.objects.filter(pk__in=gone).delete()
    Reminder.objects.bulk_create(
        changed,
        update_conflicts=True,
        unique_fields=["organisation", "kind", "subject_uid"],
        update_fields=["project", "due_on", "facts", "link", "rank"],
    )


def _differs(held: Reminder, row: ReminderRow) -> bool:
    return any(getattr(held, name) != getattr(row, name) for name in WRITTEN)


def _stored(organisation: Organisation, row: ReminderRow) -> Reminder:
    return Reminder(
        uid=uuid5(NAMESPACE, f"{organisation.uid}:{row.kind}:{row.subject_uid}"),
        organisation=organisation,
        kind=row.kind,
        subject_uid=row.subject_uid,
        project_id=row.project_id,
        due_on=row.due_on,
        facts=row.facts,
        link=row.link,
        rank=row.rank,
    )
