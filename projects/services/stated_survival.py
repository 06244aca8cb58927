"""What survival a manager expects of a planting, before plots tell it: stated, changed, taken back."""

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import history
from projects.access import Actor
from projects.announcements import announce
from projects.errors import Refusal
from projects.models import Project, StockType, SurvivalPrior
from projects.services import editing

FIELDS = ("project", "species", "stock_type", "mean", "weight_trees", "source")
MOST_WEIGHT = 10_000


@transaction.atomic
def state_survival(*, actor: Actor, **values: Any) -> SurvivalPrior:
    """State an expected survival: of a project or all, a species or all, a stock type or all."""
    actor.require("plan.edit")
    row = SurvivalPrior(**_checked(actor, values, None))
    editing.make(actor, row, "survival_prior.made")
    _tell(actor, row.project)
    return row


@transaction.atomic
def change_survival(*, actor: Actor, prior: SurvivalPrior, version: str = "", **values: Any) -> SurvivalPrior:
    """Change what is expected; plans keep what they copied, needs are worked out again."""
    actor.require("plan.edit")
    editing.ours(actor, prior)
    before = prior.project
    row = editing.change(
        actor, prior, _checked(actor, values, prior), "survival_prior.edited", version=version
    )
    for project in {before, row.project}:
        _tell(actor, project)
    return row


@transaction.atomic
def take_back(*, actor: Actor, prior: SurvivalPrior) -> None:
    """Take a statement back; the next wider one holds, else common practice."""
    actor.require("plan.edit")
    editing.ours(actor, prior)
    history.record(actor, "survival_prior.withdrawn", prior, change={"mean": [prior.mean, None]})
    project = prior.project
    prior.delete()
    _tell(actor, project)


def _tell(actor: Actor, project: Project | None) -> None:
    """Needs of replacement rest on what is expected."""
    rows = (
        [project]
        if project is not None
        else Project.objects.filter(organisation=actor.organisation, archived_at=None).order_by("id")
    )
    for row in rows:
        announce("project_changed", row)


def _checked(actor: Actor, values: dict[str, Any], prior: SurvivalPrior | None) -> dict[str, Any]:
    values = {name: value for name, value in values.items() if name in FIELDS}
    editing.ours(actor, values.get("project"))
    editing.species_for_use(actor, values.get("species"))
    if values.get("stock_type") and values["stock_type"] not in StockType.values:
        raise Refusal(_("Choose the stock type."), field="stock_type")
    mean, weight = values.get("mean"), values.get("weight_trees")
    if mean is not None:
        values["mean"] = float(mean)
        if not 0 < values["mean"] < 1:
            raise Refusal(
                _("Write more than 0 and less than 100 per cent: nothing is certain before it is counted."),
                field="mean",
            )
    if weight is not None and not 0 < weight <= MOST_WEIGHT:
        raise Refusal(_("Write more than 0 and at most 10 000 trees."), field="weight_trees")
    _refuse_second(actor, values, prior)
    return values


def _refuse_second(actor: Actor, values: dict[str, Any], prior: SurvivalPrior | None) -> None:
    def standing(name: str) -> Any:
        return values.get(name, getattr(prior, name, None))

    same = SurvivalPrior.objects.filter(
        organisation=actor.organisation, project=standing("project"), species=standing("species"),
        stock_type=standing("stock_type") or "",
    ).exclude(pk=prior.pk if prior else None)  # fmt: skip
    if same.exists():
        raise Refusal(_("This is stated already. Change what stands there."), field="species", code="taken")
