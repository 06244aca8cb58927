"""Survey rounds: opened for the plots of a project, changed, closed."""

from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from monitoring.models import RoundBlock, RoundPlot, RoundStatus, Shape, SurveyRound, SurvivalPlot
from monitoring.services import dirty, resettling
from projects import history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Block, Project, Season, SeasonKind
from projects.services import editing

FIELDS = ("name", "season", "opens_on", "closes_on", "protocol", "second_stage_plots")


@transaction.atomic
def open_round(*, actor: Actor, project: Project, blocks: Sequence[Block], **values: Any) -> SurveyRound:
    """Open a round over every plot in use of the chosen blocks."""
    actor.require("round.edit")
    editing.ours(actor, project, *blocks)
    if not blocks:
        raise Refusal(_("Choose at least one block to survey."), field="blocks")
    if any(block.project_id != project.pk for block in blocks):
        raise Refusal(_("Choose blocks of this project only."), field="blocks")
    survey_round = SurveyRound(project=project, **checked(values))
    editing.make(actor, survey_round, "round.opened")
    add_blocks(survey_round, blocks)
    return survey_round


def add_blocks(survey_round: SurveyRound, blocks: Sequence[Block]) -> None:
    """Put blocks and their plots in use into a round; what is there already stays."""
    plots = list(SurvivalPlot.objects.filter(block__in=blocks, retired_at__isnull=True).order_by("id"))
    census = {plot.block_id for plot in plots if plot.shape == Shape.WHOLE_BLOCK}
    RoundBlock.objects.bulk_create(
        [
            RoundBlock(
                organisation_id=survey_round.organisation_id,
                round=survey_round,
                block=block,
                is_census=block.pk in census,
            )
            for block in blocks
        ],
        ignore_conflicts=True,
    )
    join(survey_round, plots)


def join(survey_round: SurveyRound, plots: Sequence[SurvivalPlot]) -> None:
    """Put plots of a round's blocks into the round; those that are there already stay."""
    RoundPlot.objects.bulk_create(
        [
            RoundPlot(organisation_id=survey_round.organisation_id, round=survey_round, plot=plot)
            for plot in plots
        ],
        ignore_conflicts=True,
    )
    dirty.mark_round(survey_round)


@transaction.atomic
def edit_round(
    *, actor: Actor, survey_round: SurveyRound, blocks: Sequence[Block] = (), version: str = "", **values: Any
) -> SurveyRound:
    """Change a round's name, season or dates, and add blocks; plots laid out since then join too."""
    actor.require("round.edit")
    editing.ours(actor, survey_round, *blocks)
    if any(block.project_id != survey_round.project_id for block in blocks):
        raise Refusal(_("Choose blocks of this project only."), field="blocks")
    resettling.hold_the_log(actor.organisation)
    closed_on = SurveyRound.objects.values_list("closes_on", flat=True).get(pk=survey_round.pk)
    changed = editing.change(actor, survey_round, checked(values), "round.edited", version=version)
    add_blocks(changed, blocks)
    resettling.after_round_changed(changed, closed_on)
    return changed


@transaction.atomic
def close_round(*, actor: Actor, survey_round: SurveyRound) -> SurveyRound:
    """Close a round: it asks for no more visits, though late ones are still taken and flagged."""
    return set_status(actor, survey_round, RoundStatus.OPEN, RoundStatus.CLOSED, "round.closed")


@transaction.atomic
def reopen_round(*, actor: Actor, survey_round: SurveyRound) -> SurveyRound:
    """Open a closed round again."""
    return set_status(actor, survey_round, RoundStatus.CLOSED, RoundStatus.OPEN, "round.reopened")


def set_status(actor: Actor, survey_round: SurveyRound, before: str, after: str, verb: str) -> SurveyRound:
    """Move a round from one status to another; doing it twice changes nothing."""
    actor.require("round.edit")
    editing.ours(actor, survey_round)
    if SurveyRound.objects.filter(pk=survey_round.pk, status=before).update(status=after):
        history.record(actor, verb, survey_round, change={"status": [before, after]})
        dirty.mark_round(survey_round)
    survey_round.refresh_from_db()
    return survey_round


def checked(values: dict[str, Any]) -> dict[str, Any]:
    """Keep a round's own fields and refuse dates or a season that cannot be."""
    values = {name: value for name, value in values.items() if name in FIELDS}
    opens, closes = values.get("opens_on"), values.get("closes_on")
    if opens and closes and closes < opens:
        raise Refusal(_("The round closes before it opens. Change one of the dates."), field="closes_on")
    season: Season | None = values.get("season")
    if season is not None and season.kind != SeasonKind.REPORTING:
        raise Refusal(
            _("Choose a reporting season; planting seasons say when trees went in."), field="season"
        )
    return values
