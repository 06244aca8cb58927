"""Planting days as they are prepared: who goes, with which lots; decided on in the morning, called off."""

import hashlib
from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from projects import clocks, history
from projects.access import Actor
from projects.calc import day_rules as calc
from projects.day_rule_words import VERDICTS
from projects.errors import Refusal
from projects.models import Block, CrewDay, CrewDayPerson, CrewDayState, DayRule, Person
from projects.selectors import day_rules
from projects.services import editing, reminders
from projects.services.editing import ChangedMeanwhile

FIELDS = (
    "day", "crew", "lead", "people_expected", "meet_at", "meeting_point", "back_by", "buddies", "depth_note", "note",
)  # fmt: skip
OVER = (CrewDayState.CLOSED, CrewDayState.CALLED_OFF)
UNDECIDED: dict[str, Any] = {
    "state": CrewDayState.PLANNED, "decided_by": None, "decided_at": None, "decided_because": "", "readings": {},
}  # fmt: skip


@transaction.atomic
def plan_day(*, actor: Actor, block: Block, **values: Any) -> CrewDay:
    """Prepare a planting day in a block. Who goes and which lots are added to it."""
    actor.require("planting.edit")
    editing.ours(actor, block, values.get("lead"))
    if block.archived_at:
        raise Refusal(_("This block is put away. Bring it back before planting in it."), field="block")
    return remembered(editing.make(actor, CrewDay(block=block, **_checked(values)), "crew_day.made"))


@transaction.atomic
def change_day(*, actor: Actor, crew_day: CrewDay, version: str = "", **values: Any) -> CrewDay:
    """Change a day that is not over. One moved to another date has to be decided on again."""
    held = held_open(actor, crew_day)
    editing.ours(actor, values.get("lead"))
    values = _checked(values)
    changed = editing.change(actor, crew_day, values, "crew_day.edited", version=version)
    if changed.day != held.day and changed.state != CrewDayState.PLANNED:
        CrewDay.objects.filter(pk=changed.pk).update(**UNDECIDED)
        changed.refresh_from_db()
    return remembered(changed)


def remembered(day: CrewDay) -> CrewDay:
    """Bring what is told of a day up to how it stands."""
    reminders.renew_crew_days(day.organisation, [day.uid])
    return day


def _checked(values: dict[str, Any]) -> dict[str, Any]:
    values = {name: value for name, value in values.items() if name in FIELDS}
    meet, back = values.get("meet_at"), values.get("back_by")
    if meet is not None and back is not None and back <= meet:
        raise Refusal(_("The crew is back later than it meets. Check both times."), field="back_by")
    return values


def held_open(actor: Actor, day: CrewDay) -> CrewDay:
    """Lock a day and return it as it stands; refuse one that is closed or called off."""
    actor.require("planting.edit")
    editing.ours(actor, day)
    held: CrewDay = editing.held(day)
    if held.state == CrewDayState.CLOSED:
        raise Refusal(_("This day is closed already. Open it again to change it."), code="closed")
    if held.state == CrewDayState.CALLED_OFF:
        raise Refusal(_("This day is called off. Take it up again to change it."), code="called_off")
    return held


# --- who goes ---------------------------------------------------------------------------------
def people_token(day: CrewDay) -> str:
    """A token of who goes, so that two who write the crew down at once do not undo each other."""
    rows = list(day.people.values_list("person_id", "buddy_id"))
    return hashlib.sha256(repr(rows).encode()).hexdigest()[:16]


@transaction.atomic
def set_people(
    *, actor: Actor, crew_day: CrewDay, people: Sequence[tuple[Person, Person | None]], version: str = ""
) -> CrewDay:
    """Write down who goes and who looks after whom; it replaces what stood there."""
    held = held_open(actor, crew_day)
    if version and version != people_token(held):
        stored = {f"person_{n}": row.person for n, row in enumerate(held.people.select_related("person"))}
        raise ChangedMeanwhile(held, stored, people_token(held))
    going = [person.pk for person, _buddy in people]
    for place, (person, buddy) in enumerate(people):
        editing.ours(actor, person, buddy)
        _check_pair(place, person, buddy, going)
    before = held.people.count()
    held.people.all().delete()
    for person, buddy in people:
        CrewDayPerson.objects.create(
            organisation=actor.organisation, crew_day=held, person=person, buddy=buddy
        )
    history.record(actor, "crew_day.crew_set", held, change={"people_on_the_list": [before, len(people)]})
    return held


def _check_pair(place: int, person: Person, buddy: Person | None, going: list[int]) -> None:
    if person.erased_at is not None:
        raise Refusal(_("This person's name was removed; choose another."), field=f"person_{place}")
    if going.count(person.pk) > 1:
        raise Refusal(_("This person stands twice on the list."), field=f"person_{place}")
    if buddy is None:
        return
    if buddy.pk == person.pk:
        raise Refusal(_("Nobody looks after themselves. Choose another of the crew."), field=f"buddy_{place}")
    if buddy.pk not in going:
        raise Refusal(
            _("Whoever looks after somebody goes along. Add them to the list."), field=f"buddy_{place}"
        )


# --- the morning ------------------------------------------------------------------------------
@transaction.atomic
def decide(
    *,
    actor: Actor,
    crew_day: CrewDay,
    go: bool,
    readings: Mapping[str, calc.Reading] | None = None,
    because: str = "",
) -> CrewDay:
    """Decide in the morning whether the crew plants, with what was read.

    Where a rule says stop, going all the same asks for a reason, which is kept. It may be decided again while the
    day is open, as when frost has gone by noon.
    """
    held = held_open(actor, crew_day)
    if held.day > clocks.today_at(held.block.site):
        raise Refusal(
            _("This is decided in the morning of the day: what is read today says nothing of another day."),
            code="future",
        )
    rules = day_rules.in_force(actor.organisation, held.block.project).rules
    judged = calc.judge([day_rules.pure(rule) for rule in rules], readings or {})
    because = history.storable(because).strip()
    if go and judged.verdict == calc.STOP and not because:
        raise Refusal(
            _("A rule says not to plant. Write why the crew goes all the same, or decide not to."),
            field="because",
            code="stopped",
        )
    held.state = CrewDayState.GO if go else CrewDayState.NO_GO
    held.decided_by, held.decided_at, held.decided_because = actor.person, timezone.now(), because
    held.readings = kept(judged, rules)
    editing.well_formed(held)
    held.save(update_fields=["state", "decided_by", "decided_at", "decided_because", "readings"])
    answer = str(VERDICTS[judged.verdict])
    verb = "crew_day.decided_go" if go else "crew_day.decided_no_go"
    history.record(actor, verb, held, change={"by_the_rules": [None, answer]}, reason=because)
    return held


def kept(judged: calc.Judgement, rules: Sequence[DayRule]) -> dict[str, Any]:
    """What was read that morning, rule by rule, so that a rule changed later changes no past morning."""
    said = [
        {
            "measure": rule.measure, "side": rule.side, "limit": rule.limit, "effect": rule.effect,
            "words": rule.words if rule.measure == calc.OTHER else "",
            "state": each.state, "reading": each.reading,
        }
        for rule, each in zip(rules, judged.said, strict=True)
    ]  # fmt: skip
    return {"verdict": judged.verdict, "said": said}


@transaction.atomic
def call_off(*, actor: Actor, crew_day: CrewDay, reason: str) -> CrewDay:
    """Call a day off; it stays on the list with why."""
    held = held_open(actor, crew_day)
    reason = history.storable(reason).strip()
    if not reason:
        raise Refusal(_("Say in a few words why the day is called off."), field="reason")
    held.state, held.decided_because = CrewDayState.CALLED_OFF, reason[:300]
    held.decided_by, held.decided_at = actor.person, timezone.now()
    held.save(update_fields=["state", "decided_because", "decided_by", "decided_at"])
    history.record(actor, "crew_day.called_off", held, reason=reason)
    return remembered(held)
