"""Price lists: what the nurseries of an organisation sell, and what holds on a day."""

from collections.abc import Iterable
from datetime import date

from django.db.models import Q, QuerySet

from projects import access
from projects.access import Actor
from projects.models import Nursery, Organisation, StockOffer


def price_list(actor: Actor, nursery: Nursery, *, archived: bool = False) -> QuerySet[StockOffer]:
    """Return the lines of a nursery's price list by species."""
    rows = access.visible_offers(actor).filter(nursery=nursery, archived_at__isnull=not archived)
    return rows.select_related("species", "nursery").order_by(
        "species__scientific_name", "stock_type", "least_quantity", "unit_price_minor", "id"
    )


def current_offers(organisation: Organisation, on_day: date) -> list[StockOffer]:
    """Return every offer that holds on a day, of nurseries in use, in one query.

    Each has `species`, `stock_type`, `unit`, `unit_price_minor` with `currency`, `on_offer`, `least_quantity`
    (None: not limited), `weeks_to_wait` and `nursery`. Sorted by species, stock type and price.
    """
    rows = StockOffer.objects.filter(organisation=organisation, archived_at=None, nursery__archived_at=None)
    rows = rows.filter(Q(valid_from=None) | Q(valid_from__lte=on_day))
    rows = rows.filter(Q(valid_until=None) | Q(valid_until__gte=on_day))
    return list(
        rows.select_related("species", "nursery").order_by(
            "species__scientific_name", "stock_type", "unit_price_minor", "nursery__name", "id"
        )
    )


def cheapest(offers: Iterable[StockOffer], currency: str) -> dict[tuple[int, str], StockOffer]:
    """Return the cheapest offer of each species and stock type among those in one currency.

    Where there is none in that currency, the first in another: its price is not compared with anything.
    """
    found: dict[tuple[int, str], StockOffer] = {}
    for offer in offers:
        known = found.get((offer.species_id, offer.stock_type))
        if known is None or _is_cheaper(offer, known, currency):
            found[offer.species_id, offer.stock_type] = offer
    return found


def _is_cheaper(offer: StockOffer, known: StockOffer, currency: str) -> bool:
    if offer.currency != currency:
        return False
    return known.currency != currency or offer.unit_price_minor < known.unit_price_minor
