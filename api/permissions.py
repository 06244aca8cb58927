"""Default deny: every view names the verb of each method, and `projects/policy.py` says whose it is."""

from typing import Any

from django.utils.translation import gettext as _
from rest_framework.exceptions import NotAuthenticated, PermissionDenied
from rest_framework.permissions import BasePermission
from rest_framework.request import Request

OPEN = "open"  # answers anybody, and tells nothing of any organisation


class PolicyPermission(BasePermission):
    """Allow what the actor's role includes; a method without a verb is nobody's."""

    def has_permission(self, request: Request, view: Any) -> bool:
        """Say whether to go on, or raise what the caller should do."""
        verb = verb_of(view, request.method or "")
        if verb == OPEN:
            return True
        actor = getattr(request, "actor", None)
        if actor is None:
            raise getattr(request, "unrecognised", None) or not_signed_in()
        if verb is None or not actor.may(verb):
            raise PermissionDenied(_("Your role in this organisation does not include this."), "forbidden")
        return True


def verb_of(view: Any, method: str) -> str | None:
    """Return the verb a view names for a method."""
    return getattr(view, "verbs", {}).get("GET" if method == "HEAD" else method)


def not_signed_in() -> NotAuthenticated:
    return NotAuthenticated(_("Sign in, or enter the code of your field pass."), "not_signed_in")
