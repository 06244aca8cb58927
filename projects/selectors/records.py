"""History of one thing or of several that belong together, and who may read it."""

from collections.abc import Callable, Iterable
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import Http404
from django.utils.translation import gettext as _

from projects import access
from projects.access import Actor
from projects.models import HistoryEntry

# Kind of subject -> the getter that says who may see it. Higher apps add theirs with `know`.
getters: dict[str, Callable[[Actor, UUID], Any]] = {
    "project": access.project_for,
    "site": access.site_for,
    "block": access.block_for,
    "season": access.season_for,
    "siteassessment": access.assessment_for,
    "soilsample": access.soil_sample_for,
    "regenerationcircle": access.circle_for,
    "consent": access.consent_for,
    "readinessoverride": access.override_for,
    "nursery": access.nursery_for,
    "stocklot": access.lot_for,
    "stockorder": access.order_for,
    "plantingday": access.planting_day_for,
    "cohort": access.cohort_for,
    "crewday": access.crew_day_for,
    "qualitycheck": access.quality_check_for,
    "caretask": access.care_task_for,
    "walk": access.walk_for,
    "siteevent": access.site_event_for,
    "budgetline": access.budget_line_for,
    "plan": access.plan_for,
    "mixline": access.mix_line_for,
    "stockoffer": access.offer_for,
    "survivalprior": access.survival_prior_for,
    "dayrule": access.day_rule_for,
    "expectedbenefit": access.benefit_for,
    "seedtree": access.seed_tree_for,
    "seedcollection": access.seed_collection_for,
    "membership": access.membership_for,
}


def know(kind: str, getter: Callable[[Actor, UUID], Any]) -> None:
    """Let the history page show a kind of subject through its own getter."""
    getters[kind] = getter


def history_of(actor: Actor, uids: Iterable[UUID], limit: int = 10) -> list[HistoryEntry]:
    """Return the newest entries about some subjects, for the foot of a page; nothing for who may not read it."""
    if not actor.may("history.view"):
        return []
    return list(access.visible_history(actor).filter(subject_uid__in=list(uids)).order_by("-id")[:limit])


def whole_history(actor: Actor, uid: UUID) -> QuerySet[HistoryEntry]:
    """Return every entry about one subject; 404 where the actor may not see the subject itself."""
    entries = access.visible_history(actor).filter(subject_uid=uid)
    first = entries.order_by("id").first()
    if first is None:
        raise Http404(_("There is nothing at this address."))
    actor.require("history.view")
    getter = getters.get(first.subject_kind)
    if getter is not None:
        getter(actor, uid)
    elif actor.project_ids is not None or first.subject_uid == actor.organisation.uid:
        actor.require("organisation.edit")
    return entries
