"""Which records papers and pictures go with, and the verbs to read and to add them."""

from dataclasses import dataclass
from typing import Any

from django.db.models import Model

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
