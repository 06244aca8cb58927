"""Reads bodies, JSON or a picture, never more of one than the limit."""

import json
from typing import Any

from django.utils.translation import gettext as _
from rest_framework.parsers import BaseParser, JSONParser

from api.errors import Problem, too_large
from projects.documents.phone_pictures import MOST_BYTES as MOST_PICTURE_BYTES

MOST_BYTES = 256 * 1024


class BoundedJSONParser(JSONParser):
    """Strict UTF-8 JSON (RFC 8259) of at most 256 KiB."""

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Any = None) -> Any:
        """Return the parsed body, or refuse it without reading past the limit."""
        content = stream.read(MOST_BYTES + 1)
        if len(content) > MOST_BYTES:
            raise too_large(MOST_BYTES)
        try:
            return json.loads(content.decode("utf-8-sig"), parse_constant=refuse_constant)
        except (ValueError, RecursionError) as error:
            detail = _("The request is not readable JSON. Nothing was stored; send it again.")
            raise Problem(
                400, "json_unreadable", detail, errors=[{"pointer": "", "detail": place_of(error)}]
            ) from error


class PictureParser(BaseParser):
    """One JPEG of at most 2 MiB, as bytes."""

    media_type = "image/jpeg"

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Any = None) -> bytes:
        """Return the bytes of the body, or refuse it without reading past the limit."""
        content = stream.read(MOST_PICTURE_BYTES + 1)
        if len(content) > MOST_PICTURE_BYTES:
            raise too_large(MOST_PICTURE_BYTES)
        return content


def refuse_constant(name: str) -> None:
    raise ValueError(f"{name} is not JSON")


def place_of(error: Exception) -> str:
    """Say where reading stopped, as far as that is known."""
    if isinstance(error, json.JSONDecodeError):
        return _("Reading stopped in line %(line)d, column %(column)d.") % {
            "line": error.lineno,
            "column": error.colno,
        }
    if isinstance(error, UnicodeDecodeError):
        return _("The text is not UTF-8 at byte %(byte)d.") % {"byte": error.start}
    return _("It is nested too deeply or holds a number that is not JSON.")
