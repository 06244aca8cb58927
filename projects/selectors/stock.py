"""Lots, nurseries, planting days and orders, read for their pages."""

from datetime import date

from django.db.models import Count, F, Q, QuerySet

from projects import access
from projects.access import Actor
from projects.calc.lot_clock import LotClock
from projects.models import Cohort, Nursery, OrderStatus, PlantingDay, StockLot, StockOrder
from projects.paging import Page
from projects.selectors.ledgers import LotStanding, clocks_of, standings


def lot_list(actor: Actor, *, archived: bool = False) -> QuerySet[StockLot]:
    """Return the lots the actor may read, with species and nursery."""
    lots = access.visible_lots(actor).filter(archived_at__isnull=not archived)
    return lots.select_related("species", "nursery")


def lot_rows(page: Page, today: date) -> list[LotStanding]:
    """Return the page's lots with ledger and clock."""
    return standings(page.rows, today)


def nursery_rows(actor: Actor) -> QuerySet[Nursery]:
    """Return nurseries in use with the number of their lots."""
    return (
        access.visible_nurseries(actor)
        .filter(archived_at__isnull=True)
        .annotate(lots_in_use=Count("lots", filter=Q(lots__archived_at__isnull=True)))
        .order_by("name", "id")
    )


def open_orders(actor: Actor) -> QuerySet[StockOrder]:
    """Return orders that are not closed or called off, the most pressing first."""
    orders = access.visible_orders(actor).exclude(status__in=(OrderStatus.CLOSED, OrderStatus.CANCELLED))
    return orders.order_by(F("order_by").asc(nulls_last=True), "id")


def lot_plantings(actor: Actor, standing: LotStanding) -> list[tuple[PlantingDay, LotClock | None]]:
    """Return where a lot was planted, each day with how long its plants had waited."""
    lot, clocks = standing.lot, standing.clocks or clocks_of([standing.lot])
    days = access.visible_planting_days(actor).filter(lot=lot).select_related("block__site", "cohort__season")
    return [
        (day, None if day.voided_at else clocks.on(lot, day.planted_on))
        for day in days.order_by("planted_on", "id")
    ]


def clock_when_planted(day: PlantingDay) -> LotClock | None:
    """Return how long a planting day's plants had waited, or None."""
    if day.lot is None:
        return None
    return clocks_of([day.lot]).on(day.lot, day.planted_on)


def cohort_days(cohort: Cohort) -> QuerySet[PlantingDay]:
    """Return a cohort's planting days in order."""
    return cohort.planting_days.select_related("holding").order_by("planted_on", "id")
