"""One click from a need to a draft order. The order copies its figures, so it stands when the need is recomputed."""

import math
from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from monitoring import access
from monitoring.models import ReplacementNeed
from monitoring.selectors.needs import held_needs, orders_of, prices_of
from projects import figures
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Block, Nursery, Project, StockLot, StockOrder
from projects.services.orders import Line, draft_order


@transaction.atomic
def draft_from_needs(*, actor: Actor, block: Block) -> StockOrder:
    """Draft an order for what a block needs now; asked again for the same figures, return the draft there is."""
    actor.require("need.order")
    project = Project.objects.select_for_update().get(pk=block.project_id)  # two clicks make one order
    needs = list(
        access.visible_needs(actor)
        .filter(block=block, status="ok")
        .select_related("species", "round")
        .order_by("id")
    )
    lines = lines_of(actor, block, needs)
    if not lines:
        raise Refusal(
            _(
                "This block needs no order, or too few plots say which species to order. Write the order by hand."
            ),
            code="nothing_to_order",
        )
    used = [need for need in needs if need.species_id is not None] or needs
    for order in orders_of(actor, [block.pk]).get(block.pk, []):
        if same_needs(order, used):
            return order
    return draft_order(
        actor=actor,
        project=project,
        lines=lines,
        nursery=nursery_of(actor, lines),
        order_by=min((need.order_by for need in used if need.order_by), default=None),
        needed_by=min((need.window_opens_on for need in used if need.window_opens_on), default=None),
        reason=reason_of(block, used),
        copied_figures={"block": str(block.uid), "needs": [copied(need) for need in used]},
    )


def lines_of(actor: Actor, block: Block, needs: Sequence[ReplacementNeed]) -> list[Line]:
    """One line for each species in need; where only the whole block has a figure, its number shared out."""
    prices = prices_of(actor)
    wanted = [(need, need.n_assured or 0) for need in needs if need.species_id is not None]
    whole = next((need for need in needs if need.species_id is None), None)
    if not any(number for _need, number in wanted) and whole is not None:
        wanted = shared_out(actor, block, whole)
    lines = []
    for need, number in wanted:
        if number and need.species is not None and need.stock_type:
            price, currency = prices.get((need.species_id, need.stock_type), (None, ""))
            lines.append(Line(need.species, need.stock_type, number, block, price, currency))
    return lines


def shared_out(actor: Actor, block: Block, whole: ReplacementNeed) -> list[tuple[ReplacementNeed, int]]:
    """The block's number over its species, by their shares of its target: too few plots hold each by itself."""
    rows = list(
        access.visible_needs(actor)
        .filter(block=block, species__isnull=False, target__gt=0)
        .select_related("species")
        .order_by("id")
    )
    total = sum(row.target or 0 for row in rows)
    return (
        [(row, math.ceil((whole.n_assured or 0) * (row.target or 0) / total)) for row in rows]
        if total
        else []
    )


def same_needs(order: StockOrder, needs: Sequence[ReplacementNeed]) -> bool:
    """Whether an order was drafted from exactly these figures."""
    held = held_needs(order)
    return {need["uid"]: need for need in map(copied, needs)} == held


def copied(need: ReplacementNeed) -> dict[str, Any]:
    """The figures an order keeps of a need."""
    return {
        "uid": str(need.uid),
        "round": str(need.round.uid),
        "species": need.species.slug if need.species else "",
        "stock_type": need.stock_type,
        "target": need.target,
        "living": need.living,
        "living_lower": need.living_lower,
        "living_upper": need.living_upper,
        "n_expected": need.n_expected,
        "n_assured": need.n_assured,
        "assurance": need.assurance,
        "revision": need.revision,
    }


def reason_of(block: Block, needs: Sequence[ReplacementNeed]) -> str:
    """Why the order is made, in words that stay true when figures change."""
    words = _(
        "Replacement for %(block)s: expected need %(expected)s, assured %(assured)s; figures of revision %(n)s."
    )
    return words % {
        "block": block.name,
        "expected": figures.quantity(sum(need.n_expected or 0 for need in needs)),
        "assured": figures.quantity(sum(need.n_assured or 0 for need in needs)),
        "n": figures.quantity(max(need.revision for need in needs)),
    }  # fmt: skip


def nursery_of(actor: Actor, lines: Sequence[Line]) -> Nursery | None:
    """The nursery that last delivered every line's species, if it is one and still in use."""
    wanted = {(line.species.pk, line.stock_type) for line in lines}
    lots = StockLot.objects.filter(
        organisation=actor.organisation, species_id__in=[pk for pk, _type in wanted]
    )
    last: dict[tuple[int, str], Nursery] = {}
    for lot in lots.select_related("nursery").order_by("received_on", "id"):
        last[lot.species_id, lot.stock_type] = lot.nursery
    found = {last[key] for key in wanted if key in last}
    only = found.pop() if len(found) == 1 else None
    return only if only is not None and only.archived_at is None else None
