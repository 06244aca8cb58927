"""Projects: why trees are planted, and what counts as having worked."""

from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects.access import Actor
from projects.announcements import announce
from projects.errors import Refusal
from projects.models import Project
from projects.services import archiving, editing
from projects.services.organisations import known_currency

FIELDS = (
    "name", "purpose", "funder_name", "target_survival", "check_age_seasons", "check_age_months",
    "target_stocking_per_ha", "replanting_level", "claim_level", "min_plots_per_species",
    "budget_minor", "currency", "has_baseline",
)  # fmt: skip


@transaction.atomic
def make_project(*, actor: Actor, **values: Any) -> Project:
    """Begin a project."""
    actor.require("project.edit")
    values = _checked(values)
    return editing.make(actor, Project(**values), "project.made")


@transaction.atomic
def edit_project(*, actor: Actor, project: Project, version: str = "", **values: Any) -> Project:
    """Change a project; figures that rest on its target are told."""
    actor.require("project.edit")
    editing.ours(actor, project)
    changed = editing.change(actor, project, _checked(values), "project.edited", version=version)
    announce("project_changed", changed)
    return changed


def _checked(values: dict[str, Any]) -> dict[str, Any]:
    values = {name: value for name, value in values.items() if name in FIELDS}
    known_currency(values.get("currency"))
    target = values.get("target_survival")
    if target is not None and not 0 < target <= 1:
        raise Refusal(_("A target lies above 0 and up to 100 %."), field="target_survival")
    for name in ("replanting_level", "claim_level"):
        _check_level(values.get(name), name)
    budget = values.get("budget_minor")
    if budget is not None and budget < 0:
        raise Refusal(_("A budget cannot be negative."), field="budget_minor")
    return values


def _check_level(level: Decimal | None, field: str) -> None:
    if level is not None and not Decimal("0.5") <= level < 1:
        raise Refusal(_("A confidence lies between 50 % and just under 100 %."), field=field)


@transaction.atomic
def archive_project(*, actor: Actor, project: Project, reason: str = "") -> Project:
    """Put a project away once its blocks are."""
    actor.require("project.edit")
    in_use = project.blocks.current().count()
    if in_use:
        raise Refusal(
            _("Put its blocks away first: %(number)s still in use.") % {"number": in_use}, code="in_use"
        )
    return archiving.put_away(actor=actor, row=project, verb="project", reason=reason)


@transaction.atomic
def restore_project(*, actor: Actor, project: Project) -> Project:
    """Bring a project back."""
    actor.require("project.edit")
    return archiving.bring_back(actor=actor, row=project, verb="project")
