"""What every API view shares: JSON unless it says otherwise, a bounded body, a verb for each method."""

from typing import Any

from rest_framework.exceptions import MethodNotAllowed
from rest_framework.negotiation import BaseContentNegotiation
from rest_framework.parsers import BaseParser
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request
from rest_framework.views import APIView

from api.authentication import FieldPassAuthentication, MemberAuthentication
from api.errors import too_large
from api.parsers import MOST_BYTES, BoundedJSONParser
from api.permissions import PolicyPermission


class JsonWhateverIsAsked(BaseContentNegotiation):
    """Answer JSON whatever `Accept` says, so that a refusal is never a page."""

    def select_parser(self, request: Request, parsers: list[BaseParser]) -> BaseParser | None:
        """Return the parser of the body's media type."""
        kind = (request.content_type or "").split(";")[0].strip().lower()
        return next((parser for parser in parsers if parser.media_type == kind), None)

    def select_renderer(
        self, request: Request, renderers: list[BaseRenderer], format_suffix: str | None = None
    ) -> tuple[BaseRenderer, str]:
        """Return the first renderer."""
        return renderers[0], renderers[0].media_type


class ApiView(APIView):
    """A view of the API. Subclasses name `verbs`, {"GET": "round.view"}, from `projects/policy.py`."""

    verbs: dict[str, str] = {}
    most_bytes = MOST_BYTES
    http_method_names = ["get", "head", "post"]
    authentication_classes = [MemberAuthentication]
    permission_classes = [PolicyPermission]
    parser_classes = [BoundedJSONParser]
    renderer_classes = [JSONRenderer]
    content_negotiation_class = JsonWhateverIsAsked

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Refuse what no sign-in would make possible before asking who it is."""
        if not hasattr(self, (request.method or "").lower()) or request.method not in self.allowed_methods:
            raise MethodNotAllowed(request.method)
        if declared_length(request) > self.most_bytes:
            raise too_large(self.most_bytes)
        super().initial(request, *args, **kwargs)


class FieldView(ApiView):
    """A view that an enrolled phone may use, and a member too."""

    authentication_classes = [FieldPassAuthentication, MemberAuthentication]


def declared_length(request: Request) -> int:
    """Return the length the request says its body has; 0 where it says nothing usable."""
    stated = request.META.get("CONTENT_LENGTH") or "0"
    return int(stated[:20]) if stated.isascii() and stated.isdigit() else 0
