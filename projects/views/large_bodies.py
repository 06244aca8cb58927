"""What is announced as too large to be taken is refused before it is read into anything."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.defaultfilters import filesizeformat

FORM_AROUND_FILE_BYTES = 64 * 1024
READ_AND_DROPPED_BYTES = 64 * 1024 * 1024
PIECE_BYTES = 64 * 1024


def announced_bytes(request: HttpRequest) -> int:
    """The length a request says its body has; 0 where it says none."""
    length = request.META.get("CONTENT_LENGTH") or "0"
    return int(length) if length.isdecimal() else 0


def is_too_large(request: HttpRequest, most_bytes: int) -> bool:
    """Say whether a form with a file of at most so many bytes is announced larger than it can be."""
    return request.method == "POST" and announced_bytes(request) > most_bytes + FORM_AROUND_FILE_BYTES


def refused(request: HttpRequest, most_bytes: int, **context: Any) -> HttpResponse:
    """Answer 413. What was sent is read and dropped piece by piece: a browser cut off would show no answer."""
    for _piece in range(min(announced_bytes(request), READ_AND_DROPPED_BYTES) // PIECE_BYTES + 1):
        if not request.read(PIECE_BYTES):
            break
    return render(request, "413.html", {"limit": filesizeformat(most_bytes), **context}, status=413)
