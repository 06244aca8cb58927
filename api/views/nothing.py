"""Every address under /api/ that leads nowhere answers like the rest of the API."""

from typing import Any, Never

from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request

from api.permissions import OPEN
from api.views.base import ApiView


@extend_schema(exclude=True)
class NothingView(ApiView):
    verbs = {"GET": OPEN, "POST": OPEN}
    authentication_classes = []

    def get(self, request: Request, *args: Any, **kwargs: Any) -> Never:
        """Answer 404 as a problem document."""
        raise Http404

    post = get
