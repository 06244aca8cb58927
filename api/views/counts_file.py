"""The counts of a round as a file, with its Table Schema beside it."""

from typing import Any
from uuid import UUID

from django.http import HttpResponseBase, StreamingHttpResponse
from django.urls import reverse
from django.utils.text import slugify
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from api.tables import csv_lines, table_schema
from api.views.base import ApiView
from monitoring.access import round_for
from monitoring.selectors.counts_file import COLUMNS, count_cells


class CountsView(ApiView):
    verbs = {"GET": "visit.view"}

    @extend_schema(
        operation_id="round_counts", summary="Counts of a round as CSV", tags=["rounds"],
        responses={(200, "text/csv"): OpenApiTypes.STR},
    )  # fmt: skip
    def get(self, request: Request, org: str, uid: UUID) -> HttpResponseBase:
        """Stream the rows the round's figures were computed from."""
        survey_round = round_for(request.actor, uid, "visit.view")
        response = StreamingHttpResponse(
            csv_lines(COLUMNS, count_cells(survey_round)),
            content_type="text/csv; charset=utf-8; header=present",
        )
        name = slugify(survey_round.name) or "round"
        response["Content-Disposition"] = f'attachment; filename="{name}-counts.csv"'
        schema = request.build_absolute_uri(
            reverse("api:round_counts_schema", kwargs={"org": org, "uid": uid})
        )
        response["Link"] = f'<{schema}>; rel="describedby"; type="application/json"'
        return response


class CountsSchemaView(ApiView):
    verbs = {"GET": "visit.view"}

    @extend_schema(
        operation_id="round_counts_schema", summary="Table Schema of the counts file", tags=["rounds"],
        responses={(200, "application/json"): OpenApiTypes.OBJECT},
    )  # fmt: skip
    def get(self, request: Request, org: str, uid: UUID) -> Response:
        """Describe each column; the same for every round."""
        round_for(request.actor, uid, "visit.view")
        described: dict[str, Any] = table_schema(COLUMNS)
        return Response(described)
