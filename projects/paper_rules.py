"""Which records papers and pictures go with, and the verbs to read and to add them."""

from dataclasses import dataclass
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db.models import Model
from django.utils.translation import gettext as _

from projects.access import Actor
from projects.models import CareTask, Delivery, LotCheck, Paper, Sighting, StockLot, StockOrder


@dataclass(frozen=True)
class Rule:
    """The field of a paper that names its record, and the verbs to read and to add papers of it."""

    field: str
    view: str
    edit: str


RULES: dict[type[Model], Rule] = {
    StockOrder: Rule("order", "order.view", "order.edit"),
    Delivery: Rule("delivery", "lot.view", "lot.edit"),
    StockLot: Rule("lot", "lot.view", "lot.edit"),
    LotCheck: Rule("check_of_lot", "lot.view", "lot.edit"),
    Sighting: Rule("sighting", "walk.view", "walk.edit"),
    CareTask: Rule("care_task", "care.view", "care.do"),
}


def rule_of(subject: Model) -> Rule:
    """Return the rule of a record's kind."""
    return RULES[type(subject)]


def subject_of(paper: Paper) -> Any:
    """Return the record a paper goes with."""
    return next(row for rule in RULES.values() if (row := getattr(paper, rule.field)) is not None)


def may_edit(actor: Actor, subject: Model) -> bool:
    """Whether somebody may add papers to a record and take them back; of a care task who leads, or whose it is."""
    if not actor.may(rule_of(subject).edit):
        return False
    if not isinstance(subject, CareTask) or actor.may("care.edit"):
        return True
    return actor.person is not None and subject.assigned_to_id == actor.person.pk


def require_edit(actor: Actor, subject: Model) -> None:
    """Refuse with 403 whoever may not add papers to a record."""
    actor.require(rule_of(subject).edit)
    if not may_edit(actor, subject):
        raise PermissionDenied(_("This task is not assigned to you."))
