"""Aftercare as its pages list it: of a block, of everything the actor sees, and what it cost."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.db.models import F, Q, QuerySet, Sum
from django.utils.translation import gettext_lazy as _

from projects import access
from projects.access import Actor
from projects.models import (
    Block,
    BudgetLine,
    CareKind,
    CareTask,
    CostKind,
    Membership,
    Person,
    Project,
    Role,
    SubmissionPersonal,
)
from projects.services.field_kinds.personal import notes_of

MOST_DONE = 20
MOST_LISTED = 300
LATELY = timedelta(days=14)  # so long a task that was done can be opened again from one's own list

WHICH = {
    "open": _("open"),
    "mine": _("mine"),
    "late": _("date passed"),
    "done": _("done"),
    "dropped": _("not needed"),
}


@dataclass(frozen=True)
class CareRow:
    """A task, where its window stands on a day, and what the reader may do about it."""

    task: CareTask
    is_late: bool
    is_due: bool  # its window is open
    is_mine: bool = False
    may_do: bool = False

    @property
    def came_from(self) -> str:
        """What opened it: a schedule, a walk, what was counted; empty where somebody wrote it."""
        return self.task.source_key.partition(":")[0]


def care_rows(actor: Actor, block: Block, today: date) -> list[CareRow]:
    """Return open tasks, the soonest first, and the latest that were done; none to who may not see them."""
    if not actor.may("care.view"):
        return []
    tasks = _shown(access.visible_care_tasks(actor).filter(block=block, dropped_at__isnull=True))
    done = tasks.filter(done_on__isnull=False).order_by("-done_on", "-id")[:MOST_DONE]
    return [care_row(actor, task, today) for task in [*_soonest(tasks.filter(done_on__isnull=True)), *done]]


def care_row(actor: Actor, task: CareTask, today: date) -> CareRow:
    """Say where one task stands."""
    is_open = task.done_on is None and task.dropped_at is None
    late = is_open and task.due_by is not None and task.due_by < today
    begun = task.due_from is None or task.due_from <= today
    mine = actor.person is not None and task.assigned_to_id == actor.person.pk
    may = actor.may("care.edit") or (mine and actor.may("care.do"))
    return CareRow(task, late, is_open and begun and not late, mine, may)


@dataclass(frozen=True)
class CareFilter:
    """Which tasks a list shows; an address that makes no sense shows what is open."""

    which: str = "open"
    project: UUID | None = None
    block: UUID | None = None
    kind: str = ""

    @classmethod
    def read(cls, asked: Any) -> "CareFilter":
        """Read the filter from an address."""
        which, kind = asked.get("which", ""), asked.get("kind", "")
        return cls(
            which if which in WHICH else "open", _uid(asked.get("project")), _uid(asked.get("block")),
            kind if kind in CareKind.values else "",
        )  # fmt: skip


def _uid(text: str | None) -> UUID | None:
    try:
        return UUID(text) if text else None
    except ValueError:
        return None


@dataclass(frozen=True)
class CareList:
    """A list of tasks with what it can be narrowed to, and whether it was cut off."""

    rows: Sequence[CareRow]
    filter: CareFilter
    projects: Sequence[Project]
    blocks: Sequence[Block]
    is_cut: bool = False
    kinds: Sequence[tuple[str, str]] = field(default_factory=lambda: CareKind.choices)


def care_list(actor: Actor, wanted: CareFilter, today: date) -> CareList:
    """Return the tasks a filter asks for; four queries, however many there are."""
    tasks = of_filter(actor, wanted, today)
    if wanted.which in ("done", "dropped"):
        tasks = tasks.order_by(F("done_on").desc(nulls_last=True), "-dropped_at", "-id")
    else:
        tasks = _soonest(tasks)
    found = list(tasks[: MOST_LISTED + 1])
    blocks = access.visible_blocks(actor).filter(archived_at__isnull=True).select_related("site")
    if wanted.project:
        blocks = blocks.filter(project__uid=wanted.project)
    return CareList(
        [care_row(actor, task, today) for task in found[:MOST_LISTED]], wanted,
        list(access.visible_projects(actor).current()), list(blocks), len(found) > MOST_LISTED,
    )  # fmt: skip


def of_filter(actor: Actor, wanted: CareFilter, today: date) -> QuerySet[CareTask]:
    """Tasks of blocks in use that a filter asks for."""
    tasks = _shown(access.visible_care_tasks(actor))
    narrowed = {"block__project__uid": wanted.project, "block__uid": wanted.block, "kind": wanted.kind}
    tasks = tasks.filter(**{name: value for name, value in narrowed.items() if value})
    if wanted.which == "done":
        return tasks.filter(done_on__isnull=False)
    if wanted.which == "dropped":
        return tasks.filter(dropped_at__isnull=False)
    tasks = tasks.filter(done_on__isnull=True, dropped_at__isnull=True, block__archived_at__isnull=True)
    if wanted.which == "late":
        return tasks.filter(due_by__lt=today)
    if wanted.which == "mine":
        return tasks.filter(assigned_to__isnull=False, assigned_to=actor.person)
    return tasks


def my_tasks(actor: Actor, today: date) -> tuple[list[CareRow], list[CareRow]]:
    """What the actor has to do, the soonest first, and what they did in the last days."""
    tasks = _shown(access.visible_care_tasks(actor)).filter(
        assigned_to__isnull=False, assigned_to=actor.person, dropped_at__isnull=True
    )
    still = tasks.filter(done_on__isnull=True, block__archived_at__isnull=True)
    done = tasks.filter(done_on__gte=today - LATELY).order_by("-done_on", "-id")
    rows = [care_row(actor, task, today) for task in _soonest(still)]
    return rows, [care_row(actor, task, today) for task in done]


def said_from_phone(task: CareTask) -> str:
    """The note that came with the record which ended a task; it stays in the log's erasable part."""
    part = SubmissionPersonal.objects.filter(submission_id=task.submission_id).first()
    return notes_of(part.personal)[0] if part is not None else ""


def _shown(tasks: QuerySet[CareTask]) -> QuerySet[CareTask]:
    return tasks.select_related("block__site", "block__project", "assigned_to", "cohort")


def _soonest(tasks: QuerySet[CareTask]) -> QuerySet[CareTask]:
    return tasks.order_by(F("due_by").asc(nulls_last=True), "id")


def people_for(actor: Actor) -> QuerySet[Person]:
    """People a task can be given to: members of today but funders, and people whose phone is enrolled."""
    members = Membership.objects.filter(organisation=actor.organisation, ended_at__isnull=True)
    members = members.exclude(role=Role.FUNDER)
    phones = access.models.FieldPass.objects.filter(organisation=actor.organisation, revoked_at__isnull=True)
    here = Q(pk__in=members.values("person_id")) | Q(pk__in=phones.values("person_id"))
    return Person.objects.filter(here, organisation=actor.organisation, erased_at__isnull=True).order_by(
        "name", "id"
    )


@dataclass(frozen=True)
class CareCost:
    """Aftercare of one project in one currency: what tasks cost, beside the lines of its budget."""

    project: Project
    currency: str
    tasks_minor: int = 0
    planned_minor: int = 0
    spent_minor: int = 0


def care_costs(actor: Actor, project: UUID | None = None) -> list[CareCost]:
    """What done tasks cost by project and currency, beside what budgets hold for aftercare; three queries."""
    narrow = {"project__uid": project} if project else {}
    tasks = access.visible_care_tasks(actor).filter(done_on__isnull=False, cost_minor__isnull=False)
    if project:
        tasks = tasks.filter(block__project__uid=project)
    lines = access.visible_budget_lines(actor).filter(kind=CostKind.CARE, **narrow)
    found: dict[tuple[int, str], dict[str, int]] = {}
    for key, currency, cost in (
        tasks.values_list("block__project_id", "currency").annotate(Sum("cost_minor")).order_by()
    ):
        found.setdefault((key, currency), {})["tasks_minor"] = cost
    for key, currency, planned, spent in _budget(lines):
        found.setdefault((key, currency), {}).update(planned_minor=planned, spent_minor=spent)
    projects = access.visible_projects(actor).in_bulk({key for key, _currency in found})
    rows = [CareCost(projects[key], currency, **sums) for (key, currency), sums in found.items()]
    return sorted(rows, key=lambda row: (row.project.name, row.project.pk, row.currency))


def _budget(lines: QuerySet[BudgetLine]) -> QuerySet:
    sums = lines.values_list("project_id", "currency").order_by()
    return sums.annotate(Sum("planned_minor"), Sum("spent_minor"))
