"""What a phone reads and sends: the field pack, its items, and the pictures they name."""

import base64
import binascii
import hashlib
import json
import re

from django.conf import settings
from django.utils import timezone
from django.utils.http import parse_etags
from django.utils.translation import gettext as _
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from api import items
from api.errors import Problem
from api.parsers import MOST_PICTURE_BYTES, PictureParser
from api.serializers.field import BatchSerializer, OutcomesSerializer, PackSerializer, PictureSerializer
from api.views.base import FieldView
from monitoring.selectors.field_pack import Pack, field_pack
from projects.services import field_pictures

CONTENT_DIGEST = re.compile(r"(?:^|,)\s*sha-256=:([A-Za-z0-9+/]{43}=):")


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


class PhotosView(FieldView):
    verbs = {"POST": "visit.add"}
    most_bytes = MOST_PICTURE_BYTES
    parser_classes = [PictureParser]

    @extend_schema(
        operation_id="field_photos", summary="Send one picture that a stored record names: a JPEG of at most 2 MiB",
        request={PictureParser.media_type: OpenApiTypes.BINARY}, responses=PictureSerializer,
        parameters=[OpenApiParameter(
            "Content-Digest", str, OpenApiParameter.HEADER, required=True,
            description="SHA-256 of the bytes (RFC 9530): sha-256=:base64:",
        )],
    )  # fmt: skip
    def post(self, request: Request) -> Response:
        """Keep a picture by its digest. Sending the same bytes again is harmless."""
        content = request.data if isinstance(request.data, bytes) else b""  # no body at all is no bytes
        sha256 = told_digest(request.headers.get("Content-Digest", ""))
        is_new = field_pictures.keep(actor=request.actor, content=content, sha256=sha256)
        return Response({"sha256": sha256, "outcome": "stored" if is_new else "already"})


def told_digest(header: str) -> str:
    """Return the SHA-256 that a Content-Digest header names, in hex."""
    found = CONTENT_DIGEST.search(header)
    try:
        return base64.b64decode(found[1], validate=True).hex() if found else missing_digest()
    except binascii.Error:
        return missing_digest()


def missing_digest() -> str:
    detail = _("Name the picture's digest: Content-Digest: sha-256=:…:, the SHA-256 in base64 (RFC 9530).")
    raise Problem(400, "digest_missing", detail)


def etag_of(pack: Pack) -> str:
    """Return a weak entity tag: the same pack, whatever the clock says."""
    text = json.dumps(pack, sort_keys=True, ensure_ascii=True)
    return f'W/"{hashlib.sha256(text.encode()).hexdigest()[:32]}"'
