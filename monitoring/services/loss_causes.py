"""Say what killed the trees of a block in a round, and take it back. No figure rests on a cause."""

from decimal import Decimal

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from monitoring.models import Cause, LossCause, RoundBlock, SurveyRound
from monitoring.selectors.loss_causes import species_of
from projects import clocks, figures
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Block
from projects.services import editing
from species.models import Species


@transaction.atomic
def assign_cause(
    *,
    actor: Actor,
    survey_round: SurveyRound,
    block: Block,
    cause: str,
    species: Species | None = None,
    share: Decimal | None = None,
    note: str = "",
) -> LossCause:
    """Say that `cause` killed trees of a block, or of one of its species; `share` of what was lost, about."""
    actor.require("case.settle")
    editing.ours(actor, survey_round, block)
    # Of two people at once the second waits, so that shares are added up one after the other.
    block = Block.objects.select_for_update(no_key=True).get(pk=block.pk)
    refuse_elsewhere(survey_round, block, species)
    if cause == Cause.OTHER and not note.strip():
        raise Refusal(_("Write in a few words what the cause was."), field="note", code="note_missing")
    refuse_share(survey_round, block, species, share)
    row = LossCause(
        round=survey_round, block=block, species=species, cause=cause, share=share, note=note.strip(),
        assigned_by=actor.person, assigned_on=clocks.today_of(actor.organisation),
    )  # fmt: skip
    with editing.refusing_duplicates(
        "cause", _("This cause is assigned already. Withdraw it below to write it anew.")
    ):
        return editing.make(actor, row, "loss_cause.added", reason=row.note)


def refuse_elsewhere(survey_round: SurveyRound, block: Block, species: Species | None) -> None:
    """A cause is of a block that the round surveys, and of a species that stands there."""
    if not RoundBlock.objects.filter(round=survey_round, block=block).exists():
        raise Refusal(_("This round does not survey the block."), code="not_of_the_round")
    if species is not None and not species_of(survey_round, block).filter(pk=species.pk).exists():
        raise Refusal(
            _("This species is not planted in the block. Choose one that is."),
            field="species",
            code="not_planted_here",
        )


def refuse_share(
    survey_round: SurveyRound, block: Block, species: Species | None, share: Decimal | None
) -> None:
    """Shares of one loss add up to all of it at most."""
    if share is None:
        return
    if not 0 < share <= 1:
        raise Refusal(
            _("Write a share from 1 to 100 %, or leave it empty."), field="share", code="not_a_share"
        )
    standing = LossCause.objects.filter(
        round=survey_round, block=block, species=species, withdrawn_at__isnull=True
    )
    held = standing.aggregate(held=Sum("share"))["held"] or Decimal(0)
    if held + share > 1:
        words = _(
            "The causes assigned already hold %(held)s of these losses, which leaves %(left)s. Write less, or"
            " withdraw one of them."
        )
        told = {"held": figures.percent(float(held)), "left": figures.percent(float(1 - held))}
        raise Refusal(words % told, field="share", code="more_than_all")


@transaction.atomic
def withdraw_cause(*, actor: Actor, cause: LossCause) -> LossCause:
    """Take a cause back; it stays in the record. Asked twice, nothing more is written."""
    actor.require("case.settle")
    editing.ours(actor, cause)
    standing = LossCause.objects.select_for_update(of=("self",)).get(pk=cause.pk)
    if standing.withdrawn_at is not None:
        return standing
    return editing.change(actor, standing, {"withdrawn_at": timezone.now()}, "loss_cause.withdrawn")
