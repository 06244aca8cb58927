"""Blocks: the unit that is planted and the stratum that is sampled, with versions of its ground."""

from datetime import date
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import clocks, history
from projects.access import Actor
from projects.announcements import announce
from projects.errors import Refusal
from projects.models import Block, BlockGround, BudgetLine, Layout, MixLine, OrderLine, Project, Site
from projects.services import archiving, editing
from projects.services.boundaries import block_boundary

FIELDS = (
    "name", "project", "layout", "pattern", "row_spacing_m", "in_row_spacing_m", "target_stocking_per_ha",
    "aspect_note", "hazards",
)  # fmt: skip
MOST_SPACING_M = 100.0


@transaction.atomic
def make_block(
    *,
    actor: Actor,
    site: Site,
    project: Project,
    geometry: str | dict[str, Any] | None = None,
    gross_area_ha: float | None = None,
    exclusions_ha: float | None = None,
    valid_from: date | None = None,
    **values: Any,
) -> Block:
    """Add a block with the first version of its ground; a list of holdings may do without ground."""
    actor.require("block.edit")
    editing.ours(actor, site, project)
    _check_current(site, project)
    block = Block(site=site, project=project, **_checked(values))
    editing.make(actor, block, "block.made")
    if geometry or gross_area_ha is not None or block.layout == Layout.GROUND:
        _add_ground(block, 1, geometry, gross_area_ha, exclusions_ha, valid_from)
    return block


@transaction.atomic
def edit_block(*, actor: Actor, block: Block, version: str = "", **values: Any) -> Block:
    """Change a block's facts; its ground has versions of its own."""
    actor.require("block.edit")
    editing.ours(actor, block, values.get("project"))
    if values.get("project") not in (None, block.project):
        _check_free(block)
    changed = editing.change(actor, block, _checked(values), "block.edited", version=version)
    announce("block_changed", changed)
    return changed


def _check_free(block: Block) -> None:
    """Refuse to take a block from its project when something of the project rests on it."""
    if block.cohorts.exists():
        words = _(
            "Trees are recorded here for %(project)s, so the block stays with it. Add another block instead."
        )
    elif any(kind.objects.filter(block=block).exists() for kind in (MixLine, BudgetLine, OrderLine)):
        words = _(
            "A plan, an order or the money of %(project)s names this block, so it stays with it. Add another block "
            "instead."
        )
    else:
        return
    raise Refusal(words % {"project": block.project}, field="project")


@transaction.atomic
def redraw_ground(
    *,
    actor: Actor,
    block: Block,
    geometry: str | dict[str, Any] | None = None,
    gross_area_ha: float | None = None,
    exclusions_ha: float | None = None,
    valid_from: date | None = None,
    after: int | None = None,
    reason: str = "",
) -> BlockGround:
    """Add a version of the ground; older ones stay. `after` is the version the person was looking at."""
    actor.require("block.edit")
    editing.ours(actor, block)
    locked = editing.held(block)
    before = locked.grounds.first()
    version = before.version if before else 0
    if after is not None and after != version:
        raise Refusal(
            _(
                "Somebody else added version %(version)s meanwhile. Look at it, then save again to add yours after it."
            )
            % {"version": version},
            code="changed_meanwhile",
        )
    ground = _add_ground(locked, version + 1, geometry, gross_area_ha, exclusions_ha, valid_from)
    areas = [before.net_area_ha if before else None, ground.net_area_ha]
    change = {"net_area_ha": areas, "version": [version, ground.version]}
    history.record(actor, "block.edited", locked, change=change, reason=reason)
    announce("ground_changed", locked)
    return ground


def _add_ground(
    block: Block,
    version: int,
    geometry: str | dict[str, Any] | None,
    gross_area_ha: float | None,
    exclusions_ha: float | None,
    valid_from: date | None,
) -> BlockGround:
    shape, gross, source = _gross(block.site, geometry, gross_area_ha)
    left_out = exclusions_ha or 0.0
    if left_out < 0:
        raise Refusal(_("What is left out cannot be less than nothing."), field="exclusions_ha")
    if left_out >= gross:
        raise Refusal(
            _("What is left out (%(out)s ha) must be less than the block (%(gross)s ha).")
            % {"out": round(left_out, 4), "gross": round(gross, 4)},
            field="exclusions_ha",
        )
    return BlockGround.objects.create(
        organisation_id=block.organisation_id,
        block=block,
        version=version,
        geometry=shape,
        gross_area_ha=round(gross, 4),
        exclusions_ha=round(left_out, 4),
        net_area_ha=round(gross - left_out, 4),
        area_source=source,
        valid_from=valid_from or clocks.today_at(block.site),
    )


def _gross(
    site: Site, geometry: str | dict[str, Any] | None, gross_area_ha: float | None
) -> tuple[dict[str, Any] | None, float, str]:
    """Measure the drawing where there is one, else take the stated area."""
    if geometry:
        found = block_boundary(geometry, site=site)
        return found.geometry, found.area_ha, "geodesic"
    if gross_area_ha is None:
        raise Refusal(_("Draw the block, or write its area in hectares."), field="gross_area_ha")
    if gross_area_ha < 0.0001:
        raise Refusal(_("An area lies above 0 hectares; one square metre is 0.0001."), field="gross_area_ha")
    return None, gross_area_ha, "stated"


def _checked(values: dict[str, Any]) -> dict[str, Any]:
    values = {name: value for name, value in values.items() if name in FIELDS}
    for name in ("row_spacing_m", "in_row_spacing_m"):
        spacing = values.get(name)
        if spacing is not None and not 0 < spacing <= MOST_SPACING_M:
            raise Refusal(_("A distance lies above 0 and up to 100 metres."), field=name)
    return values


def _check_current(site: Site, project: Project) -> None:
    if site.archived_at:
        raise Refusal(_("This site is put away. Bring it back before adding to it."), field="site")
    if project.archived_at:
        raise Refusal(_("This project is put away. Choose one in use."), field="project")


@transaction.atomic
def archive_block(*, actor: Actor, block: Block, reason: str = "") -> Block:
    """Put a block away; what was planted and counted there stays."""
    actor.require("block.edit")
    return archiving.put_away(actor=actor, row=block, verb="block", reason=reason)


@transaction.atomic
def restore_block(*, actor: Actor, block: Block) -> Block:
    """Bring a block back."""
    actor.require("block.edit")
    return archiving.bring_back(actor=actor, row=block, verb="block")
