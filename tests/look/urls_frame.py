"""Addresses for looking at the frame alone: account pages, refusals, and one plain page."""

from datetime import date
from pathlib import Path

from django import forms
from django.core.exceptions import BadRequest, PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template import engines
from django.urls import include, path


def plain(request: HttpRequest) -> HttpResponse:
    return render(
        request, "base.html", {"crumbs": [{"url": "/sites/", "label": "Sites"}], "revision": "4212"}
    )


def forbidden(request: HttpRequest) -> HttpResponse:
    raise PermissionDenied("This needs a planting manager.")


def unreadable(request: HttpRequest) -> HttpResponse:
    raise BadRequest("not a number")


def broken(request: HttpRequest) -> HttpResponse:
    raise RuntimeError("a fault of ours")


class BoundaryForm(forms.Form):
    name = forms.CharField(label="Name of the site")
    boundary = forms.CharField(label="Boundary (GeoJSON)", widget=forms.Textarea, required=False)


def _survival(value: float | None, lower: float | None, upper: float | None) -> dict:
    limits = {"value": value, "lower": lower, "upper": upper, "level": 0.95, "measure": "survival"}
    return limits | {"n_plots": 5, "n_trees": 96, "reason": "one_plot"}


def sample(request: HttpRequest) -> HttpResponse:
    """Everything the shared partials draw, on one page."""
    names = ["Upper terraces", "River strip", "Outeiro, block 3", "New slope", "Ridge"]
    estimates = [
        (0.64, 0.55, 0.72),
        (0.91, 0.86, 0.95),
        (0.74, 0.58, 0.86),
        (0.93, 0.87, 0.97),
        (None, None, None),
    ]
    outcomes = ["falls_short", "meets_target", "not_settled", "so_far", ""]
    rows = [
        {"name": name, "estimate": _survival(*values), "outcome": outcome}
        for name, values, outcome in zip(names, estimates, outcomes, strict=True)
    ]
    rows[2] |= {"found": _survival(0.83, 0.7, 0.9), "not_found": 9}
    square = [[-7.1, 40.3], [-7.08, 40.3], [-7.08, 40.32], [-7.1, 40.32], [-7.1, 40.3]]
    block = {
        "type": "Feature",
        "properties": {"kind": "block", "name": "<b>North</b>", "url": "/plain/"},
        "geometry": {"type": "Polygon", "coordinates": [square]},
    }
    due = {
        "what": "Order oaks",
        "why": "The window opens on 8 February.",
        "url": "/plain/",
        "label": "See the need",
    }
    page = engines["django"].from_string((Path(__file__).parent / "pages" / "sample.html").read_text())
    context = {
        "title": "Three things to decide",
        "due": [due | {"due_on": date(2026, 11, 27), "urgent": True}, due],
        "rows": rows,
        "shapes": block,
        "form": BoundaryForm(request.POST or None),
    }
    return HttpResponse(page.render(context, request))


urlpatterns = [
    path("accounts/", include("allauth.account.urls")),
    path("plain/", plain),
    path("sample/", sample),
    path("forbidden/", forbidden),
    path("unreadable/", unreadable),
    path("broken/", broken),
]
