"""The demo's planting days with who looked at what, walks with what was seen, frost, and aftercare taken up."""

from datetime import date, time, timedelta

from django.utils import timezone

from monitoring.demo import serra_growing as plan
from projects.access import Actor
from projects.calc.care_schedule import CareChoices
from projects.models import (
    Block,
    Cohort,
    CrewDay,
    CrewDayState,
    Membership,
    PlantingDay,
    Reminder,
    Role,
    Site,
    StockLot,
)
from projects.selectors.care_schedule import schedules
from projects.services import (
    care,
    care_schedule,
    crew_day_lots,
    crew_days,
    quality_checks,
    reminders,
    site_events,
    walks,
)

Blocks = dict[str, Block]


def write_field_days(actor: Actor, today: date) -> None:
    """Write what crews did and will do, and what was seen since."""
    rows = Block.objects.filter(organisation=actor.organisation).select_related("site", "project")
    known = {row.name: row for row in rows}
    days = {key: write_closed_day(actor, known[key[0]], key[1]) for key in plan.CLOSED_DAYS}
    for block, planted_on, looked_on, spot, inspected, acceptable, faults in plan.LOOKED:
        quality_checks.check_quality(
            actor=actor, block=known[block], crew_day=days[block, planted_on], checked_on=looked_on, label=spot,
            inspected=inspected, acceptable=acceptable, faults=faults,
        )  # fmt: skip
    write_coming_day(actor, known[plan.COMING_BLOCK], today)
    write_walks(actor, known, today)
    write_aftercare(actor, known[plan.CARED_FOR], today)


def write_closed_day(actor: Actor, block: Block, day: date) -> CrewDay:
    """Write a day of the past as a row: its planting days are in the book already, and no service makes them twice."""
    planted = PlantingDay.objects.filter(block=block, planted_on=day, voided_at__isnull=True)
    row = CrewDay.objects.create(
        organisation=actor.organisation, block=block, day=day, crew=planted[0].crew, people_expected=9,
        state=CrewDayState.CLOSED, decided_by=lead_of(actor).person, decided_at=timezone.now(),
        decided_because="Moist soil, no frost, light wind.", clean_tools=True, closed_at=timezone.now(),
    )  # fmt: skip
    planted.update(crew_day=row)
    return row


def lead_of(actor: Actor) -> Membership:
    rows = Membership.objects.filter(organisation=actor.organisation, role=Role.FIELD_LEAD)
    return rows.select_related("person").order_by("id")[0]


def write_coming_day(actor: Actor, block: Block, today: date) -> None:
    """Prepare a day to come: who leads, where to meet, and a lot that replaces what died."""
    lead = lead_of(actor).person
    day = crew_days.plan_day(
        actor=actor, block=block, day=today + timedelta(days=plan.COMING_IN_DAYS), crew="crew one", lead=lead,
        people_expected=6, meet_at=time(8, 30), meeting_point="Lower gate of the burnt slope", back_by=time(15, 30),
        buddies="In pairs; the manager is told by 15:30 that all are back.",
        depth_note="Root collar level with the ground, plug covered by a finger of soil.",
    )  # fmt: skip
    crew_days.set_people(actor=actor, crew_day=day, people=[(lead, None)])
    lot = StockLot.objects.get(organisation=actor.organisation, code=plan.CAME_LOT)
    replaced = Cohort.objects.filter(block=block, species=lot.species).order_by("id")[0]
    crew_day_lots.add_lot(
        actor=actor, crew_day=day, lot=lot, planned=plan.COMING_PLANTED, replaces=replaced, mark="cane",
        mark_note="blue",
    )  # fmt: skip


def write_walks(actor: Actor, known: Blocks, today: date) -> None:
    """Walk two blocks, one of them without a sign; and tell of a frost after which nobody has walked yet."""
    for block, days_ago, note, seen in plan.WALKS:
        walks.record_walk(
            actor=actor, block=known[block], walked_on=today - timedelta(days=days_ago), note=note,
            sightings=[walks.SeenSign(**sign) for sign in seen],
        )  # fmt: skip
    site = Site.objects.get(organisation=actor.organisation, name=plan.FROST_SITE)
    site_events.tell_event(
        actor=actor, site=site, kind="frost", happened_on=today - timedelta(days=plan.FROST_DAYS_AGO),
        note=plan.FROST_NOTE,
    )  # fmt: skip


def write_aftercare(actor: Actor, block: Block, today: date) -> None:
    """Take up the next lines of a block's schedule: one is given to somebody, one put off, one left."""
    offered = [row for found in schedules(actor, block, CareChoices(), today, None) for row in found.to_come]
    chosen = sorted(offered, key=lambda row: (row.line.due_by, row.key))[: plan.TAKEN_UP]
    made = care_schedule.accept(
        actor=actor, block=block, keys=[row.key for row in chosen], choices=CareChoices(), today=today
    ).new
    if made:
        care.assign_task(actor=actor, task=made[0], person=lead_of(actor).person)
        late = made[-1]
        care.put_off(
            actor=actor, task=late, due_by=late.due_by + timedelta(days=plan.PUT_OFF_DAYS),
            because=plan.PUT_OFF_BECAUSE,
        )  # fmt: skip


def give_owners(actor: Actor) -> None:
    """Say who sees to some of what has to be decided, once it is known what that is."""
    lead = lead_of(actor)
    for reminder in Reminder.objects.filter(organisation=actor.organisation, kind__in=plan.LEAD_SEES_TO):
        reminders.assign(actor=actor, reminder=reminder, membership=lead)
