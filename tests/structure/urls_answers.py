"""The service's addresses and a few that answer in ways no page should."""

from django.http import HttpRequest, HttpResponse, JsonResponse, StreamingHttpResponse
from django.urls import path

from deploy.urls import urlpatterns as ours


def breaks(request: HttpRequest) -> HttpResponse:
    raise RuntimeError("on purpose")


def streams(request: HttpRequest) -> StreamingHttpResponse:
    return StreamingHttpResponse(iter(["a", "b"]))


def plain_json(request: HttpRequest) -> JsonResponse:
    return JsonResponse({})


urlpatterns = [*ours, path("breaks/", breaks), path("streams/", streams), path("json/", plain_json)]
