"""What killed the trees of a block: what was seen, the causes assigned, one more, one taken back."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from monitoring import access
from monitoring.forms.loss_causes import LossCauseForm
from monitoring.selectors import loss_causes as selectors
from monitoring.services import loss_causes as services
from projects.access import block_for
from projects.views.saving import attempt, crumb, posted, to


@require_http_methods(["GET", "POST"])
def loss_causes(request: HttpRequest, round: UUID, uid: UUID) -> HttpResponse:
    """One block in one round."""
    actor = request.actor
    survey_round = access.round_for(actor, round, "case.settle")
    block = block_for(actor, uid, "case.settle")
    if not survey_round.round_blocks.filter(block=block).exists():
        raise Http404(_("There is nothing at this address."))
    form = LossCauseForm(posted(request), survey_round=survey_round, block=block)
    if form.is_bound and attempt(
        form, services.assign_cause, actor=actor, survey_round=survey_round, block=block
    ):
        messages.success(request, _("The cause is on record. Add another if more than one killed them."))
        return to(request, "monitoring:loss_causes", round=round, uid=uid)
    rows = selectors.standing(actor, [block.pk]).get(block.pk, [])
    context = {
        "round": survey_round,
        "planting_block": block,
        "form": form,
        "seen": selectors.losses_seen(survey_round, block),
        "causes": selectors.Causes.of(rows, survey_round),
        "crumbs": [
            crumb(request, _("Rounds"), "monitoring:round_list"),
            crumb(request, survey_round.name, "monitoring:round_detail", uid=survey_round.uid),
        ],
    }
    return render(request, "monitoring/loss_causes.html", context, status=422 if form.errors else 200)


@require_POST
def cause_withdraw(request: HttpRequest, uid: UUID) -> HttpResponse:
    cause = access.cause_for(request.actor, uid)
    services.withdraw_cause(actor=request.actor, cause=cause)
    messages.success(request, _("The cause is withdrawn. The record keeps that it was assigned."))
    return to(request, "monitoring:loss_causes", round=cause.round.uid, uid=cause.block.uid)
