"""Who may open what of: deliveries, hand-over checks, lots split and merged, giving out."""

from typing import Any

POLICY: dict[tuple[str, str], str] = {}


def more(world: Any, text: str) -> None:
    """Add this part's rows to a world; `text` is found on every page that shows them."""


def rows(world: Any) -> dict[str, Any]:
    """Return {full url name: row its uid names} where the noun of the name does not tell."""
    return {}


def nouns(world: Any) -> dict[str, Any]:
    """Return {noun of a url name: row}."""
    return {}
