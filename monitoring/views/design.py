"""How many plots, and where: the manager's page before a survey, and its picture."""

from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from monitoring import design_words as words
from monitoring.charts.drawing import drawn
from monitoring.charts.plots_chart import Chance, ChanceWords, chance_chart
from monitoring.forms.design import DesignForm
from monitoring.selectors import plot_draws, survey_design
from monitoring.views.charts import svg
from projects import access
from projects.models import Project
from projects.views.saving import crumb


@require_GET
def survey_design_page(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Answer what is in the address; a first visit is answered from what the project knows."""
    project = access.project_for(request.actor, uid, "round.edit")
    form, found, known = answered(request, project)
    units = request.actor.organisation.units
    context: dict[str, Any] = {
        "project": project,
        "form": form,
        "design": found,
        "known": known,
        "query": request.GET.urlencode(),
        "crumbs": [crumb(request, project.name, "project_detail", uid=project.uid)],
    }
    if found is not None:
        context |= {
            "sentence": words.sentence(found),
            "near_target": words.near_target(found),
            "rows": [(row, words.points(row.half_width)) for row in found.table],
            "shares": [
                {
                    "share": share,
                    "planted": words.planted(share.facts),
                    "advice": words.advice(share, units),
                    "fields": block_fields(form, share),
                }
                for share in found.shares
            ],
        }
    return render(request, "monitoring/survey_design.html", context, status=422 if form.errors else 200)


@require_GET
def design_chart(request: HttpRequest, uid: UUID) -> HttpResponse:
    """The chance of a settled outcome against the number of plots, for the same address."""
    project = access.project_for(request.actor, uid, "round.edit")
    _form, found, _known = answered(request, project)
    if found is None or not found.table:
        raise Http404(_("There is nothing at this address."))
    chosen = found.chosen.plots if found.chosen else None
    rows = [Chance(row.plots, row.chance_settled) for row in found.table]
    said = ChanceWords(_("plots"), _("surveys that settle the question"), _("your wish"))
    return svg(
        drawn(chance_chart(rows, chosen, said), title=_("Chance of a settled outcome by number of plots"))
    )


def answered(request: HttpRequest, project: Project) -> tuple[DesignForm, Any, survey_design.Known]:
    """The form of the address and, where it is valid, its answers."""
    blocks = plot_draws.facts_of(access.visible_blocks(request.actor).filter(project=project).current())
    known = survey_design.known_of(project)
    data = {name: request.GET[name] for name in request.GET}
    form = DesignForm(data, blocks=blocks, defaults=survey_design.defaults(project, known))
    if not form.is_valid():
        return form, None, known
    return form, survey_design.design(project, blocks, form.cleaned_data, form.of_block, known), known


def block_fields(form: DesignForm, share: survey_design.BlockShare) -> dict[str, Any]:
    """The three fields of one block."""
    return {name: form[f"{name}_{share.facts.block.uid}"] for name in ("plots", "survival", "per_day")}
