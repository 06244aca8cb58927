"""Planting windows of a block: written down from the climate, or stated by hand, and taken away."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import history
from projects.access import Actor
from projects.announcements import announce
from projects.errors import Refusal
from projects.models import Block, PlantingWindow, Site
from projects.services import editing

COMPUTED = "worked out from the site's climate normals"
COMPUTED_OTHERWISE = "worked out from the site's climate normals with changed thresholds"
COMES_ROUND = (COMPUTED, COMPUTED_OTHERWISE)  # every year again; one stated by hand holds for its own dates


@transaction.atomic
def set_climate(*, actor: Actor, site: Site, version: str = "", **values: Any) -> Site:
    """Set the monthly normals of a site and say where they come from."""
    actor.require("site.edit")
    editing.ours(actor, site)
    values = {name: values[name] for name in ("climate_normals", "climate_source") if name in values}
    return editing.change(actor, site, values, "site.edited", version=version)


@transaction.atomic
def write_windows(
    *,
    actor: Actor,
    block: Block,
    stock_types: Iterable[str],
    windows: Iterable[PlantingWindow],
    changed: Sequence[str] = (),
) -> list[PlantingWindow]:
    """Write down windows worked out for a block; they replace earlier worked-out ones of the same stock types.

    Windows stated by hand stay: the person who stated them knows the place. `changed` says in words which
    thresholds were other than usual; the windows then say so, and the history says which.
    """
    actor.require("block.edit")
    editing.ours(actor, block)
    editing.held(block)  # two who write at once do not double them
    types = list(stock_types)
    block.planting_windows.filter(stock_type__in=types, source__in=COMES_ROUND).delete()
    rows = [row for row in windows if row.stock_type in types]
    for row in rows:
        row.block, row.organisation = block, block.organisation
        row.source = COMPUTED_OTHERWISE if changed else COMPUTED
        row.save()
    change: dict[str, list[Any]] = {"windows": [None, len(rows)]}
    if changed:
        change["thresholds"] = [None, list(changed)]
    history.record(actor, "block.windows_written", block, change=change)
    announce("block_changed", block)
    return rows


@transaction.atomic
def state_window(
    *, actor: Actor, block: Block, stock_type: str, opens_on: date, closes_on: date, **values: str
) -> PlantingWindow:
    """Add a window the manager knows better than any formula."""
    actor.require("block.edit")
    editing.ours(actor, block)
    if closes_on < opens_on:
        raise Refusal(_("The last day lies before the first."), field="closes_on")
    row = PlantingWindow(block=block, stock_type=stock_type, opens_on=opens_on, closes_on=closes_on, **values)
    row.organisation = block.organisation
    row.save()
    history.record(
        actor, "block.windows_written", block, change={"windows": [None, f"{opens_on} – {closes_on}"]}
    )
    announce("block_changed", block)
    return row


@transaction.atomic
def take_window_away(*, actor: Actor, window: PlantingWindow) -> None:
    """Remove a window; orders and needs then rest on the others."""
    actor.require("block.edit")
    editing.ours(actor, window)
    block = window.block
    window.delete()
    history.record(actor, "block.window_taken_away", block)
    announce("block_changed", block)
