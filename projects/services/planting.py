"""Planting days and the cohorts they build: the denominators of every survival figure."""

from datetime import date

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from projects import clocks, history
from projects.access import Actor
from projects.announcements import announce
from projects.errors import Refusal
from projects.models import (
    Block,
    Cohort,
    CrewDay,
    Holding,
    PlantingDay,
    Season,
    SeasonKind,
    StockLot,
    StockType,
    TreeMark,
    Unit,
)
from projects.selectors.lot_family import ancestry
from projects.services import chain, editing, reminders
from projects.services.movements import check_day
from projects.services.seasons import planting_season_on
from species.models import Species


@transaction.atomic
def plant(
    *,
    actor: Actor,
    block: Block,
    planted_on: date,
    quantity: int,
    lot: StockLot | None = None,
    species: Species | None = None,
    stock_type: str = "",
    season: Season | None = None,
    holding: Holding | None = None,
    replaces: Cohort | None = None,
    crew: str = "",
    note: str = "",
    crew_day: CrewDay | None = None,
    mark: str = TreeMark.NONE,
    mark_note: str = "",
) -> PlantingDay:
    """Record what one crew planted of one lot in one block on one day.

    The day joins the cohort of block, lot and season, or opens it. Without a lot the species and stock
    type are named instead. More than the lot holds is kept: the lot's ledger then shows the gap. A lot that
    came against an order for replacements in this block opens a cohort that replaces what was named there.
    `crew_day` is the prepared day it closes; `mark` is how its trees are told from those that stand already.
    """
    actor.require("planting.edit")
    editing.ours(actor, block, lot, season, holding, replaces, crew_day)
    _check_facts(block, lot, planted_on, quantity, holding)
    chain.locked_head(actor.organisation)  # before the block, as records of phones take them
    season = _season(actor, season, planted_on)
    cohort = _cohort(actor, block, lot, season, species, stock_type, replaces)
    day = PlantingDay(
        block=block, cohort=cohort, lot=lot, holding=holding, planted_on=planted_on, quantity=quantity,
        crew=crew, note=note, crew_day=crew_day, mark=mark, mark_note=mark_note,
    )  # fmt: skip
    editing.make(actor, day, "planting_day.planted")
    _follow_up(actor, block, lot)
    return day


@transaction.atomic
def void_planting_day(*, actor: Actor, day: PlantingDay, reason: str) -> PlantingDay:
    """Take back a planting day entered by mistake; it stays on the page, struck out."""
    actor.require("planting.edit")
    editing.ours(actor, day)
    if not reason.strip():
        raise Refusal(_("Say in a few words why this is taken back."), field="reason")
    chain.locked_head(actor.organisation)
    changed = PlantingDay.objects.filter(pk=day.pk, voided_at__isnull=True).update(voided_at=timezone.now())
    if changed:
        history.record(actor, "planting_day.cancelled", day, reason=reason)
        _follow_up(actor, day.block, day.lot)
    day.refresh_from_db()
    return day


def _follow_up(actor: Actor, block: Block, lot: StockLot | None) -> None:
    with reminders.at_the_end(actor.organisation):
        announce("planting_changed", block)
        if lot is not None:
            reminders.renew_lots(actor.organisation, [lot.pk])


def _check_facts(
    block: Block, lot: StockLot | None, day: date, quantity: int, holding: Holding | None
) -> None:
    if quantity < 1:
        raise Refusal(_("Write how many were planted, at least 1."), field="quantity")
    if block.archived_at:
        raise Refusal(_("This block is put away. Bring it back before planting in it."), field="block")
    if holding is not None and holding.block_id != block.pk:
        raise Refusal(_("This holding is on another block's list."), field="holding")
    if day > clocks.today_at(block.site):
        raise Refusal(
            _("This day has not come yet; enter what has been planted."), field="planted_on", code="future"
        )
    if lot is None:
        return
    if lot.archived_at:
        raise Refusal(
            _("This lot is put away. Bring it back, or choose the lot that was planted."), field="lot"
        )
    check_day(lot, day, "planted_on")


def _season(actor: Actor, season: Season | None, planted_on: date) -> Season:
    if season is None:
        return planting_season_on(actor.organisation, planted_on)
    if season.kind != SeasonKind.PLANTING:
        raise Refusal(_("Choose a planting season; this one is for reports."), field="season")
    return season


def _cohort(
    actor: Actor,
    block: Block,
    lot: StockLot | None,
    season: Season,
    species: Species | None,
    stock_type: str,
    replaces: Cohort | None,
) -> Cohort:
    """Return the cohort of block, lot and season, opened if this is its first day."""
    editing.held(block)  # two first days at once become one cohort
    if replaces is not None and replaces.block_id != block.pk:
        raise Refusal(_("A replacement stands in the block of what it replaces."), field="replaces")
    if lot is not None:
        species, stock_type, unit = lot.species, lot.stock_type, lot.unit
    else:
        unit = _unit_without_lot(species, stock_type)
    found = Cohort.objects.filter(
        block=block, lot=lot, season=season, species=species, stock_type=stock_type
    ).first()
    if found is not None:
        return _same_replacement(found, replaces)
    replaces = replaces or ordered_to_replace(block, lot)
    cohort = Cohort(
        block=block, lot=lot, season=season, species=species, stock_type=stock_type, unit=unit, replaces=replaces,
        label=_label(lot, species, season),
    )  # fmt: skip
    return editing.make(actor, cohort, "cohort.opened")


def ordered_to_replace(block: Block, lot: StockLot | None) -> Cohort | None:
    """The planting a lot was ordered to replace losses of, where its order says so for this block.

    A lot that was split off or merged was ordered as the lots it came from were, where those agree.
    """
    if lot is None:
        return None
    came_as = ancestry([lot.pk]).roots(lot.pk)
    rows = StockLot.objects.filter(pk__in=came_as).select_related("delivery__order", "species")
    uids = {_named_for(row, block) for row in rows}
    uid = uids.pop() if len(uids) == 1 else None
    return Cohort.objects.filter(block=block, uid=uid).first() if uid else None


def _named_for(lot: StockLot, block: Block) -> str | None:
    """The uid of the planting that the order of a lot names for a block."""
    if lot.delivery is None or lot.delivery.order is None:
        return None
    told = lot.delivery.order.copied_figures
    if told.get("block") != str(block.uid):
        return None
    named = told.get("replaces", {})
    return named.get(lot.species.slug) or named.get("")


def _label(lot: StockLot | None, species: Species | None, season: Season) -> str:
    name = species.scientific_name if species else ""
    return f"{name}, {lot.code}, {season.label}"[:120] if lot else f"{name}, {season.label}"[:120]


def _unit_without_lot(species: Species | None, stock_type: str) -> str:
    if species is None:
        raise Refusal(_("Choose the lot, or the species where the lot is not known."), field="species")
    if stock_type not in StockType.values:
        raise Refusal(_("Choose the stock type where the lot is not known."), field="stock_type")
    return Unit.SEED_SPOT if stock_type == StockType.DIRECT_SEED else Unit.TREE


def _same_replacement(cohort: Cohort, replaces: Cohort | None) -> Cohort:
    """Keep a cohort one thing: a first planting or the replacement of one other, never both."""
    if replaces is None or cohort.replaces_id == replaces.pk:
        return cohort
    raise Refusal(
        _("This lot already stands here this season, not as a replacement of that. Leave this empty."),
        field="replaces",
    )
