"""Read the text of a `care/1` record: a care task done, or put off.

Frozen: a record a released phone could write is read this way for ever. A new question is `care/2`.

    task             uid of the care task; needed
    recorded_at      instant with its offset from UTC (RFC 3339) at which it was saved; needed
    clock_offset_ms  server time less phone time when they last met, whole milliseconds; null where not known
    done_on          day it was done where the block lies, year-month-day; null where it was put off
    put_off          {until: year-month-day, because: why, 1 to 300 signs}; null where it was done
    amount           how much was used or done, in the unit of the task, 0 to 1 000 000 000; null = not said
    photos           SHA-256 of each picture's bytes, at most 12; the bytes travel on their own

Exactly one of `done_on` and `put_off`. `personal`, which can be erased later: author, note, device.
"""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _

from projects.services.field_kinds.reading import BodyReader, check_schema, loaded

SCHEMAS = ("care/1",)
MOST_AMOUNT = 1_000_000_000


@dataclass(frozen=True)
class PutOff:
    """Until when a task waits, and why."""

    until: date
    because: str


@dataclass(frozen=True)
class CareBody:
    """What became of a care task as the phone wrote it: one of `done_on` and `put_off` is set."""

    task: UUID
    recorded_at: datetime
    clock_offset_ms: int | None
    done_on: date | None
    put_off: PutOff | None
    amount: float | None
    photos: tuple[str, ...]


def read_care(schema: str, text: str) -> CareBody:
    """Parse a record, or raise `Rejected` with all its faults at once."""
    check_schema(schema, SCHEMAS)
    return Reader().care(loaded(text))


class Reader(BodyReader):
    """Reads the parts of a care record."""

    def care(self, data: dict[str, Any]) -> CareBody:
        done_on, put_off = data.get("done_on"), data.get("put_off")
        if (done_on is None) == (put_off is None):
            self.fault(
                "/done_on", _("Say on which day it was done, or until when it is put off: one of both.")
            )
        return self.finish(
            CareBody(
                task=self.uuid(data.get("task"), "/task"),  # type: ignore[arg-type]
                recorded_at=self.instant(data.get("recorded_at"), "/recorded_at"),
                clock_offset_ms=self.offset(data.get("clock_offset_ms")),
                done_on=None if done_on is None else self.day(done_on, "/done_on"),
                put_off=None if put_off is None else self.delay(self.object(put_off, "/put_off")),
                amount=self.number(data, "amount", "", 0, MOST_AMOUNT),
                photos=self.photos(data),
            )
        )

    def delay(self, row: dict) -> PutOff:
        because = self.text(row, "because", "/put_off", 300).strip()
        if not because:
            self.fault("/put_off/because", _("Say in a few words why it is put off."))
        return PutOff(self.day(row.get("until"), "/put_off/until"), because)
