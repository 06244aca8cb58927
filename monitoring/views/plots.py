"""Survival plots: lay out, correct, retire, set a baseline, look at every count."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from monitoring import access
from monitoring.forms.plot_draws import UnreachableForm
from monitoring.forms.plots import BaselineForm, PlotForm
from monitoring.forms.retiring import RetireForm
from monitoring.models import PlotBaseline, SurvivalPlot
from monitoring.selectors import rounds
from monitoring.services import entries, plots, spares
from projects import access as projects_access
from projects.views.saving import attempt, crumb, posted, to


@require_GET
def plot_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    plot = access.plot_for(request.actor, uid)
    return render(
        request,
        "monitoring/plot_detail.html",
        {
            "plot": plot,
            "baselines": rounds.baselines_of_plot(plot),
            "visits": rounds.visits_of_plot(plot) if request.actor.may("visit.view") else [],
            "unreachable": unreachable_form(request, plot),
            "retire": RetireForm() if request.actor.may("plot.edit") and not plot.retired_at else None,
            "crumbs": [crumb(request, plot.block.name, "projects:block_detail", uid=plot.block.uid)],
        },
    )


def unreachable_form(request: HttpRequest, plot: SurvivalPlot) -> UnreachableForm | None:
    """The form that takes up a spare, where the actor may and the rule allows it."""
    may = request.actor.may("plot.edit") and spares.may_stand_in(plot)
    return UnreachableForm(plot=plot) if may else None


@require_http_methods(["GET", "POST"])
def plot_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    block = projects_access.block_for(request.actor, uid)
    request.actor.require("plot.edit")
    form = PlotForm(posted(request), block=block)
    if request.method == "POST":
        made = attempt(form, plots.make_plot, actor=request.actor, block=block)
        if made:
            messages.success(request, _("The plot is laid out. Now write down what was planted in it."))
            return to(request, "monitoring:plot_detail", uid=made.uid)
    context = {
        "form": form,
        "planting_block": block,
        "title": _("Lay out a plot"),
        "submit": _("Add the plot"),
    }
    return render(request, "monitoring/plot_form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def plot_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    plot = access.plot_for(request.actor, uid, "plot.edit")
    form = PlotForm(posted(request), block=plot.block, plot=plot)
    if request.method == "POST":
        changed = attempt(form, plots.edit_plot, actor=request.actor, plot=plot)
        if changed:
            messages.success(request, _("The plot is corrected."))
            return to(request, "monitoring:plot_detail", uid=uid)
    context = {
        "form": form,
        "planting_block": plot.block,
        "title": _("Correct the plot"),
        "submit": _("Save the plot"),
    }
    return render(request, "monitoring/plot_form.html", context, status=422 if form.errors else 200)


@require_http_methods(["POST"])
def plot_retire(request: HttpRequest, uid: UUID) -> HttpResponse:
    plot = access.plot_for(request.actor, uid, "plot.edit")
    form = RetireForm(request.POST)
    if attempt(form, plots.retire_plot, actor=request.actor, plot=plot):
        messages.success(request, _("The plot is given up. Its counts stay in the record."))
    else:
        messages.error(request, " ".join(error for errors in form.errors.values() for error in errors))
    return to(request, "monitoring:plot_detail", uid=uid)


@require_http_methods(["GET", "POST"])
def baseline_set(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Add a baseline to a plot, or revise the one named by ?line=."""
    plot = access.plot_for(request.actor, uid, "plot.edit")
    current = current_baseline(plot, request.GET.get("line", ""))
    initial = (
        {name: getattr(current, name) for name in ("species", "cohort", "planted", "unit", "source")}
        if current
        else {}
    )
    form = BaselineForm(posted(request), plot=plot, initial=initial)
    if request.method == "POST":
        line = current.line if current else None
        if attempt(form, entries.set_baseline, actor=request.actor, plot=plot, line=line):
            messages.success(
                request, _("The baseline is recorded. Counts that rest on it are computed again.")
            )
            return to(request, "monitoring:plot_detail", uid=uid)
    context = {"form": form, "plot": plot, "current": current}
    return render(request, "monitoring/baseline_form.html", context, status=422 if form.errors else 200)


def current_baseline(plot, line: str) -> PlotBaseline | None:
    """Return the current revision of a baseline line of this plot, if the text names one."""
    try:
        uid = UUID(line)
    except ValueError:
        return None
    return PlotBaseline.objects.filter(plot=plot, line=uid, is_current=True).first()
