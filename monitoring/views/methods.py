"""How was this computed: one page for each method, with its formula, source and blind spots."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET

PAGES = {
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
    return render(request, template, {"title": PAGES[name], "pages": PAGES.items(), "name": name})
