"""The headers every answer carries: a strict content policy, and no caching of what people see signed in."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse


def content_policy() -> str:
    """Return the Content-Security-Policy: our own files only, plus the map tiles a setting names."""
    images = "'self' data: blob:"
    if settings.MAP_TILE_URL:
        images += " " + settings.MAP_TILE_URL.split("{", 1)[0]
    return (
        "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; "
        f"img-src {images}; connect-src 'self'; manifest-src 'self'; worker-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'; object-src 'none'"
    )


class SecurityHeadersMiddleware:
    """Add the policy to every answer, errors included."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response
        self.policy = content_policy()

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", self.policy)
        response.headers.setdefault(
            "Permissions-Policy", "geolocation=(self), camera=(self), microphone=(), interest-cohort=()"
        )
        if getattr(request, "user", None) is not None:
            response.headers.setdefault("Cache-Control", "no-store")
        return response
