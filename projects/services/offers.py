"""Price lists of nurseries: a line added, changed, put away; a whole list read in."""

from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Nursery, StockOffer, StockType, Unit
from projects.services import archiving, editing
from projects.services.organisations import known_currency

FIELDS = (
    "species", "stock_type", "unit", "age_code", "provenance", "unit_price_minor", "currency", "on_offer",
    "least_quantity", "lead_time_weeks", "valid_from", "valid_until", "note",
)  # fmt: skip
SAME_LINE = ("species_id", "stock_type", "unit", "age_code", "provenance", "least_quantity", "currency")
MOST_WEEKS = 520


@transaction.atomic
def make_offer(*, actor: Actor, nursery: Nursery, **values: Any) -> StockOffer:
    """Add a line to a nursery's price list."""
    actor.require("nursery.edit")
    editing.ours(actor, nursery)
    values = _checked(actor, values)
    return editing.make(actor, StockOffer(nursery=nursery, **values), "stock_offer.made")


@transaction.atomic
def edit_offer(*, actor: Actor, offer: StockOffer, version: str = "", **values: Any) -> StockOffer:
    """Change a line; orders and plans keep the price they copied."""
    actor.require("nursery.edit")
    editing.ours(actor, offer)
    return editing.change(actor, offer, _checked(actor, values, offer), "stock_offer.edited", version=version)


@transaction.atomic
def archive_offer(*, actor: Actor, offer: StockOffer, reason: str = "") -> StockOffer:
    """Put a line away: it is not sold any more."""
    actor.require("nursery.edit")
    editing.ours(actor, offer)
    return archiving.put_away(actor=actor, row=offer, verb="stock_offer", reason=reason)


@transaction.atomic
def restore_offer(*, actor: Actor, offer: StockOffer) -> StockOffer:
    """Bring a line back."""
    actor.require("nursery.edit")
    editing.ours(actor, offer)
    return archiving.bring_back(actor=actor, row=offer, verb="stock_offer")


@transaction.atomic
def take_price_list(
    *, actor: Actor, nursery: Nursery, lines: Sequence[dict[str, Any]], replaces: bool = False
) -> dict[str, int]:
    """Write a whole price list: a line that is there already is changed, a new one added.

    `replaces` puts away what the list does not name any more. Returns how many were added, changed, put away.
    Reading the same list twice changes nothing the second time.
    """
    actor.require("nursery.edit")
    editing.ours(actor, nursery)
    editing.held(nursery)  # two who read one list at once do not double it
    standing = {_same(row): row for row in nursery.offers.filter(archived_at=None).order_by("id")}
    done = {"added": 0, "changed": 0, "put_away": 0}
    named = set()
    for line in lines:
        values = _checked(actor, line)
        new = StockOffer(organisation=actor.organisation, nursery=nursery, **values)
        key, known = _same(new), standing.get(_same(new))
        if known is None:
            standing[key] = editing.make(actor, new, "stock_offer.made")
            done["added"] += 1
        elif history.differences(known, values):
            standing[key] = editing.change(actor, known, values, "stock_offer.edited")
            done["changed"] += key not in named
        named.add(key)
    gone = [row for key, row in standing.items() if key not in named] if replaces else []
    for row in gone:
        archiving.put_away(actor=actor, row=row, verb="stock_offer")
    done["put_away"] = len(gone)
    if any(done.values()):
        history.record(actor, "nursery.price_list_read", nursery, change={"lines": [None, len(lines)]})
    return done


def _same(row: StockOffer) -> tuple:
    """What makes two lines one: a price for another number of plants is another line."""
    return tuple(getattr(row, name) for name in SAME_LINE)


def _checked(actor: Actor, values: dict[str, Any], offer: StockOffer | None = None) -> dict[str, Any]:
    values = {name: value for name, value in values.items() if name in FIELDS}

    def standing(name: str) -> Any:
        return values.get(name, getattr(offer, name, None))

    editing.species_for_use(actor, values.get("species"))
    stock_type = standing("stock_type")
    if stock_type not in StockType.values:
        raise Refusal(_("Choose the stock type."), field="stock_type")
    unit = standing("unit") or (Unit.SEED_SPOT if stock_type == StockType.DIRECT_SEED else Unit.TREE)
    if (stock_type == StockType.DIRECT_SEED) == (unit == Unit.TREE):
        raise Refusal(
            _("Seed is sold by the spot or by weight or area, every other stock type by the tree."),
            field="unit",
        )
    values["unit"] = unit
    _check_figures(standing)
    return values


def _check_figures(standing: Any) -> None:
    known_currency(standing("currency"))
    price = standing("unit_price_minor")
    if price is None:
        raise Refusal(_("Write the price of one; 0 where it costs nothing."), field="unit_price")
    if price < 0:
        raise Refusal(_("A price cannot be negative."), field="unit_price")
    if (standing("lead_time_weeks") or 0) > MOST_WEEKS:
        raise Refusal(_("That is more than ten years; write weeks, not days."), field="lead_time_weeks")
    starts, ends = standing("valid_from"), standing("valid_until")
    if starts and ends and ends < starts:
        raise Refusal(_("The price ends before it begins."), field="valid_until")
    fewest, there_are = standing("least_quantity"), standing("on_offer")
    if fewest is not None and there_are is not None and fewest > there_are:
        raise Refusal(_("The fewest sold is more than there are."), field="least_quantity")
