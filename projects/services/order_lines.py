"""The lines of a draft order: added, changed, taken out, with what may come instead."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import clocks, history, versions
from projects.access import Actor
from projects.errors import Refusal
from projects.models import (
    Block,
    LineSubstitute,
    OrderLine,
    OrderStatus,
    StockLot,
    StockOrder,
    StockType,
    SubstitutionRule,
)
from projects.selectors.orders import offer_for_line
from projects.services import editing, reminders
from projects.services.invasive import refuse_invasive
from projects.services.organisations import known_currency
from species.models import Species

MOST_SUBSTITUTES = 5
UNDER_WAY = (OrderStatus.PLACED, OrderStatus.CONFIRMED)
FIELDS = (
    "species", "stock_type", "quantity", "block", "unit_price_minor", "currency", "age_code", "provenance",
    "substitution", "note",
)  # fmt: skip


@dataclass(frozen=True)
class Line:
    """What one line of an order asks for. `substitutes` are species and stock types ("" = any), the wanted first."""

    species: Species
    stock_type: str
    quantity: int
    block: Block | None = None
    unit_price_minor: int | None = None
    currency: str = ""
    age_code: str = ""
    provenance: str = ""
    substitution: str = SubstitutionRule.ASK
    note: str = ""
    substitutes: Sequence[tuple[Species, str]] = field(default=())


@transaction.atomic
def add_line(*, actor: Actor, order: StockOrder, **values: Any) -> OrderLine:
    """Add a line to a draft."""
    actor.require("order.edit")
    editing.ours(actor, order)
    held = draft_of(actor, order)
    line = add_checked(actor, held, Line(**values), from_list=True)
    history.record(actor, "stock_order.line_added", held, change={line_words(line): [None, line.quantity]})
    reminders.renew_orders(actor.organisation)
    return line


def add_checked(actor: Actor, order: StockOrder, line: Line, *, from_list: bool = False) -> OrderLine:
    """Write a line of a locked or new draft; `from_list` takes a missing price from the nursery's price list."""
    values = {name: getattr(line, name) for name in FIELDS}
    values["currency"] = line.currency or order.currency
    row = OrderLine(organisation=actor.organisation, order=order, **values)
    _check(actor, row, line.substitutes)
    if from_list:
        _take_price(row)
    row.save(force_insert=True)
    _write_substitutes(actor, row, line.substitutes)
    return row


@transaction.atomic
def change_line(*, actor: Actor, line: OrderLine, version: str = "", **values: Any) -> OrderLine:
    """Change a line of a draft, and what may come instead."""
    actor.require("order.edit")
    editing.ours(actor, line)
    order = draft_of(actor, line.order)
    held: OrderLine = editing.held(line)
    substitutes = values.pop("substitutes", None)
    values = {name: value for name, value in values.items() if name in FIELDS}
    if version and version != seen_line(held):
        raise editing.ChangedMeanwhile(held, {name: getattr(held, name) for name in values}, seen_line(held))
    before = _substitutes_words(held)
    as_stored = {name: getattr(held, name) for name in FIELDS}
    for name, value in values.items():
        setattr(held, name, value)
    wanted = [(row.species, row.stock_type) for row in held.substitutes.select_related("species")]
    wanted = wanted if substitutes is None else list(substitutes)
    _check(actor, held, wanted)
    _take_price(held)
    differences = _differences(as_stored, held)
    if differences:
        held.save(update_fields=list(differences))
    _write_substitutes(actor, held, wanted)
    if (after := _substitutes_words(held)) != before:
        differences["substitutes"] = [before, after]
    if differences:
        history.record(actor, "stock_order.line_changed", order, change=_named(held, differences))
        reminders.renew_orders(actor.organisation)
    return held


@transaction.atomic
def remove_line(*, actor: Actor, line: OrderLine) -> None:
    """Take a line out of a draft; the last one stays, since an order asks for something."""
    actor.require("order.edit")
    editing.ours(actor, line)
    order = draft_of(actor, line.order)
    if not order.lines.exclude(pk=line.pk).exists():
        raise Refusal(_("An order asks for at least one thing. Change this line, or call the order off."))
    change = {line_words(line): [line.quantity, None]}
    if order.lines.filter(pk=line.pk).delete()[0]:
        history.record(actor, "stock_order.line_taken_out", order, change=change)
        reminders.renew_orders(actor.organisation)


@transaction.atomic
def agree_to(*, actor: Actor, line: OrderLine, lot: StockLot, reason: str) -> LineSubstitute:
    """Say that something else that came may stand for a line of an order under way; its kind goes on the line's list.

    The rule the line was ordered by stays, so that the next surprise is asked about again.
    """
    actor.require("order.edit")
    editing.ours(actor, line, lot)
    order: StockOrder = editing.held(line.order)
    if order.status not in UNDER_WAY:
        words = _("This order is %(status)s; this is for orders that are placed and not closed.")
        raise Refusal(words % {"status": order.get_status_display()}, code="not_under_way")
    if lot.order_line_id != line.pk:
        raise Refusal(_("This lot did not come for this line."), field="lot")
    if not reason.strip():
        raise Refusal(_("Say in a few words why it will do."), field="reason")
    rows = list(line.substitutes.order_by("rank", "id"))
    for row in rows:
        if (row.species_id, row.stock_type) == (lot.species_id, lot.stock_type):
            return row
    refuse_invasive(actor, lot.species)
    rank = max((row.rank for row in rows), default=0) + 1
    found = LineSubstitute.objects.create(
        organisation=actor.organisation, line=line, species=lot.species, stock_type=lot.stock_type, rank=rank
    )
    change = {f"{line_words(line)}: substitutes": [None, f"{lot.species}, {lot.get_stock_type_display()}"]}
    history.record(actor, "stock_order.substitute_agreed", order, change=change, reason=reason)
    return found


def draft_of(actor: Actor, order: StockOrder) -> StockOrder:
    """The locked order, which must be a draft: a nursery was told of any other."""
    held: StockOrder = editing.held(order)
    if held.status != OrderStatus.DRAFT:
        raise Refusal(
            _("This order is %(status)s; only a draft can be changed.")
            % {"status": held.get_status_display()},
            code="not_a_draft",
        )
    return held


def changed_meanwhile() -> Refusal:
    """What the second of two people who moved an order on at once is told."""
    return Refusal(
        _("Somebody else changed this order meanwhile. Look at it again."), code="changed_meanwhile"
    )


def seen(order: StockOrder) -> str:
    """A token of an order with its lines, as a person was looking at them."""
    tokens = [versions.token(order), *(versions.token(line) for line in order.lines.order_by("id"))]
    return hashlib.sha256(" ".join(tokens).encode()).hexdigest()[:16]


def seen_line(line: OrderLine) -> str:
    """A token of a line with what may come instead."""
    tokens = [versions.token(line), *(versions.token(row) for row in line.substitutes.order_by("rank", "id"))]
    return hashlib.sha256(" ".join(tokens).encode()).hexdigest()[:16]


def line_words(line: OrderLine) -> str:
    """A line as messages and history name it."""
    return f"{line.species}, {line.get_stock_type_display()}"


def _check(actor: Actor, line: OrderLine, substitutes: Sequence[tuple[Species, str]]) -> None:
    editing.ours(actor, line.block)
    if line.block is not None and line.block.project_id != line.order.project_id:
        raise Refusal(_("This block belongs to another project."), field="block")
    if line.stock_type not in StockType.values:
        raise Refusal(_("Choose the stock type."), field="stock_type")
    if line.quantity < 1:
        raise Refusal(_("A line asks for at least one plant."), field="quantity")
    if line.unit_price_minor is not None and line.unit_price_minor < 0:
        raise Refusal(_("A price cannot be negative."), field="unit_price")
    known_currency(line.currency)
    editing.species_for_use(actor, line.species)
    refuse_invasive(actor, line.species)
    _check_substitutes(actor, line, substitutes)
    editing.well_formed(line)


def _check_substitutes(actor: Actor, line: OrderLine, substitutes: Sequence[tuple[Species, str]]) -> None:
    if substitutes and line.substitution != SubstitutionRule.LISTED:
        words = _(
            "A list of what may come instead counts only with the rule “%(rule)s”. Choose it, or empty the list."
        )
        raise Refusal(words % {"rule": SubstitutionRule.LISTED.label}, field="substitution")
    if len(substitutes) > MOST_SUBSTITUTES:
        raise Refusal(_("List at most %(most)s.") % {"most": MOST_SUBSTITUTES}, field="substitution")
    named = set()
    for species, stock_type in substitutes:
        editing.species_for_use(actor, species)
        if stock_type and stock_type not in StockType.values:
            raise Refusal(_("Choose the stock type."), field="substitution")
        if (species.pk, stock_type) in named or (species.pk, stock_type) == (
            line.species.pk,
            line.stock_type,
        ):
            words = _("%(species)s stands there twice, or is what the line asks for.")
            raise Refusal(words % {"species": species}, field="substitution")
        named.add((species.pk, stock_type))
    refuse_invasive(actor, *(species for species, _type in substitutes), field="substitution")


def _write_substitutes(actor: Actor, line: OrderLine, substitutes: Sequence[tuple[Species, str]]) -> None:
    held = [(row.species_id, row.stock_type) for row in line.substitutes.all()]
    if held == [(species.pk, stock_type) for species, stock_type in substitutes]:
        return
    line.substitutes.all().delete()
    LineSubstitute.objects.bulk_create(
        LineSubstitute(
            organisation=actor.organisation, line=line, species=species, stock_type=stock_type, rank=rank
        )
        for rank, (species, stock_type) in enumerate(substitutes, start=1)
    )


def _take_price(line: OrderLine) -> None:
    """A price that was not typed is the one of the nursery's price list, where it says one."""
    if line.unit_price_minor is None:
        offer = offer_for_line(line, clocks.today_of(line.organisation))
        if offer is not None:
            line.unit_price_minor, line.currency = offer.unit_price_minor, offer.currency


def _differences(before: dict[str, Any], line: OrderLine) -> dict[str, list[Any]]:
    now = {name: getattr(line, name) for name in before}
    return {
        name: [history.plain(value), history.plain(now[name])]
        for name, value in before.items()
        if value != now[name]
    }


def _substitutes_words(line: OrderLine) -> str:
    rows = line.substitutes.select_related("species").order_by("rank", "id")
    return "; ".join(f"{row.species} {row.get_stock_type_display()}".strip() for row in rows)


def _named(line: OrderLine, differences: dict[str, Any]) -> dict[str, Any]:
    """Differences named for the line, since the history they go into is the order's."""
    return {f"{line_words(line)}: {name.replace('_', ' ')}": pair for name, pair in differences.items()}
