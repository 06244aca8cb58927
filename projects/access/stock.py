"""Nurseries, orders, deliveries, lots, what was looked at when they changed hands, and papers."""

from uuid import UUID

from django.db.models import Q, QuerySet

from projects import models
from projects.access.actors import Actor
from projects.access.places import in_visible_projects
from projects.access.planting import visible_care_tasks, visible_walks
from projects.access.rows import one


def visible_nurseries(actor: Actor) -> QuerySet[models.Nursery]:
    return models.Nursery.objects.filter(organisation=actor.organisation)


def nursery_for(actor: Actor, uid: UUID, verb: str = "nursery.view") -> models.Nursery:
    return one(actor, verb, visible_nurseries(actor), uid)


def visible_lots(actor: Actor) -> QuerySet[models.StockLot]:
    """Lots of the organisation; a limited lead sees those of granted projects.

    These are lots planted there, on a crew's list for it, ordered for it, or put together from lots ordered for it.
    """
    rows = models.StockLot.objects.filter(organisation=actor.organisation)
    if actor.project_ids is None:
        return rows
    ids = actor.project_ids
    return rows.filter(
        Q(cohorts__block__project_id__in=ids)
        | Q(delivery__order__project_id__in=ids)
        | Q(order_line__order__project_id__in=ids)
        | Q(crew_days__crew_day__block__project_id__in=ids)
        | Q(came_over__voided_at__isnull=True, came_over__lot__delivery__order__project_id__in=ids)
    ).distinct()


def lot_for(actor: Actor, uid: UUID, verb: str = "lot.view") -> models.StockLot:
    return one(actor, verb, visible_lots(actor).select_related("nursery", "species"), uid)


def visible_orders(actor: Actor) -> QuerySet[models.StockOrder]:
    return in_visible_projects(actor, models.StockOrder.objects.all())


def order_for(actor: Actor, uid: UUID, verb: str = "order.view") -> models.StockOrder:
    return one(actor, verb, visible_orders(actor).select_related("nursery", "project"), uid)


def visible_order_lines(actor: Actor) -> QuerySet[models.OrderLine]:
    return in_visible_projects(actor, models.OrderLine.objects.all(), "order__project_id")


def order_line_for(actor: Actor, uid: UUID, verb: str = "order.view") -> models.OrderLine:
    rows = visible_order_lines(actor).select_related("order__project", "order__nursery", "species", "block")
    return one(actor, verb, rows, uid)


def visible_deliveries(actor: Actor) -> QuerySet[models.Delivery]:
    """Deliveries of the organisation; a limited lead sees those of orders or lots they may see."""
    rows = models.Delivery.objects.filter(organisation=actor.organisation)
    if actor.project_ids is None:
        return rows
    return rows.filter(Q(order__in=visible_orders(actor)) | Q(lots__in=visible_lots(actor))).distinct()


def delivery_for(actor: Actor, uid: UUID, verb: str = "lot.view") -> models.Delivery:
    return one(actor, verb, visible_deliveries(actor).select_related("order__project", "nursery"), uid)


def visible_lot_checks(actor: Actor) -> QuerySet[models.LotCheck]:
    rows = models.LotCheck.objects.filter(organisation=actor.organisation)
    return rows if actor.project_ids is None else rows.filter(lot__in=visible_lots(actor))


def lot_check_for(actor: Actor, uid: UUID, verb: str = "lot.view") -> models.LotCheck:
    return one(actor, verb, visible_lot_checks(actor).select_related("lot", "checked_by"), uid)


def visible_papers(actor: Actor) -> QuerySet[models.Paper]:
    """Papers and pictures of records the actor may see. Whoever looks at one needs the verb of its record."""
    rows = models.Paper.objects.filter(organisation=actor.organisation)
    if actor.project_ids is None:
        return rows
    return rows.filter(
        Q(order__in=visible_orders(actor))
        | Q(delivery__in=visible_deliveries(actor))
        | Q(lot__in=visible_lots(actor))
        | Q(check_of_lot__in=visible_lot_checks(actor))
        | Q(sighting__walk__in=visible_walks(actor))
        | Q(care_task__in=visible_care_tasks(actor))
    )
