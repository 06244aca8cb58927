"""Quantities of a plan: a block's mix scaled until it is enough, and the orders drafted from a plan."""

from collections import defaultdict
from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from projects import clocks, figures, history
from projects.access import Actor
from projects.calc.assured_quantity import shared_out
from projects.errors import Refusal
from projects.models import MixLine, Plan, StockOffer, StockOrder
from projects.selectors import plan_buying
from projects.selectors.offers import current_offers
from projects.selectors.plan_targets import BlockTarget, expected_of, targets_of
from projects.selectors.plans import frame_of
from projects.services import editing
from projects.services.orders import Line, draft_order
from projects.services.plans import draft_of


@transaction.atomic
def plant_enough(*, actor: Actor, plan: Plan, block_uid: UUID) -> list[MixLine]:
    """Scale a block's lines, proportions kept, to the smallest number that reaches its target surely enough."""
    plan = draft_of(actor, plan)
    frame = frame_of(actor, plan)
    rows = targets_of(frame, expected_of(frame))
    row = next((each for each in rows if each.ground.block.uid == block_uid), None)
    if row is None or row.found is None:
        raise Refusal(
            _("It cannot be said how many this block needs. See what is missing."), code="no_figure"
        )
    if row.does_not_fit:
        raise Refusal(too_small_words(row), code="too_few_spots")
    if row.found.n_assured == 0:
        raise Refusal(_("This block needs no tree to reach its target."), code="none_needed")
    lines = list(row.ground.lines)
    numbers = shared_out(row.found.n_assured, [line.quantity for line in lines])
    if 0 in numbers:
        raise Refusal(
            _("So few trees leave nothing of some species. Take them out of the mix first."), code="too_few"
        )
    change = {}
    for line, number in zip(lines, numbers, strict=True):
        change[f"{row.ground.block.name}: {line.species}, {line.get_stock_type_display()}"] = [
            line.quantity,
            number,
        ]
        line.quantity = number
        line.save(update_fields=["quantity"])
    history.record(actor, "plan.mix_edited", plan, change=change)
    return lines


def too_small_words(row: BlockTarget) -> str:
    """Why a block cannot take the number it needs, and what would help."""
    words = _(
        "%(block)s has %(spots)s planting spots and needs %(n)s plants. Plant closer, choose stock that lives better,"
        " or ask for less: a lower target, or to be less sure."
    )
    return words % {
        "block": row.ground.block.name,
        "spots": figures.quantity(row.spots),
        "n": figures.quantity(row.found.n_assured if row.found else None),
    }


@transaction.atomic
def draft_orders(*, actor: Actor, plan: Plan) -> tuple[list[StockOrder], bool]:
    """Draft one order for each nursery and wave; pressed again, return the orders there are.

    The second value says whether they were made now. What no nursery is known to sell goes into an order without
    one. To draft afresh, the earlier orders are called off first.
    """
    actor.require("order.edit")
    editing.ours(actor, plan)
    plan = editing.held(plan)  # two clicks make one set of orders
    known = plan_buying.orders_of_plan(str(plan.uid), plan.project_id)
    if known:
        return known, False
    today = clocks.today_of(actor.organisation)
    frame = frame_of(actor, plan)
    days = plan_buying.days_of_lines(frame, today)
    bought = plan_buying.to_buy(frame, days, current_offers(actor.organisation, today), today)
    if not bought:
        raise Refusal(
            _("The plan plants nothing yet, so there is nothing to order."), code="nothing_to_order"
        )
    groups: dict[tuple[int, int], list[tuple[plan_buying.ToBuy, plan_buying.Part]]] = defaultdict(list)
    for row in bought:
        for part in row.parts:
            nursery_id = part.offer.nursery_id if part.offer else 0
            groups[row.line.wave, nursery_id].append((row, part))
    return [_draft(actor, plan, wave, parts) for (wave, _id), parts in sorted(groups.items())], True


def _draft(
    actor: Actor, plan: Plan, wave: int, parts: Sequence[tuple[plan_buying.ToBuy, plan_buying.Part]]
) -> StockOrder:
    offer = parts[0][1].offer
    words = _("From the plan of %(project)s, version %(n)s; culls and handling losses are in the numbers.")
    return draft_order(
        actor=actor,
        project=plan.project,
        lines=[line for row, part in parts for line in _lines(row, part, part.offer)],
        nursery=offer.nursery if offer else None,
        order_by=min((part.order_by for _row, part in parts if part.order_by), default=None),
        needed_by=min((row.first_day for row, _part in parts if row.first_day), default=None),
        reason=words % {"project": plan.project.name, "n": plan.version},
        copied_figures=_copied(plan, wave, parts),
    )


def _lines(row: plan_buying.ToBuy, part: plan_buying.Part, offer: StockOffer | None) -> list[Line]:
    price, currency = (offer.unit_price_minor, offer.currency) if offer else (None, "")
    return [
        Line(line.species, line.stock_type, number, line.block, price, currency)
        for line, number in plan_buying.by_block(row, part)
    ]


def _copied(
    plan: Plan, wave: int, parts: Sequence[tuple[plan_buying.ToBuy, plan_buying.Part]]
) -> dict[str, Any]:
    return {
        "plan": str(plan.uid), "version": plan.version, "wave": wave, "cull_share": plan.cull_share,
        "handling_loss_share": plan.handling_loss_share,
        "kinds": [
            {"species": row.line.species.slug, "stock_type": row.line.stock_type, "planted": row.planted,
             "ordered": row.ordered, "here": part.quantity}
            for row, part in parts
        ],
    }  # fmt: skip
