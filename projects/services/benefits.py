"""What somebody may gain of the trees: ranges, each with its source."""

from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Block, ExpectedBenefit, Project
from projects.selectors.value import AGREED
from projects.services import editing

FIELDS = (
    "consent", "species", "kind", "from_year", "until_year", "lowest", "highest", "unit", "per", "source",
)  # fmt: skip
LONGEST_YEARS = 300
LARGEST = 1e12


@transaction.atomic
def add_benefit(*, actor: Actor, project: Project, **values: Any) -> ExpectedBenefit:
    """Add one expected gain."""
    values = _checked(actor, project, values)
    return editing.make(actor, ExpectedBenefit(project=project, **values), "benefit.added")


@transaction.atomic
def edit_benefit(
    *, actor: Actor, benefit: ExpectedBenefit, version: str = "", **values: Any
) -> ExpectedBenefit:
    """Change one."""
    values = _checked(actor, benefit.project, values)
    return editing.change(actor, benefit, values, "benefit.edited", version=version)


@transaction.atomic
def remove_benefit(*, actor: Actor, benefit: ExpectedBenefit) -> None:
    """Take one away that nobody expects any more; the history keeps that it was."""
    actor.require("plan.edit")
    editing.ours(actor, benefit)
    history.record(actor, "benefit.taken_away", benefit)
    benefit.delete()


def _checked(actor: Actor, project: Project, values: Mapping[str, Any]) -> dict[str, Any]:
    actor.require("plan.edit")
    editing.ours(actor, project, values.get("consent"))
    values = {name: value for name, value in values.items() if name in FIELDS}
    editing.species_for_use(actor, values.get("species"))
    _check_range(values)
    consent = values.get("consent")
    if consent is not None:
        if consent.kind not in AGREED:
            raise Refusal(
                _("Choose an agreement with a community or a landholder."), field="consent", code="not_agreed"
            )
        if not Block.objects.filter(project=project, site_id=consent.site_id).exists():
            raise Refusal(
                _("This agreement is about a site where the project has no block."), field="consent"
            )
    if not str(values.get("source", "")).strip():
        raise Refusal(_("Say where the range comes from."), field="source")
    return values


def _check_range(values: Mapping[str, Any]) -> None:
    if values["lowest"] < 0:
        raise Refusal(_("A gain is not below 0."), field="lowest")
    if values["highest"] > LARGEST:
        raise Refusal(_("This is too large to be meant."), field="highest")
    if values["highest"] < values["lowest"]:
        raise Refusal(_("This is less than “at least”."), field="highest")
    if values["until_year"] < values["from_year"]:
        raise Refusal(_("This year lies before the first one."), field="until_year")
    if values["until_year"] > LONGEST_YEARS:
        raise Refusal(
            _("Write a year up to %(years)s after planting.") % {"years": LONGEST_YEARS}, field="until_year"
        )
