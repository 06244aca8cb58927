"""Sign-in of phones: what the session is, enrol with a code, leave."""

from typing import Any

from django.middleware.csrf import get_token
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from api.authentication import clear_pass_cookie, enforce_csrf, set_pass_cookie
from api.permissions import OPEN
from api.rate_limit import few_wrong_codes
from api.serializers.field import EnrolSerializer, SessionSerializer
from api.views.base import ApiView, FieldView
from monitoring.services import passes
from projects.access import Actor


class SessionView(FieldView):
    verbs = {"GET": OPEN}

    @extend_schema(
        operation_id="session",
        summary="Who is signed in here, and the CSRF token",
        responses=SessionSerializer,
    )
    def get(self, request: Request) -> Response:
        """Answer for everybody; never kept by a cache."""
        return session_answer(request, getattr(request, "actor", None))


class EnrolView(ApiView):
    verbs = {"POST": OPEN}
    authentication_classes = []

    @extend_schema(
        operation_id="field_enrol", summary="Exchange the code of a field pass for a cookie",
        request=EnrolSerializer, responses=SessionSerializer,
    )  # fmt: skip
    def post(self, request: Request) -> Response:
        """Sign a phone in. The code is spent by it."""
        enforce_csrf(request)
        given = EnrolSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        with few_wrong_codes(request):
            enrolled = passes.enrol(**given.validated_data)
        response = session_answer(request, passes.actor_of(enrolled.field_pass))
        set_pass_cookie(response, enrolled)
        return response


class LeaveView(FieldView):
    verbs = {"POST": OPEN}

    @extend_schema(
        operation_id="field_leave", summary="Sign this phone off", request=None, responses={204: None}
    )
    def post(self, request: Request) -> Response:
        """End the phone's credential and clear its cookie. Nothing on the phone is touched."""
        enforce_csrf(request)
        actor = getattr(request, "actor", None)
        if actor is not None:
            passes.leave(actor=actor)
        response = Response(status=status.HTTP_204_NO_CONTENT)
        clear_pass_cookie(response)
        return response


def session_answer(request: Request, actor: Actor | None) -> Response:
    """Say who is signed in, with a token for the next change."""
    answer: dict[str, Any] = {
        "authenticated": actor is not None or (request.user is not None and request.user.is_authenticated),
        "csrf_token": get_token(request._request),
        "server_time": timezone.now().isoformat(),
        "organisation": None,
        "pass": None,
    }
    if actor is not None:
        answer["organisation"] = {"slug": actor.organisation.slug, "name": actor.organisation.name}
        answer["pass"] = told_pass(actor)
    return Response(answer, headers={"Cache-Control": "no-store"})


def told_pass(actor: Actor) -> dict[str, str] | None:
    """Return what a phone may know of its pass."""
    if actor.field_pass is None:
        return None
    return {
        "uid": str(actor.field_pass.uid),
        "label": actor.field_pass.label,
        "expires_at": actor.field_pass.expires_at.isoformat(),
    }
