"""What the field asks people to decide: care due, windows that close, planting days left open, walks due."""

from collections.abc import Sequence
from datetime import date, timedelta
from uuid import UUID

from django.db.models import Q, QuerySet
from django.urls import reverse

from projects.calc.walks_due import window_of
from projects.models import Block, CareTask, CrewDay, CrewDayState, Organisation
from projects.selectors.closing_windows import ClosingWindow, closing_windows
from projects.selectors.walks_due import BlockWalk, walks_due
from projects.services.reminder_rows import Days, ReminderRow, replace

CARE_KINDS = ("care_due",)
CARE_AHEAD = timedelta(days=30)  # a care task is shown once its window opens within this time
WINDOW_KINDS = ("window_closing",)
WINDOW_AHEAD = timedelta(days=21)  # time to find crew, transport and stock still; common practice
CREW_DAY_KINDS = ("crew_day_open",)
CREW_DAY_OVER = (CrewDayState.CLOSED, CrewDayState.CALLED_OFF)
WALK_KINDS = ("walk_due",)


# --- aftercare ------------------------------------------------------------------------------
def care(organisation: Organisation, days: Days) -> list[ReminderRow]:
    """Open care tasks whose window is open or near."""
    return [_care_row(organisation, task) for task in _open_tasks(organisation, days.today)]


def renew_care(organisation: Organisation, task_uids: Sequence[UUID], days: Days) -> None:
    """Make the reminders of some care tasks again."""
    tasks = _open_tasks(organisation, days.today).filter(uid__in=task_uids)
    replace(organisation, CARE_KINDS, [_care_row(organisation, task) for task in tasks], subjects=task_uids)


def _open_tasks(organisation: Organisation, today: date) -> QuerySet[CareTask]:
    return CareTask.objects.filter(
        Q(due_from__isnull=True) | Q(due_from__lte=today + CARE_AHEAD),
        organisation=organisation, done_on__isnull=True, dropped_at__isnull=True, block__archived_at__isnull=True,
    ).select_related("block")  # fmt: skip


def _care_row(organisation: Organisation, task: CareTask) -> ReminderRow:
    facts = {
        "what": task.what,
        "kind": task.kind,
        "block": task.block.name,
        "due_from": _text(task.due_from),
        "first_due_by": _text(task.first_due_by) if task.first_due_by != task.due_by else None,
    }
    link = reverse("projects:care_detail", kwargs={"org": organisation.slug, "uid": task.uid})
    return ReminderRow(
        "care_due", task.uid, link, due_on=task.due_by,
        project_id=task.block.project_id, rank=30, facts=facts,
    )  # fmt: skip


# --- planting windows -----------------------------------------------------------------------
def windows(organisation: Organisation, days: Days) -> list[ReminderRow]:
    """Planting windows that close soon while something meant for them is not planted."""
    return [
        _window_row(organisation, each) for each in closing_windows(organisation, days.today, WINDOW_AHEAD)
    ]


def _window_row(organisation: Organisation, each: ClosingWindow) -> ReminderRow:
    window = each.window
    facts = {
        "block": window.block.name,
        "stock_type": window.stock_type,
        "planned": each.planned,
        "ordered": each.ordered,
        "on_hand": each.on_hand,
        "because": window.closes_because,
    }
    return ReminderRow(
        "window_closing", window.uid, block_link(organisation, window.block), due_on=window.closes_on,
        project_id=window.block.project_id, rank=15, facts=facts,
    )  # fmt: skip


# --- planting days --------------------------------------------------------------------------
def crew_days(organisation: Organisation, days: Days) -> list[ReminderRow]:
    """Planting days whose date has passed at their site, neither closed nor called off."""
    rows = CrewDay.objects.filter(
        organisation=organisation, day__lt=days.today + timedelta(days=2), block__archived_at__isnull=True
    ).exclude(state__in=CREW_DAY_OVER)
    return _left_open(organisation, rows, days)


def renew_crew_days(organisation: Organisation, uids: Sequence[UUID], days: Days) -> None:
    """Make the reminders of some planting days again."""
    rows = CrewDay.objects.filter(organisation=organisation, uid__in=uids, block__archived_at__isnull=True)
    found = _left_open(organisation, rows.exclude(state__in=CREW_DAY_OVER), days)
    replace(organisation, CREW_DAY_KINDS, found, subjects=uids)


def _left_open(organisation: Organisation, rows: QuerySet[CrewDay], days: Days) -> list[ReminderRow]:
    return [
        ReminderRow(
            "crew_day_open", row.uid, crew_day_link(organisation, row),
            due_on=row.day, project_id=row.block.project_id, rank=12,
            facts={"block": row.block.name, "day": row.day.isoformat(), "state": row.state},
        )
        for row in rows.select_related("block__site")
        if row.day < days.at(row.block.site)
    ]  # fmt: skip


def crew_day_link(organisation: Organisation, day: CrewDay) -> str:
    return reverse("projects:crew_day_detail", kwargs={"org": organisation.slug, "uid": day.uid})


# --- walks ----------------------------------------------------------------------------------
def walks(organisation: Organisation, days: Days) -> list[ReminderRow]:
    """Walks whose time has come for one cause at least: of a block there is one at most, which answers all of them."""
    return [
        _walk_row(organisation, each)
        for each in walks_due(organisation, days.today)
        if any(window_of(cause)[0] <= days.today for cause in each.due.causes)
    ]


def _walk_row(organisation: Organisation, each: BlockWalk) -> ReminderRow:
    block, due = each.block, each.due
    facts = {
        "block": block.name,
        "due_from": due.due_from.isoformat(),
        "causes": [{"kind": cause.kind, "on": cause.happened_on.isoformat()} for cause in due.causes],
    }
    return ReminderRow(
        "walk_due", block.uid, f"{block_link(organisation, block)}#walks", due_on=due.due_by,
        project_id=block.project_id, rank=22, facts=facts,
    )  # fmt: skip


def block_link(organisation: Organisation, block: Block) -> str:
    return reverse("projects:block_detail", kwargs={"org": organisation.slug, "uid": block.uid})


def _text(day: date | None) -> str | None:
    return day.isoformat() if day else None
