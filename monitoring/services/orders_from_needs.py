"""One click from a need to a draft order. The order copies its figures, so it stands when the need is recomputed."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import transaction
from django.db.models import Sum
from django.utils.dateparse import parse_date
from django.utils.translation import gettext as _

from monitoring import access
from monitoring.cause_words import causes_words
from monitoring.models import ReplacementNeed
from monitoring.selectors.loss_causes import Causes, standing
from monitoring.selectors.needs import held_needs, orders_of, prices_of
from projects import figures
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Block, Cohort, Nursery, StockLot, StockOrder
from projects.services import editing
from projects.services.orders import Line, draft_order


@dataclass(frozen=True)
class Wanted:
    """What is ordered for one need: the stock planted before, or the other stock chosen where it is offered."""

    need: ReplacementNeed
    facts: Mapping[str, Any]
    number: int

    @classmethod
    def of(cls, need: ReplacementNeed, stock_type: str) -> "Wanted":
        choices = need.facts.get("choices", ())
        same: dict[str, Any] = {
            "stock_type": need.stock_type,
            "n_expected": need.n_expected,
            "n_assured": need.n_assured,
        }
        offered = {facts["stock_type"]: facts for facts in choices}
        chosen = offered.get(stock_type or need.stock_type) or offered.get(need.stock_type) or same
        return cls(need, chosen, chosen["n_assured"] or 0)

    @property
    def stock_type(self) -> str:
        return self.facts["stock_type"]

    def day(self, name: str) -> date | None:
        """One of the dates of the choice."""
        return parse_date(self.facts.get(name) or "")

    def copied(self) -> dict[str, Any]:
        """The figures an order keeps of a need."""
        need = self.need
        return {
            "uid": str(need.uid),
            "round": str(need.round.uid),
            "species": need.species.slug if need.species else "",
            "stock_type": self.stock_type,
            "target": need.target,
            "living": need.living,
            "living_lower": need.living_lower,
            "living_upper": need.living_upper,
            "living_at_check": need.living_at_check,
            "n_expected": self.facts["n_expected"],
            "n_assured": self.facts["n_assured"],
            "assurance": need.assurance,
            "revision": need.revision,
        }


@transaction.atomic
def draft_from_needs(*, actor: Actor, block: Block, stock_type: str = "") -> StockOrder:
    """Draft an order for what a block needs now; asked again for the same figures, return the draft there is.

    `stock_type` names another stock type to take where the need offers it; empty keeps the one planted before.
    """
    actor.require("need.order")
    project = editing.held(block.project)  # two clicks make one order
    needs = list(
        access.visible_needs(actor)
        .filter(block=block, status="ok")
        .select_related("species", "round")
        .order_by("id")
    )
    if stock_type and not any(offers(need, stock_type) for need in needs):
        raise Refusal(
            _("This stock type is not offered for the block any more. Look at its choices again."),
            field="stock_type",
            code="not_offered",
        )
    wanted = [Wanted.of(need, stock_type) for need in needs]
    lines = lines_of(actor, block, wanted)
    if not lines:
        raise Refusal(
            _(
                "This block needs no order, or too few plots say which species to order. Write the order by hand."
            ),
            code="nothing_to_order",
        )
    used = [row for row in wanted if row.need.species_id is not None] or wanted
    for order in orders_of(actor, [block.pk]).get(block.pk, []):
        if same_needs(order, used):
            return order
    return draft_order(
        actor=actor,
        project=project,
        lines=lines,
        nursery=nursery_of(actor, lines),
        order_by=min((day for row in used if (day := row.day("order_by"))), default=None),
        needed_by=min((day for row in used if (day := row.day("opens_on"))), default=None),
        reason=f"{reason_of(block, used)} {cause_of_loss(actor, block, used)}",
        copied_figures={
            "block": str(block.uid),
            "needs": [row.copied() for row in used],
            "replaces": replaced_by_species(block),
        },
    )


def offers(need: ReplacementNeed, stock_type: str) -> bool:
    """Whether a stock type is among the choices of a need."""
    return any(facts["stock_type"] == stock_type for facts in need.facts.get("choices", ()))


def replaced_by_species(block: Block) -> dict[str, str]:
    """The planting that replacements of each species stand in for: its largest first one; "" for any other."""
    rows = list(
        Cohort.objects.filter(block=block, replaces__isnull=True, planting_days__voided_at__isnull=True)
        .annotate(trees=Sum("planting_days__quantity"))
        .select_related("species")
        .order_by("trees", "-id")
    )
    named = {row.species.slug: str(row.uid) for row in rows}
    return named | {"": str(rows[-1].uid)} if rows else {}


def lines_of(actor: Actor, block: Block, wanted: Sequence[Wanted]) -> list[Line]:
    """One line for each species in need; where only the whole block has a figure, its number shared out."""
    prices = prices_of(actor)
    asked = [(row.need, row.stock_type, row.number) for row in wanted if row.need.species_id is not None]
    whole = next((row for row in wanted if row.need.species_id is None), None)
    if not any(number for _need, _stock, number in asked) and whole is not None:
        asked = shared_out(actor, block, whole)
    lines = []
    for need, stock, number in asked:
        if number and need.species is not None and stock:
            price, currency = prices.get((need.species_id, stock), (None, ""))
            lines.append(Line(need.species, stock, number, block, price, currency))
    return lines


def shared_out(actor: Actor, block: Block, whole: Wanted) -> list[tuple[ReplacementNeed, str, int]]:
    """The block's number over its species, by their shares of its target: too few plots hold each by itself."""
    rows = list(
        access.visible_needs(actor)
        .filter(block=block, species__isnull=False, target__gt=0)
        .select_related("species")
        .order_by("id")
    )
    total = sum(row.target or 0 for row in rows)
    is_same = whole.stock_type == whole.need.stock_type
    return [
        (
            row,
            row.stock_type if is_same else whole.stock_type,
            math.ceil(whole.number * (row.target or 0) / total),
        )
        for row in rows
    ]


def same_needs(order: StockOrder, wanted: Sequence[Wanted]) -> bool:
    """Whether an order was drafted from exactly these figures."""
    held = held_needs(order)
    return {need["uid"]: need for need in (row.copied() for row in wanted)} == held


def reason_of(block: Block, wanted: Sequence[Wanted]) -> str:
    """Why the order is made, in words that stay true when figures change."""
    words = _(
        "Replacement for %(block)s: expected need %(expected)s, assured %(assured)s; figures of revision %(n)s."
    )
    return words % {
        "block": block.name,
        "expected": figures.quantity(sum(row.facts["n_expected"] or 0 for row in wanted)),
        "assured": figures.quantity(sum(row.number for row in wanted)),
        "n": figures.quantity(max(row.need.revision for row in wanted)),
    }  # fmt: skip


def cause_of_loss(actor: Actor, block: Block, wanted: Sequence[Wanted]) -> str:
    """What is said to have killed the trees that are replaced, or that nobody has said."""
    causes = Causes.of(standing(actor, [block.pk]).get(block.pk, []), wanted[0].need.round)
    if not causes.own:
        return _("No cause of the losses was assigned.")
    return _("Cause of the losses, as assigned: %(causes)s.") % {"causes": causes_words(causes.told)}


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
