"""Lists by keyset: each page starts after the last row of the one before, however many rows were added meanwhile."""

from typing import Any

from django.utils.translation import gettext as _
from rest_framework.pagination import Cursor, CursorPagination
from rest_framework.response import Response

from api.errors import Problem

LARGEST_KEY = 2**63 - 1


class KeysetPages(CursorPagination):
    """Pages in the order rows were made; `Link: <…>; rel="next"` and `next` lead on."""

    ordering = "id"
    page_size = 50
    max_page_size = 200
    page_size_query_param = "page_size"
    cursor_query_param = "cursor"

    def decode_cursor(self, request: Any) -> Cursor | None:
        """Return the cursor of the request, refusing one that was not made here."""
        try:
            cursor = super().decode_cursor(request)
            usable = cursor is None or cursor.position is None or 0 <= int(cursor.position) <= LARGEST_KEY
        except Exception as error:
            raise unknown_cursor() from error
        if not usable:
            raise unknown_cursor()
        return cursor

    def get_paginated_response(self, data: Any) -> Response:
        """Return a page with its links in the header and in the body."""
        onward, back = self.get_next_link(), self.get_previous_link()
        links = [f'<{link}>; rel="{rel}"' for link, rel in ((onward, "next"), (back, "prev")) if link]
        headers = {"Link": ", ".join(links)} if links else None
        return Response({"results": data, "next": onward, "previous": back}, headers=headers)

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        """Describe a page for OpenAPI."""
        link = {"type": ["string", "null"], "format": "uri"}
        return {
            "type": "object",
            "required": ["results", "next", "previous"],
            "properties": {"results": schema, "next": link, "previous": link},
        }


def unknown_cursor() -> Problem:
    detail = _("This place in the list is not known. Start again without a cursor.")
    return Problem(
        400, "cursor_unknown", detail, errors=[{"pointer": "", "parameter": "cursor", "detail": detail}]
    )
