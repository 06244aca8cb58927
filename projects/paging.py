"""Pages of a list by key, not by number: rows added meanwhile are neither skipped nor shown twice."""

import base64
import binascii
import json
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import FieldDoesNotExist, ValidationError
from django.db.models import Model, Q, QuerySet
from django.http import HttpRequest


@dataclass(frozen=True)
class Page:
    """Rows of one page and the addresses of its neighbours ("" where there is none)."""

    rows: list[Any]
    next_url: str
    previous_url: str


def page(
    queryset: QuerySet,
    request: HttpRequest,
    key: tuple[str, ...] = ("name", "id"),
    size: int = 50,
    name: str = "at",
) -> Page:
    """Return one page of a queryset in the order of `key`.

    `key` names columns that are never null and together unique; a leading "-" turns one around, and
    "__" reaches through a relation that the queryset selects. `name` is the query parameter, so that
    two lists may share a page. An address that cannot be read leads to the first page.
    """
    backwards, position = _read(queryset.model, request.GET.get(name, ""), key)
    rows = queryset.order_by(*(_turned(column) if backwards else column for column in key))
    if position is not None:
        rows = rows.filter(_beyond(key, position, backwards))
    found = list(rows[: size + 1])
    more, found = len(found) > size, found[:size]
    if backwards:
        found.reverse()
    has_next = backwards or more
    has_previous = more if backwards else position is not None
    return Page(
        rows=found,
        next_url=_address(request, name, ">", found[-1], key) if found and has_next else "",
        previous_url=_address(request, name, "<", found[0], key) if found and has_previous else "",
    )


def _turned(column: str) -> str:
    return column[1:] if column.startswith("-") else f"-{column}"


def _beyond(key: tuple[str, ...], position: list[Any], backwards: bool) -> Q:
    """Rows after a position in the order of the key: a > x, or a = x and b > y, and so on."""
    beyond, same = Q(), Q()
    for column, value in zip(key, position, strict=True):
        path = column.lstrip("-")
        descending = column.startswith("-") != backwards
        beyond |= same & Q(**{f"{path}__{'lt' if descending else 'gt'}": value})
        same &= Q(**{path: value})
    return beyond


def _address(request: HttpRequest, name: str, direction: str, row: Any, key: tuple[str, ...]) -> str:
    values = [_value(row, column.lstrip("-")) for column in key]
    text = json.dumps([direction, *values], default=str, separators=(",", ":"))
    query = request.GET.copy()
    query[name] = base64.urlsafe_b64encode(text.encode()).decode().rstrip("=")
    return f"?{query.urlencode()}"


def _value(row: Any, path: str) -> Any:
    for step in path.split("__"):
        row = getattr(row, step)
    return row


def _read(model: type[Model], text: str, key: tuple[str, ...]) -> tuple[bool, list[Any] | None]:
    """Return (backwards, position) of an address; (False, None) for none and for one that makes no sense."""
    if not text:
        return False, None
    try:
        direction, *values = json.loads(base64.urlsafe_b64decode(text + "=" * (-len(text) % 4)))
        position = [
            _typed(model, column.lstrip("-"), value) for column, value in zip(key, values, strict=True)
        ]
    except (ValueError, TypeError, binascii.Error, ValidationError, FieldDoesNotExist):
        return False, None
    return (direction == "<", position) if direction in ("<", ">") and None not in position else (False, None)


def _typed(model: type[Model], path: str, value: Any) -> Any:
    *relations, last = path.split("__")
    for step in relations:
        related = model._meta.get_field(step).related_model
        if not isinstance(related, type):
            raise FieldDoesNotExist(path)
        model = related
    typed = model._meta.get_field(last).to_python(value)
    if isinstance(typed, str) and "\x00" in typed:
        raise ValueError("PostgreSQL keeps no NUL.")
    return typed
