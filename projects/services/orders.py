"""Stock orders: drafted from needs, a plan or by hand; placed, confirmed, closed, called off; figures are copied."""

from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import clocks, history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Nursery, OrderStatus, Project, StockOrder, SubstitutionRule
from projects.selectors.order_progress import standing_of
from projects.services import editing, reminders
from projects.services.invasive import refuse_invasive
from projects.services.order_lines import (
    UNDER_WAY,
    Line,
    add_checked,
    changed_meanwhile,
    draft_of,
    line_words,
    seen,
)

__all__ = [
    "UNDER_WAY", "Line", "cancel_order", "close_order", "confirm_order", "draft_order", "edit_order", "place_order",
    "reopen_order", "seen",
]  # fmt: skip

FIELDS = (
    "nursery", "reference", "order_by", "needed_by", "reason", "deliver_to", "terms", "deposit_minor",
    "exchange_rate", "exchange_rate_on",
)  # fmt: skip


@transaction.atomic
def draft_order(
    *, actor: Actor, project: Project, lines: Iterable[Line], nursery: Nursery | None = None,
    order_by: date | None = None, needed_by: date | None = None, reason: str = "",
    copied_figures: dict[str, Any] | None = None, deliver_to: str = "", prices_from_list: bool = False,
) -> StockOrder:  # fmt: skip
    """Draft an order; nothing is asked of a nursery until it is placed."""
    actor.require("order.edit")
    asked = list(lines)
    editing.ours(actor, project, nursery)
    if not asked:
        raise Refusal(_("An order asks for at least one thing."), field="lines")
    _check_dates(order_by, needed_by)
    if order_by is None and needed_by is not None and nursery is not None:
        order_by = needed_by - timedelta(weeks=nursery.lead_time_weeks)
    order = StockOrder(
        project=project, nursery=nursery, order_by=order_by, needed_by=needed_by, reason=reason,
        copied_figures=copied_figures or {}, currency=project.currency, deliver_to=deliver_to,
    )  # fmt: skip
    editing.make(actor, order, "stock_order.made")
    for line in asked:
        add_checked(actor, order, line, from_list=prices_from_list)
    reminders.renew_orders(actor.organisation)
    return order


@transaction.atomic
def edit_order(*, actor: Actor, order: StockOrder, version: str = "", **values: Any) -> StockOrder:
    """Change a draft's nursery, dates, terms or words."""
    actor.require("order.edit")
    editing.ours(actor, order, values.get("nursery"))
    order = draft_of(actor, order)
    values = {name: value for name, value in values.items() if name in FIELDS}
    _check_dates(values.get("order_by", order.order_by), values.get("needed_by", order.needed_by))
    if (values.get("deposit_minor") or 0) < 0:
        raise Refusal(_("A deposit cannot be negative."), field="deposit")
    _check_rate(order, values)
    changed = editing.change(actor, order, values, "stock_order.edited", version=version)
    reminders.renew_orders(actor.organisation)
    return changed


def _check_dates(order_by: date | None, needed_by: date | None) -> None:
    if order_by and needed_by and order_by > needed_by:
        raise Refusal(_("The latest order date lies before the day the plants are needed."), field="order_by")


def _check_rate(order: StockOrder, values: Mapping[str, Any]) -> None:
    """A rate of exchange stands with its day, and is above zero."""
    rate = values.get("exchange_rate", order.exchange_rate)
    rate_on = values.get("exchange_rate_on", order.exchange_rate_on)
    if rate is not None and rate <= 0:
        raise Refusal(_("A rate is above zero."), field="exchange_rate")
    if (rate is None) != (rate_on is None):
        missing = "exchange_rate" if rate is None else "exchange_rate_on"
        raise Refusal(_("Write the rate and its day, or neither."), field=missing)


@transaction.atomic
def place_order(*, actor: Actor, order: StockOrder) -> StockOrder:
    """Note that the order was sent to its nursery; of two people pressing at once, one wins."""
    actor.require("order.edit")
    editing.ours(actor, order)
    held = draft_of(actor, order)
    if held.nursery is None:
        raise Refusal(_("Choose the nursery before placing the order."), field="nursery")
    if held.nursery.archived_at is not None:
        raise Refusal(_("This nursery is put away. Choose another, or bring it back."), field="nursery")
    lines = list(held.lines.select_related("species").prefetch_related("substitutes__species"))
    if not lines:
        raise Refusal(_("The order asks for nothing yet. Add a line first."), field="lines")
    for line in lines:
        if line.substitution == SubstitutionRule.LISTED and not line.substitutes.all():
            words = _("%(line)s: list what may come instead, or choose another rule.")
            raise Refusal(words % {"line": line_words(line)}, field="lines")
    named = [line.species for line in lines] + [
        row.species for line in lines for row in line.substitutes.all()
    ]
    refuse_invasive(actor, *named, field="lines")
    today = clocks.today_of(actor.organisation)
    return _turn(actor, held, "stock_order.placed", status=OrderStatus.PLACED, ordered_on=today)


@transaction.atomic
def confirm_order(
    *, actor: Actor, order: StockOrder, promised_on: date | None = None, confirmed_on: date | None = None,
    nursery_reference: str = "", quantities: Mapping[int, int | None] | None = None, version: str = "",
) -> StockOrder:  # fmt: skip
    """Write down what the nursery answered: its number, the day it promises, how many of each line.

    `quantities` maps line ids to plants; a line it does not name keeps its number. Asked again while the order is
    under way, it replaces the answer before.
    """
    held = _under_way(actor, order)
    now = {"promised_on": promised_on, "confirmed_on": confirmed_on, "nursery_reference": nursery_reference}
    if version and version != seen(held):
        numbers = {f"line-{line.pk}": line.confirmed_quantity for line in held.lines.all()}
        stored = {name: getattr(held, name) for name in now} | numbers
        raise editing.ChangedMeanwhile(held, stored, seen(held))
    now["confirmed_on"] = confirmed_on or clocks.today_of(actor.organisation)
    _check_answer(held, now)
    change = history.differences(held, now) | _confirm_lines(held, quantities or {})
    for name, value in now.items():
        setattr(held, name, value)
    editing.well_formed(held)
    held.save(update_fields=list(now))
    return _turn(actor, held, "stock_order.confirmed", change=change, status=OrderStatus.CONFIRMED)


def _check_answer(order: StockOrder, now: Mapping[str, Any]) -> None:
    ordered, today = order.ordered_on, clocks.today_of(order.organisation)
    if now["confirmed_on"] > today:
        raise Refusal(_("This day has not come yet."), field="confirmed_on")
    if ordered is not None and now["confirmed_on"] < ordered:
        raise Refusal(_("The nursery answers after the order was placed."), field="confirmed_on")
    if ordered is not None and now["promised_on"] is not None and now["promised_on"] < ordered:
        raise Refusal(_("The promised day lies before the order was placed."), field="promised_on")


def _confirm_lines(order: StockOrder, quantities: Mapping[int, int | None]) -> dict[str, list[Any]]:
    change: dict[str, list[Any]] = {}
    for line in order.lines.select_related("species"):
        number = quantities.get(line.pk, line.confirmed_quantity)
        if number is not None and number < 0:
            raise Refusal(_("Write 0 or more."), field=f"line-{line.pk}")
        if number != line.confirmed_quantity:
            change[line_words(line)] = [line.confirmed_quantity, number]
            line.confirmed_quantity = number
            editing.well_formed(line)
            line.save(update_fields=["confirmed_quantity"])
    return change


@transaction.atomic
def close_order(*, actor: Actor, order: StockOrder, reason: str = "") -> StockOrder:
    """Say that nothing more is to come; where something is missing, say why."""
    held = _under_way(actor, order)
    today = clocks.today_of(actor.organisation)
    if standing_of(held, today).to_come and not reason.strip():
        raise Refusal(
            _("Not everything has come. Say in a few words why the rest will not come."), field="reason"
        )
    return _turn(actor, held, "stock_order.closed", reason=reason, status=OrderStatus.CLOSED, closed_on=today)


@transaction.atomic
def cancel_order(*, actor: Actor, order: StockOrder, reason: str) -> StockOrder:
    """Call an order off; it stays in the records."""
    actor.require("order.edit")
    editing.ours(actor, order)
    held = editing.held(order)
    if held.status in (OrderStatus.CLOSED, OrderStatus.CANCELLED):
        raise Refusal(_("This order is %(status)s already.") % {"status": held.get_status_display()})
    if not reason.strip():
        raise Refusal(_("Say in a few words why the order is called off."), field="reason")
    return _turn(actor, held, "stock_order.cancelled", reason=reason, status=OrderStatus.CANCELLED)


@transaction.atomic
def reopen_order(*, actor: Actor, order: StockOrder, reason: str) -> StockOrder:
    """Take back that an order was closed or called off; it stands as it stood before."""
    actor.require("order.edit")
    editing.ours(actor, order)
    held = editing.held(order)
    if held.status not in (OrderStatus.CLOSED, OrderStatus.CANCELLED):
        raise Refusal(_("This order is open already."), code="changed_meanwhile")
    if not reason.strip():
        raise Refusal(_("Say in a few words why the order is opened again."), field="reason")
    before = OrderStatus.DRAFT if held.ordered_on is None else OrderStatus.PLACED
    before = before if held.confirmed_on is None else OrderStatus.CONFIRMED
    return _turn(actor, held, "stock_order.reopened", reason=reason, status=before, closed_on=None)


def _under_way(actor: Actor, order: StockOrder) -> StockOrder:
    """The locked order, if it is placed or confirmed and stands as the person saw it."""
    actor.require("order.edit")
    editing.ours(actor, order)
    held: StockOrder = editing.held(order)
    if held.status != order.status:
        raise changed_meanwhile()
    if held.status not in UNDER_WAY:
        words = _("This order is %(status)s; this is for orders that are placed and not closed.")
        raise Refusal(words % {"status": held.get_status_display()}, code="not_under_way")
    return held


def _turn(
    actor: Actor, order: StockOrder, verb: str, *, reason: str = "", change: dict[str, Any] | None = None,
    **values: Any,
) -> StockOrder:  # fmt: skip
    """Move a locked order on, if it still stands where it stood when it was read."""
    if not StockOrder.objects.filter(pk=order.pk, status=order.status).update(**values):
        raise changed_meanwhile()
    told = {"status": [str(order.status), str(values["status"])]} if values["status"] != order.status else {}
    history.record(actor, verb, order, change=told | (change or {}), reason=reason)
    reminders.renew_orders(actor.organisation)
    order.refresh_from_db()
    return order
