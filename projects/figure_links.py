"""Where a figure is explained: an address given by the app that computes figures, so that arrows point one way."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest

Address = Callable[[str, Any], str]  # (organisation's slug, figure) → address, or "" for none

registered: list[Address] = []


def register(address: Address) -> None:
    """Say where figures are explained."""
    if address not in registered:
        registered.append(address)


def explained_at(request: HttpRequest | None, figure: Any) -> str:
    """The page that tells how a figure was computed; empty for those who are no members and so have no such page."""
    actor = getattr(request, "actor", None)
    if actor is None or not actor.may("result.view"):
        return ""
    return next((found for address in registered if (found := address(actor.organisation.slug, figure))), "")
