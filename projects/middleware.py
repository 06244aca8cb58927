"""Build the Actor once, from the organisation in the address and the sign-in of the request."""

from collections.abc import Callable
from typing import Any

from django.contrib.auth.views import redirect_to_login
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import translation
from django.utils.translation import gettext as _

from projects import access


class ActorMiddleware:
    """Set `request.actor` for pages under /o/<organisation-slug>/; strangers to it meet 404."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.actor = None
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Any, args: tuple, kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        slug = kwargs.pop("org", None)
        if slug is None or request.path.startswith("/api/"):
            if slug is not None:
                kwargs["org"] = slug
            return None
        if not request.user.is_authenticated:
            return redirect_to_login(request.get_full_path())
        membership = access.memberships_of(request.user).filter(organisation__slug=slug).first()
        if membership is None:
            raise Http404(_("There is nothing at this address."))
        request.actor = access.member_actor(membership)
        if not request.COOKIES.get("django_language"):
            translation.activate(request.user.language or membership.organisation.language)
        return None
