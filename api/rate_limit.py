"""Slows down guessing of field-pass codes.

At most 20 wrong codes from one address in 10 minutes. Every try is counted before the code is looked at, by one
atomic increment of the cache, so that parallel tries cannot slip through; a right code gives its count back, so
that a whole crew can enrol behind one hotspot. With a cache kept in each process (the default) the limit holds
for each process; TALLYGROVE_CACHE names a shared one. A code has 50 bits and lives 7 days: at this rate a guess
is hopeless with or without sharing.
"""

from collections.abc import Iterator
from contextlib import contextmanager

from django.core.cache import cache
from django.utils.translation import gettext as _
from rest_framework.request import Request
from rest_framework.throttling import BaseThrottle

from api.errors import Problem

MOST_WRONG_CODES = 20
WINDOW_SECONDS = 600


@contextmanager
def few_wrong_codes(request: Request) -> Iterator[None]:
    """Count a try; give the count back when the block ends without a refusal."""
    key = f"field-code-tries:{BaseThrottle().get_ident(request)}"
    if tried(key) > MOST_WRONG_CODES:
        detail = _("Too many wrong codes came from here. Wait ten minutes, or ask your field lead for help.")
        raise Problem(429, "too_many_tries", detail, wait=WINDOW_SECONDS)
    yield
    give_back(key)


def tried(key: str) -> int:
    """Add one and return the count of the window."""
    cache.add(key, 0, WINDOW_SECONDS)
    try:
        return cache.incr(key)
    except ValueError:  # the window ended between the two lines
        cache.add(key, 1, WINDOW_SECONDS)
        return 1


def give_back(key: str) -> None:
    try:
        cache.decr(key)
    except ValueError:
        return
