"""Plan the second stage of a round: which blocks are open, how many plots would likely settle them, draw them."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from monitoring import access
from monitoring.forms.second_stage import SecondStageForm
from monitoring.selectors import stages
from monitoring.services import second_stage as services
from projects.views.saving import attempt, crumb, posted, to


@require_http_methods(["GET", "POST"])
def second_stage(request: HttpRequest, uid: UUID) -> HttpResponse:
    survey_round = access.round_for(request.actor, uid, "round.edit")
    form = SecondStageForm(posted(request), open_blocks=stages.open_blocks(survey_round))
    if request.method == "POST":
        draws = attempt(form, services.plan, actor=request.actor, survey_round=survey_round)
        if draws:
            n = sum(draw.n_plots for draw in draws)
            words = ngettext(
                "%(n)s further plot is drawn and has joined the round. Print its card below.",
                "%(n)s further plots are drawn and have joined the round. Print their cards below.",
                n,
            )
            messages.success(request, words % {"n": n})
            return to(request, "monitoring:round_detail", uid=uid)
    context = {
        "round": survey_round,
        "form": form,
        "had": services.stage_plots(survey_round).count(),
        "crumbs": [crumb(request, survey_round.name, "monitoring:round_detail", uid=uid)],
    }
    return render(request, "monitoring/second_stage.html", context, status=422 if form.errors else 200)
