"""A system check: every API view names, for each method, a verb of the access policy."""

from collections.abc import Iterator
from typing import Any

from django.core.checks import CheckMessage, Error, Tags, register
from django.urls import URLPattern, URLResolver, get_resolver

from api.permissions import OPEN, verb_of
from projects import policy


@register(Tags.urls)
def every_view_names_its_verbs(app_configs: Any = None, **options: Any) -> list[CheckMessage]:
    """Return an error for each method of an API view that nobody was given."""
    return [
        Error(
            f"{view.__name__} answers {method} at {route} without a verb of the access policy.",
            hint='Give the view `verbs = {"GET": "round.view"}` with a verb of projects/policy.py.',
            id="api.E001",
        )
        for route, view in api_views()
        for method in methods_of(view)
        if verb_of(view, method) not in {OPEN, *policy.VERBS}
    ]


def methods_of(view: Any) -> list[str]:
    """Return the methods a view answers; HEAD goes with GET."""
    return [name.upper() for name in view.http_method_names if name != "head" and hasattr(view, name)]


def api_views() -> Iterator[tuple[str, Any]]:
    """Yield (route, view class) of everything under /api/."""
    for pattern in get_resolver().url_patterns:
        if str(pattern.pattern).startswith("api/"):
            yield from views_under(pattern, str(pattern.pattern))


def views_under(pattern: URLPattern | URLResolver, route: str) -> Iterator[tuple[str, Any]]:
    if isinstance(pattern, URLResolver):
        for child in pattern.url_patterns:
            yield from views_under(child, route + str(child.pattern))
    else:
        yield route, getattr(pattern.callback, "cls", None) or pattern.callback
