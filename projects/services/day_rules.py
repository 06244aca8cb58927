"""Rules of a planting day: the organisation's, and a project's own copy where it has one."""

from math import isfinite
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import day_rule_words, history, usual_day_rules
from projects.access import Actor
from projects.calc import day_rules as calc
from projects.errors import Refusal
from projects.models import DayRule, Project
from projects.services import editing

FIELDS = ("measure", "side", "limit", "effect", "words", "source")
MOST = 40
OF_THE_ORGANISATION = "organisation"


@transaction.atomic
def add_rule(*, actor: Actor, project: Project | None, **values: Any) -> DayRule:
    """Add a rule at the end of a list."""
    _allowed(actor, project)
    rows = _held(actor, project)
    if len(rows) >= MOST:
        raise Refusal(_("A crew does not read more than %(n)s rules. Remove some first.") % {"n": MOST})
    place = max((row.position for row in rows), default=0) + 1
    return editing.make(actor, DayRule(project=project, position=place, **_checked(values)), "day_rule.added")


@transaction.atomic
def edit_rule(*, actor: Actor, rule: DayRule, version: str = "", **values: Any) -> DayRule:
    """Change a rule."""
    _allowed(actor, rule.project)
    editing.ours(actor, rule)
    return editing.change(actor, rule, _checked(values), "day_rule.edited", version=version)


@transaction.atomic
def move_rule(*, actor: Actor, rule: DayRule, up: bool) -> None:
    """Move a rule one place up or down its list."""
    _allowed(actor, rule.project)
    editing.ours(actor, rule)
    rows = _held(actor, rule.project)
    here = next((place for place, row in enumerate(rows) if row.pk == rule.pk), None)
    there = None if here is None else here + (-1 if up else 1)
    if here is None or there is None or not 0 <= there < len(rows):
        return
    rows[here], rows[there] = rows[there], rows[here]
    for place, row in enumerate(rows, 1):
        if row.position != place:
            row.position = place
            row.save(update_fields=["position"])
    history.record(actor, "day_rule.moved", rule)


@transaction.atomic
def remove_rule(*, actor: Actor, rule: DayRule) -> None:
    """Take a rule away."""
    _allowed(actor, rule.project)
    editing.ours(actor, rule)
    history.record(actor, "day_rule.taken_away", rule)
    rule.delete()


@transaction.atomic
def start_from(*, actor: Actor, project: Project | None, which: str) -> list[DayRule]:
    """Fill an empty list from a set of usual rules, or a project's from the organisation's."""
    _allowed(actor, project)
    if _held(actor, project):
        raise Refusal(_("There are rules here already. Change them, or take them away first."))
    if which == OF_THE_ORGANISATION and project is not None:
        lines = list(DayRule.objects.filter(organisation=actor.organisation, project=None).values(*FIELDS))
    else:
        lines = [line.values() for line in usual_day_rules.SETS.get(which, ())]
    if not lines:
        raise Refusal(_("Choose which rules to start from."))
    rows = [DayRule(project=project, position=place, **line) for place, line in enumerate(lines, 1)]
    for row in rows:
        row.organisation = actor.organisation
        editing.well_formed(row)
        row.save(force_insert=True)
    _record(actor, project, "day_rules_started", len(rows))
    return rows


@transaction.atomic
def drop_own(*, actor: Actor, project: Project) -> None:
    """Take a project's own rules away; the organisation's hold for it again."""
    _allowed(actor, project)
    rows = _held(actor, project)
    if rows:
        DayRule.objects.filter(pk__in=[row.pk for row in rows]).delete()
        _record(actor, project, "day_rules_dropped", len(rows))


def _record(actor: Actor, project: Project | None, act: str, count: int) -> None:
    kind, subject = ("organisation", actor.organisation) if project is None else ("project", project)
    history.record(actor, f"{kind}.{act}", subject, change={"rules": [None, count]})


def _allowed(actor: Actor, project: Project | None) -> None:
    """Rules of all projects are the manager's; those of one project also its field lead's."""
    actor.require("day_rule.edit")
    if project is None:
        actor.require("organisation.edit")
    else:
        editing.ours(actor, project)


def _held(actor: Actor, project: Project | None) -> list[DayRule]:
    """The list as it stands, its owner locked: two who change it at once wait for each other."""
    editing.held(project or actor.organisation)
    return list(DayRule.objects.filter(organisation=actor.organisation, project=project))


def _checked(values: dict[str, Any]) -> dict[str, Any]:
    """Keep a rule that can speak: a limit where one is measured, words where only words say it."""
    values = {name: values[name] for name in FIELDS if name in values}
    measure, limit = values["measure"], values.get("limit")
    if measure not in day_rule_words.NAMES:
        raise Refusal(_("Choose what is looked at."), field="measure")
    if measure == calc.OTHER and not values.get("words", "").strip():
        raise Refusal(_("Say in words what stops a crew."), field="words")
    if not values.get("source", "").strip():
        raise Refusal(_("Say where the rule comes from."), field="source")
    if measure not in calc.SCALES:
        return values | {"side": calc.YES, "limit": None}
    if values["side"] not in (calc.BELOW, calc.ABOVE):
        raise Refusal(_("Choose below or above: this is measured in numbers."), field="side")
    scale = calc.SCALES[measure]
    if limit is None or not isfinite(limit):
        raise Refusal(_("Write the limit: this is measured in numbers."), field="limit")
    if not scale.least <= limit <= scale.most:
        raise Refusal(
            _("No such reading is met with outdoors. Check the number and its unit."), field="limit"
        )
    return values
