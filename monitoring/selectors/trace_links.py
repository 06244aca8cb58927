"""Links from pages of stock and planting to what came of them."""

from collections.abc import Callable
from typing import Any

from django.urls import reverse

from projects.access import Actor


def link_of(noun: str) -> Callable[[Actor, Any], dict[str, Any]]:
    """Return the reader of a panel that leads to where a record's trees went."""

    def read(actor: Actor, row: Any) -> dict[str, Any]:
        kwargs = {"org": actor.organisation.slug, "uid": row.uid}
        return {"url": reverse(f"monitoring:trace_{noun}", kwargs=kwargs)}

    return read
