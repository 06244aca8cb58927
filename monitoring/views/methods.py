"""How was this computed: one page for each method, with its formula, source and blind spots."""

from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET

from monitoring import access
from monitoring.selectors import worked
from monitoring.selectors.evidence import coverage_study
from monitoring.selectors.worked_textbook import EXAMPLES

PAGES = {
    "young-natural-trees": gettext_lazy("Plant, assist or leave"),
    "survey-design": gettext_lazy("How many plots, and where"),
    "survival": gettext_lazy("Survival in one block"),
    "across-blocks": gettext_lazy("Survival across blocks"),
    "not-found": gettext_lazy("Trees not found, and what is still open"),
    "observers": gettext_lazy("How well people count"),
    "change": gettext_lazy("Change between rounds"),
    "survival-over-time": gettext_lazy("Survival over time"),
    "stocking": gettext_lazy("Stocking"),
    "outcome": gettext_lazy("Meets target, falls short, not settled yet"),
    "replacement": gettext_lazy("What to replant"),
    "performance": gettext_lazy("Species and lots compared"),
    "season-totals": gettext_lazy("Season totals"),
    "evidence": gettext_lazy("How often the figures are right"),
}


@require_GET
def method_list(request: HttpRequest) -> HttpResponse:
    request.actor.require("result.view")
    return render(request, "monitoring/method_list.html", {"pages": PAGES.items()})


@require_GET
def method(request: HttpRequest, name: str) -> HttpResponse:
    request.actor.require("result.view")
    if name not in PAGES:
        raise Http404(_("There is nothing at this address."))
    template = f"monitoring/method_{name.replace('-', '_')}.html"
    context = {"title": PAGES[name], "pages": PAGES.items(), "name": name}
    return render(request, template, context | example(request, name))


def example(request: HttpRequest, name: str) -> dict[str, Any]:
    """What a page works through: the study, the reader's figure or round, else a textbook's example."""
    if name == "evidence":
        return {"study": coverage_study()}
    if figure := request.GET.get("figure"):
        return {"worked": worked.explained(request.actor, identity(figure))}
    if asked := request.GET.get("round"):
        survey_round = access.round_for(request.actor, identity(asked), "result.view")
        found = worked.figure_of_round(survey_round, name)
        return {"worked": worked.worked_example(found) if found else None}
    textbook = EXAMPLES.get(name)
    return {"worked": textbook() if textbook else None}


def identity(text: str) -> UUID:
    """The identity an address names; 404 where it is none."""
    try:
        return UUID(text)
    except ValueError as problem:
        raise Http404(_("There is nothing at this address.")) from problem
