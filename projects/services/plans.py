"""Plans: begin a version, change a draft, and the guard that an approved version never changes."""

from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from projects.access import Actor
from projects.errors import Refusal
from projects.models import MixLine, Plan, Project, Season, SeasonKind
from projects.services import editing

FIELDS = (
    "title", "note", "season", "second_season", "assurance", "cull_share", "handling_loss_share", "slack_weeks",
    "crew_people", "trees_per_person_day",
)  # fmt: skip
COPIED = (*FIELDS[2:], "mix_rules")  # what a new version takes over from the one it is based on
OF_A_LINE = (
    "block", "species", "stock_type", "wave", "quantity", "survival_mean", "survival_low", "survival_high",
    "survival_source", "unit_price_minor", "currency", "introduced_reason",
)  # fmt: skip


@transaction.atomic
def begin_plan(
    *, actor: Actor, project: Project, copy_of: Plan | None = None, title: str = "", note: str = ""
) -> Plan:
    """Begin a draft: empty, or with everything an earlier version of the project held."""
    actor.require("plan.edit")
    editing.ours(actor, project, copy_of)
    editing.held(project)  # two who begin at once get one version number each
    if copy_of is not None and copy_of.project_id != project.pk:
        raise Refusal(_("This version belongs to another project."), field="copy_of")
    newest = Plan.objects.filter(project=project).aggregate(newest=Max("version"))["newest"] or 0
    taken = {name: getattr(copy_of, name) for name in COPIED} if copy_of else {}
    plan = Plan(project=project, version=newest + 1, based_on=copy_of, title=title, note=note, **taken)
    editing.make(actor, plan, "plan.made")
    if copy_of is not None:
        MixLine.objects.bulk_create([_copied(line, plan) for line in copy_of.mix_lines.order_by("id")])
    return plan


def _copied(line: MixLine, plan: Plan) -> MixLine:
    values = {name: getattr(line, name) for name in OF_A_LINE if name not in ("block", "species")}
    return MixLine(
        organisation_id=plan.organisation_id, plan=plan, block_id=line.block_id, species_id=line.species_id, **values
    )  # fmt: skip


def draft_of(actor: Actor, plan: Plan) -> Plan:
    """Lock a plan that may still be changed and return it as it stands; an approved one refuses.

    Every service that writes anything of a plan begins here, its mix lines included.
    """
    actor.require("plan.edit")
    editing.ours(actor, plan)
    locked = editing.held(plan)
    if not locked.is_draft:
        raise Refusal(
            _("This version is approved and never changes. Begin a new version from it."), code="approved"
        )
    return locked


@transaction.atomic
def edit_plan(*, actor: Actor, plan: Plan, version: str = "", **values: Any) -> Plan:
    """Change a draft's title, seasons and allowances."""
    draft_of(actor, plan)
    values = {name: value for name, value in values.items() if name in FIELDS}
    for name in ("season", "second_season"):
        editing.ours(actor, values.get(name))
        _check_season(values.get(name), name)
    first, second = values.get("season"), values.get("second_season")
    if first and second and second.starts_on <= first.starts_on:
        raise Refusal(_("The second wave goes in after the first."), field="second_season")
    for name, lowest in (("crew_people", 1), ("trees_per_person_day", 1)):
        if values.get(name) is not None and values[name] < lowest:
            raise Refusal(_("Write 1 or more."), field=name)
    for name in ("cull_share", "handling_loss_share"):
        if values.get(name) is not None and values[name] > 0.9:
            raise Refusal(_("More than nine in ten cannot be meant; write what part is lost."), field=name)
    return editing.change(actor, plan, values, "plan.edited", version=version)


def _check_season(season: Season | None, field: str) -> None:
    if season is not None and season.kind != SeasonKind.PLANTING:
        raise Refusal(_("Choose a planting season."), field=field)
