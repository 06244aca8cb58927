"""What a phone reads and sends: the field pack, and its items."""

import hashlib
import json

from django.conf import settings
from django.utils import timezone
from django.utils.http import parse_etags
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from api import items
from api.serializers.field import BatchSerializer, OutcomesSerializer, PackSerializer
from api.views.base import FieldView
from monitoring.selectors.field_pack import Pack, field_pack


class PackView(FieldView):
    verbs = {"GET": "visit.add"}

    @extend_schema(
        operation_id="field_pack",
        summary="Rounds, plots and baselines to count offline",
        responses=PackSerializer,
    )
    def get(self, request: Request) -> Response:
        """Return the pack, or 304 where the phone already holds the same one (`If-None-Match`)."""
        pack = {**field_pack(request.actor), "release": settings.RELEASE}
        headers = {"ETag": etag_of(pack)}
        if headers["ETag"] in parse_etags(request.headers.get("If-None-Match", "")):
            return Response(status=status.HTTP_304_NOT_MODIFIED, headers=headers)
        return Response({**pack, "server_time": timezone.now().isoformat()}, headers=headers)


class ItemsView(FieldView):
    verbs = {"POST": "visit.add"}

    @extend_schema(
        operation_id="field_items", summary="Send up to 50 records, 256 KiB; each has its own outcome",
        request=BatchSerializer, responses=OutcomesSerializer,
    )  # fmt: skip
    def post(self, request: Request) -> Response:
        """Store a batch. Sending the same items again is harmless."""
        outcomes = items.receive(request.actor, request.data)
        return Response({"server_time": timezone.now().isoformat(), "outcomes": outcomes})


def etag_of(pack: Pack) -> str:
    """Return a weak entity tag: the same pack, whatever the clock says."""
    text = json.dumps(pack, sort_keys=True, ensure_ascii=True)
    return f'W/"{hashlib.sha256(text.encode()).hexdigest()[:32]}"'
