"""Survey rounds: the list, one round with its progress and results, opening, changing, closing."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from monitoring import access, seed_words
from monitoring.forms.rounds import RoundForm
from monitoring.models import RoundStatus, SurveyRound
from monitoring.selectors import loss_causes, plot_draws, results, rounds, seeds, stages
from monitoring.selectors.survival_over_time import changes_of_round
from monitoring.services import rounds as services
from monitoring.services import second_stage
from projects.paging import page
from projects.views.saving import attempt, crumb, posted, to, url


@require_GET
def round_list(request: HttpRequest) -> HttpResponse:
    request.actor.require("round.view")
    found = page(rounds.round_rows(request.actor), request, key=("-opens_on", "-id"))
    return render(request, "monitoring/round_list.html", {"found": found})


@require_GET
def round_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Show a round: its figures, then its plots a page at a time, of one block with ?block=."""
    survey_round = access.round_for(request.actor, uid)
    figures = results.round_results(survey_round)
    context = {
        "round": survey_round,
        "n_open_cases": results.open_counts(survey_round).count(),
        "cases_url": url(request, "monitoring:case_list") + f"?round={survey_round.uid}",
        "results": figures,
        "causes": loss_causes.beside_lines(survey_round, figures.survival_blocks),
        "changes": changes_of_round(survey_round),
        "not_covered": plot_draws.not_covered(survey_round),
        "seeds": seed_words.round_words(seeds.of_round(survey_round)),
        "crumbs": [crumb(request, _("Rounds"), "monitoring:round_list")],
    }
    if request.actor.may("round.edit"):
        context |= stage_facts(survey_round)
    if request.actor.may("plot.view"):
        blocks = list(rounds.blocks_of_round(survey_round))
        chosen = next((block for block in blocks if str(block.uid) == request.GET.get("block")), None)
        found = page(rounds.wanted_plots(survey_round, chosen), request, rounds.PLOTS_IN_ORDER, size=60)
        plots = rounds.plot_rows(survey_round, found.rows)
        context["stand_ins"] = rounds.stand_ins(survey_round)
        context |= {"found": found, "plots": plots, "blocks": blocks, "chosen_block": chosen}
    return render(request, "monitoring/round_detail.html", context)


def stage_facts(survey_round: SurveyRound) -> dict[str, int]:
    """How many blocks a second stage could settle, and how many plots it brought if there was one."""
    is_open = survey_round.status == RoundStatus.OPEN
    return {
        "n_open_blocks": stages.open_blocks(survey_round).count() if is_open else 0,
        "n_second_stage": second_stage.stage_plots(survey_round).count(),
    }


@require_http_methods(["GET", "POST"])
def round_new(request: HttpRequest) -> HttpResponse:
    request.actor.require("round.edit")
    form = RoundForm(posted(request), actor=request.actor, initial={"blocks": request.GET.getlist("block")})
    if request.method == "POST":
        form.fields.pop("version")
        made = attempt(form, services.open_round, actor=request.actor)
        if made:
            messages.success(request, _("The round is open. Give phones a pass, or print the plot sheets."))
            return to(request, "monitoring:round_detail", uid=made.uid)
    context = {
        "form": form,
        "title": _("Open a survey round"),
        "submit": _("Open the round"),
        "designs": form.fields["project"].queryset[:12],
    }
    return render(request, "monitoring/round_form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def round_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    survey_round = access.round_for(request.actor, uid, "round.edit")
    form = RoundForm(posted(request), actor=request.actor, survey_round=survey_round)
    if request.method == "POST":
        changed = attempt(form, services.edit_round, actor=request.actor, survey_round=survey_round)
        if changed:
            messages.success(request, _("The round is changed."))
            return to(request, "monitoring:round_detail", uid=uid)
    context = {
        "form": form,
        "title": _("Change the round"),
        "submit": _("Save the round"),
        "round": survey_round,
    }
    return render(request, "monitoring/round_form.html", context, status=422 if form.errors else 200)


@require_POST
def round_close(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Close an open round; open a closed one again."""
    survey_round = access.round_for(request.actor, uid, "round.edit")
    if survey_round.status == RoundStatus.OPEN:
        services.close_round(actor=request.actor, survey_round=survey_round)
        messages.success(request, _("The round is closed. Late counts are still taken, and flagged."))
    else:
        services.reopen_round(actor=request.actor, survey_round=survey_round)
        messages.success(request, _("The round is open again."))
    return to(request, "monitoring:round_detail", uid=uid)
