"""Who is asking: an enrolled phone by its cookie, or a signed-in member. Both must show the CSRF token to change.

Each sets `request.actor`. Where somebody cannot be recognised, `request.unrecognised` says why, and the
permission check answers with it.
"""

from typing import Any

from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.utils.translation import gettext as _
from rest_framework.authentication import BaseAuthentication, CSRFCheck
from rest_framework.exceptions import APIException, NotAuthenticated, NotFound, PermissionDenied
from rest_framework.request import Request
from rest_framework.response import Response

from api.errors import Problem
from monitoring.services import passes
from projects import access
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Membership

COOKIE = "tg_field"
CHALLENGE = 'Cookie realm="Tallygrove"'


class FieldPassAuthentication(BaseAuthentication):
    """The cookie of an enrolled phone. A worn-out cookie does not stand in a member's way."""

    def authenticate(self, request: Request) -> tuple[Any, Actor] | None:
        """Return (nobody, actor) for a valid pass."""
        token = request.COOKIES.get(COOKIE)
        if not token:
            return None
        try:
            field_pass = passes.pass_of(token)
        except Refusal as refusal:
            request.unrecognised = NotAuthenticated(refusal.message, refusal.code)
            return None
        enforce_csrf(request)
        return recognised(request, AnonymousUser(), passes.actor_of(field_pass))

    def authenticate_header(self, request: Request) -> str:
        return CHALLENGE


class MemberAuthentication(BaseAuthentication):
    """A signed-in member, in the organisation of the address, or of `?organisation=`, or the only one."""

    def authenticate(self, request: Request) -> tuple[Any, Actor | None] | None:
        """Return (user, actor); the actor is None where the organisation is not settled."""
        user = getattr(request._request, "user", None)
        if user is None or not user.is_authenticated or not user.is_active:
            return None
        enforce_csrf(request)
        membership = membership_of(request, user)
        return recognised(request, user, access.member_actor(membership) if membership else None)

    def authenticate_header(self, request: Request) -> str:
        return CHALLENGE


def recognised(request: Request, user: Any, actor: Actor | None) -> tuple[Any, Actor | None]:
    """Set the actor on the request, also where the pages' code looks for it."""
    request.actor = request._request.actor = actor
    return user, actor


def membership_of(request: Request, user: Any) -> Membership | None:
    """Return the membership this request is about; strangers to an organisation meet 404."""
    named = request.parser_context["kwargs"].get("org") or request.query_params.get("organisation")
    rows = access.memberships_of(user)
    if named:
        found = rows.filter(organisation__slug=named.replace("\x00", "")).first()
        if found is None:
            raise NotFound(_("There is nothing at this address."))
        return found
    found = list(rows[:2])
    if len(found) == 1:
        return found[0]
    request.unrecognised = organisation_needed() if found else no_organisation()
    return None


def organisation_needed() -> APIException:
    detail = _("You belong to several organisations. Say which with ?organisation=its-short-name.")
    return Problem(
        400,
        "organisation_needed",
        detail,
        errors=[{"pointer": "", "parameter": "organisation", "detail": detail}],
    )


def no_organisation() -> APIException:
    return PermissionDenied(_("You do not belong to any organisation here."), "no_membership")


def enforce_csrf(request: Request) -> None:
    """Refuse a change whose CSRF token is missing or foreign. The body is not read for it."""
    check = CSRFCheck(lambda _request: None)
    check.process_request(request._request)
    if check.process_view(request._request, None, (), {}):
        raise PermissionDenied(
            _("The safety token is missing or old. Fetch /api/v1/session, then send again with X-CSRFToken."),
            "csrf_failed",
        )


def set_pass_cookie(response: Response, enrolled: passes.Enrolled) -> None:
    """Give the phone its credential; scripts cannot read it and other sites cannot send it."""
    response.set_cookie(
        COOKIE, enrolled.token, expires=enrolled.field_pass.expires_at, path="/", httponly=True,
        samesite="Lax", secure=not settings.ON_LOOPBACK,
    )  # fmt: skip


def clear_pass_cookie(response: Response) -> None:
    response.delete_cookie(COOKIE, path="/", samesite="Lax")
