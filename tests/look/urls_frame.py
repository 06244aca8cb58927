"""Addresses for looking at the frame alone: account pages, refusals, and one plain page."""

from django.core.exceptions import BadRequest, PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
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


urlpatterns = [
    path("accounts/", include("allauth.account.urls")),
    path("plain/", plain),
    path("forbidden/", forbidden),
    path("unreadable/", unreadable),
    path("broken/", broken),
]
