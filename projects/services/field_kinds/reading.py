"""Read the JSON body of a field record value by value: every fault with its place (a JSON pointer) and its cure.

Each kind of record builds its own reader on this one. Keys nobody asks for stay in the stored bytes.
"""

import json
import re
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any
from uuid import UUID

from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _

from projects.services.log import Fault, Rejected

MOST = 1_000_000  # no record counts more of anything; keeps sums inside 64 bits
MOST_LINES = 500
MOST_FAULTS = 50
MOST_PHOTOS = 12
DIGEST = re.compile(r"[0-9a-f]{64}")


def loaded(text: str) -> dict[str, Any]:
    """Return the JSON object of a body text."""
    try:
        data = json.loads(text, parse_constant=refuse_constant)
    except (ValueError, RecursionError) as error:
        fault = Fault("/body", _("The record is not readable JSON. Save it again on the phone."))
        raise Rejected("body_unreadable", [fault]) from error
    if not isinstance(data, dict):
        raise Rejected("body_unreadable", [Fault("/body", _("The record must be one JSON object."))])
    return data


def refuse_constant(name: str) -> None:
    raise ValueError(name)


def clean(text: str) -> str:
    """Return text that every database can hold: no NUL, no half characters."""
    return text.replace("\x00", "\ufffd").encode("utf-8", "replace").decode()


def shown(value: Any) -> str:
    """Return a value as it can be shown back, short and harmless."""
    return clean(json.dumps(value, ensure_ascii=True, default=str))[:60]


def check_schema(schema: str, known: tuple[str, ...]) -> None:
    """Refuse a version of a record that is not known here."""
    if schema not in known:
        raise Rejected(
            "schema_unknown", [Fault("/schema", _("This version of the form is not known here yet."))]
        )


class BodyReader:
    """Reads values one by one and remembers what was wrong with each."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []

    def fault(self, pointer: str, detail: str) -> None:
        if len(self.faults) < MOST_FAULTS:
            self.faults.append(Fault(pointer, detail))

    def finish(self, body: Any) -> Any:
        """Return a body that was read without a fault, or raise `Rejected` with all of them at once."""
        if self.faults:
            raise Rejected("body_invalid", self.faults)
        return body

    # --- single values ---------------------------------------------------------------------
    def count(self, data: dict, key: str, at: str, default: int | None = 0, most: int = MOST) -> Any:
        """Return a whole number of 0 or more; absent or null gives the default."""
        value = data.get(key)
        if value is None:
            return default
        if type(value) is not int or not 0 <= value <= most:
            self.fault(
                f"{at}/{key}",
                _("Write a whole number of 0 or more. You wrote %(value)s.") % {"value": shown(value)},
            )
            return 0
        return value

    def number(self, data: dict, key: str, at: str, least: float, most: float) -> float | None:
        """Return a number between two bounds; absent or null gives None."""
        value = data.get(key)
        return None if value is None else self.bounded(value, f"{at}/{key}", least, most)

    def bounded(self, value: Any, at: str, least: float, most: float) -> float | None:
        if type(value) in (int, float) and least <= value <= most:
            return float(value)
        words = _("Write a number between %(least)s and %(most)s. You wrote %(value)s.")
        self.fault(at, words % {"least": f"{least:g}", "most": f"{most:g}", "value": shown(value)})
        return None

    def numbers(self, data: dict, key: str, least: float, most: float) -> tuple[float, ...]:
        """Return a list of numbers, each between two bounds."""
        read = [
            self.bounded(value, f"/{key}/{n}", least, most) for n, value in enumerate(self.list(data, key))
        ]
        return tuple(value for value in read if value is not None)

    def uuid(self, value: Any, at: str, *, needed: bool = True) -> UUID | None:
        if value is None and not needed:
            return None
        try:
            return UUID(value)
        except (ValueError, TypeError, AttributeError):
            self.fault(
                at, _("This must be an identifier (UUID). You wrote %(value)s.") % {"value": shown(value)}
            )
            return None

    def day(self, value: Any, at: str) -> date:
        try:
            return date.fromisoformat(value)
        except (ValueError, TypeError):
            self.fault(
                at,
                _("Write a date as year-month-day, for example 2025-09-14. You wrote %(value)s.")
                % {"value": shown(value)},
            )
            return date.min

    def instant(self, value: Any, at: str) -> datetime:
        """Return an instant that says its offset from UTC (RFC 3339)."""
        try:
            found = parse_datetime(value)
            if found is not None and found.utcoffset() is not None:
                found.astimezone(UTC)  # an instant no calendar reaches overflows here, not in the database
                return found
        except (ValueError, TypeError, OverflowError):
            pass
        self.fault(
            at,
            _("Write a time with its offset, for example 2025-09-14T09:30:00+01:00. You wrote %(value)s.")
            % {"value": shown(value)},
        )
        return datetime.min.replace(tzinfo=UTC)

    def word(self, data: dict, key: str, at: str, words: tuple[str, ...], default: str | None = None) -> str:
        value = data.get(key, default)
        if value not in words:
            choices = ", ".join(word for word in words if word)
            self.fault(f"{at}/{key}", _("Choose one of: %(choices)s.") % {"choices": choices})
            return words[0]
        return value

    def text(self, data: dict, key: str, at: str, length: int) -> str:
        value = data.get(key) or ""
        if not isinstance(value, str):
            self.fault(f"{at}/{key}", _("This must be text."))
            return ""
        return clean(value)[:length]

    def offset(self, value: Any) -> int | None:
        return value if type(value) is int and abs(value) < 10**15 else None

    # --- lists -----------------------------------------------------------------------------
    def list(self, data: dict, key: str, most: int = MOST_LINES, at: str = "") -> list[Any]:
        """Return the values of a list; absent or null is an empty one."""
        values = data.get(key)
        if values is None:
            return []
        if not isinstance(values, list) or len(values) > most:
            self.fault(f"{at}/{key}", _("This must be a list of at most %(most)d rows.") % {"most": most})
            return []
        return values

    def rows(self, data: dict, key: str, read: Callable[[dict, str], Any]) -> tuple[Any, ...]:
        """Return the rows of a list, each read with its own pointer."""
        found = enumerate(self.list(data, key))
        return tuple(read(self.object(value, f"/{key}/{n}"), f"/{key}/{n}") for n, value in found)

    def object(self, value: Any, at: str) -> dict:
        if isinstance(value, dict):
            return value
        self.fault(at, _("Each row must be an object with named values."))
        return {}

    def photos(self, data: dict, at: str = "") -> tuple[str, ...]:
        """Return the digests (SHA-256, lower-case hex) of the pictures a record names, each once."""
        values = self.list(data, "photos", MOST_PHOTOS, at)
        for n, value in enumerate(values):
            if not isinstance(value, str) or not DIGEST.fullmatch(value):
                self.fault(
                    f"{at}/photos/{n}", _("Name a picture by its SHA-256: 64 signs, 0 to 9 and a to f.")
                )
                return ()
        return tuple(dict.fromkeys(values))
