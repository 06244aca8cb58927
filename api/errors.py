"""Every refusal of the API as a problem document (RFC 9457): a stable code, and words that say what to do."""

import logging
from collections.abc import Iterator
from typing import Any

from django.core.exceptions import PermissionDenied, RequestDataTooBig, SuspiciousOperation
from django.core.exceptions import ValidationError as ModelValidationError
from django.core.signals import got_request_exception
from django.db import OperationalError
from django.http import Http404, UnreadablePostError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.serializers import as_serializer_error

from projects.errors import Refusal

logger = logging.getLogger(__name__)

PROBLEM_TYPE = "application/problem+json"
BUSY_SECONDS = 5
TITLES = {
    400: gettext_lazy("Something in the request has to be changed"),
    401: gettext_lazy("Sign in first"),
    403: gettext_lazy("Not allowed"),
    404: gettext_lazy("Nothing here"),
    405: gettext_lazy("Not possible at this address"),
    409: gettext_lazy("Already used"),
    413: gettext_lazy("Too much at once"),
    415: gettext_lazy("Another format is needed"),
    422: gettext_lazy("Not accepted"),
    429: gettext_lazy("Too many tries"),
    500: gettext_lazy("Our mistake"),
    503: gettext_lazy("Busy"),
}


class Problem(exceptions.APIException):
    """A refusal raised by the API itself."""

    def __init__(
        self, status: int, code: str, detail: str, *, errors: Any = (), wait: float | None = None
    ) -> None:
        super().__init__(detail, code)
        self.status_code, self.errors, self.wait = status, list(errors), wait


def too_large(most_bytes: int) -> Problem:
    """Return the refusal of a body that is over the limit."""
    kibibytes = most_bytes // 1024
    detail = _("Send at most %(size)d KiB at once. Send the rest after it.") % {"size": kibibytes}
    return Problem(413, "too_large", detail)


def document(status: int, code: str, detail: str, errors: Any = ()) -> dict[str, Any]:
    """Return one problem document."""
    return {
        "type": "about:blank", "title": str(TITLES.get(status, TITLES[400])), "status": status,
        "code": code, "detail": str(detail), "errors": list(errors),
    }  # fmt: skip


def problem_response(exc: Exception, context: dict[str, Any]) -> Response:
    """Answer any exception of a view; the only place where the API turns one into a response."""
    problem = as_problem(exc, context.get("request"))
    response = Response(
        document(problem.status_code, problem.detail.code, problem.detail, getattr(problem, "errors", ())),
        status=problem.status_code,
        content_type=PROBLEM_TYPE,
    )
    if getattr(problem, "auth_header", None):
        response["WWW-Authenticate"] = problem.auth_header
    if getattr(problem, "wait", None) is not None:
        response["Retry-After"] = str(max(1, round(problem.wait)))
    return response


def as_problem(exc: Exception, request: Any) -> exceptions.APIException:
    """Return an exception as one that carries status, code and detail."""
    if isinstance(exc, exceptions.ValidationError):
        return invalid(exc.detail, request)
    if isinstance(exc, exceptions.APIException):
        return exc
    if isinstance(exc, ModelValidationError):
        return invalid(as_serializer_error(exc), request)
    if isinstance(exc, Refusal):
        pointer = f"/{exc.field}" if exc.field else ""
        return Problem(400, exc.code, exc.message, errors=[{"pointer": pointer, "detail": exc.message}])
    return plain_problem(exc, request)


def plain_problem(exc: Exception, request: Any) -> exceptions.APIException:
    """Return what Django or Python raised as a problem; an unforeseen one is logged and stays ours."""
    if isinstance(exc, Http404):
        return exceptions.NotFound(_("There is nothing at this address."))
    if isinstance(exc, PermissionDenied):
        return exceptions.PermissionDenied(str(exc) or None)
    if isinstance(exc, RequestDataTooBig):
        return Problem(413, "too_large", _("The request is too large. Send less at once."))
    if isinstance(exc, SuspiciousOperation | UnreadablePostError):
        return Problem(400, "unreadable", _("The request could not be read to its end. Send it again."))
    if isinstance(exc, OperationalError):
        logger.warning("the database was busy: %s", exc)
        return Problem(
            503, "busy", _("The service is busy. Nothing was lost; try again soon."), wait=BUSY_SECONDS
        )
    logger.error("an API request failed", exc_info=exc)
    got_request_exception.send(sender=None, request=getattr(request, "_request", request))
    return Problem(
        500, "our_mistake", _("Something went wrong on our side. Nothing was changed; try again later.")
    )


def invalid(detail: Any, request: Any) -> Problem:
    """Return a refusal that names each field at fault."""
    in_query = getattr(request, "method", "") in ("GET", "HEAD")
    errors = [fault(path, message, in_query) for path, message in flattened(detail)]
    return Problem(400, "invalid", _("Some values cannot be used; see errors."), errors=errors)


def fault(path: tuple[str, ...], message: str, in_query: bool) -> dict[str, str]:
    """Return one entry of `errors`: a JSON pointer into the body, or the name of a query parameter."""
    if in_query:
        return {"pointer": "", "parameter": ".".join(path), "detail": message}
    return {"pointer": "".join(f"/{step}" for step in path), "detail": message}


def flattened(detail: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], str]]:
    """Yield (path, message) for every message of a nested error."""
    if isinstance(detail, dict):
        for key, value in detail.items():
            yield from flattened(value, path if key == "non_field_errors" else (*path, str(key)))
    elif isinstance(detail, list):
        for position, value in enumerate(detail):
            yield from flattened(value, (*path, str(position)) if isinstance(value, dict | list) else path)
    else:
        yield path, str(detail)
