"""What lower apps tell upper ones: a change was made that derived figures rest on.

Projects knows nothing of rounds and estimates; monitoring listens and marks its figures as behind.
Listeners run inside the transaction of the change.
"""

from collections.abc import Callable
from typing import Any

Listener = Callable[[Any], None]
listeners: dict[str, list[Listener]] = {}

KINDS = (
    "planting_changed",  # a block: trees planted there changed
    "ground_changed",  # a block: its net area changed
    "block_changed",  # a block: target stocking or project changed
    "project_changed",  # a project: target, check age or levels changed
    "lot_changed",  # a stock lot: species, type or nursery changed
    "orders_changed",  # an organisation: what is on order, or drafted to be, changed
    "status_changed",  # (organisation, country code): where a species is native or invasive changed
    "job_waiting",  # a job: somebody asked for long work
)


def listen(kind: str, listener: Listener) -> None:
    """Register a listener once."""
    if kind not in KINDS:
        raise ValueError(f"Unknown announcement {kind!r}; use one of {', '.join(KINDS)}.")
    if listener not in listeners.setdefault(kind, []):
        listeners[kind].append(listener)


def announce(kind: str, subject: Any) -> None:
    """Tell everybody who listens, before the transaction ends."""
    for listener in listeners.get(kind, []):
        listener(subject)
