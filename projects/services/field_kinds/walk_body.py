"""Read the text of a `walk/1` record: what was seen on a walk through a block. Signs, never counts.

Frozen: a record a released phone could write is read this way for ever. A new question is `walk/2`.

    block            uid of the block; needed
    walked_on        day of the walk where the block lies, year-month-day; needed
    recorded_at      instant with its offset from UTC (RFC 3339) at which it was saved; needed
    clock_offset_ms  server time less phone time when they last met, whole milliseconds; null where not known
    signs            what was seen, at most 50 rows; an empty list says that nothing was; needed
      sign           stock_in | fence | guards | weeds | invaders | dry | loose | disease | damage | other; needed
      urgency        now | week | month | note: how soon something should be done; absent = month
      where          in words, at most 200 signs
      latitude, longitude   decimal degrees (WGS 84) of the sign; both or neither
      accuracy_m     how far off the place may be, metres; null where not known
      photos         SHA-256 of each picture's bytes, at most 12; the bytes travel on their own

`personal`, which can be erased later: author, note (on the whole walk), sign_notes (one text for each row of
`signs`, in their order; "" where there is none), device.
"""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _

from projects.services.field_kinds.reading import BodyReader, check_schema, loaded

SCHEMAS = ("walk/1",)
SIGNS = (
    "stock_in", "fence", "guards", "weeds", "invaders", "dry", "loose", "disease", "damage", "other",
)  # fmt: skip
URGENCIES = ("now", "week", "month", "note")
MOST_SIGNS = 50


@dataclass(frozen=True)
class SignSeen:
    """One sign as the phone wrote it."""

    sign: str
    urgency: str
    where: str
    latitude: float | None
    longitude: float | None
    accuracy_m: float | None
    photos: tuple[str, ...]


@dataclass(frozen=True)
class WalkBody:
    """A walk as the phone wrote it; no signs say that nothing was seen."""

    block: UUID
    walked_on: date
    recorded_at: datetime
    clock_offset_ms: int | None
    signs: tuple[SignSeen, ...]


def read_walk(schema: str, text: str) -> WalkBody:
    """Parse a record, or raise `Rejected` with all its faults at once."""
    check_schema(schema, SCHEMAS)
    return Reader().walk(loaded(text))


class Reader(BodyReader):
    """Reads the parts of a walk."""

    def walk(self, data: dict[str, Any]) -> WalkBody:
        if not isinstance(data.get("signs"), list):
            self.fault("/signs", _("List what was seen; an empty list says that nothing was."))
        elif len(data["signs"]) > MOST_SIGNS:
            self.fault("/signs", _("At most %(most)d signs fit into one walk.") % {"most": MOST_SIGNS})
        return self.finish(
            WalkBody(
                block=self.uuid(data.get("block"), "/block"),  # type: ignore[arg-type]
                walked_on=self.day(data.get("walked_on"), "/walked_on"),
                recorded_at=self.instant(data.get("recorded_at"), "/recorded_at"),
                clock_offset_ms=self.offset(data.get("clock_offset_ms")),
                signs=self.rows(data, "signs", self.sign),
            )
        )

    def sign(self, row: dict, at: str) -> SignSeen:
        place = self.number(row, "latitude", at, -90, 90), self.number(row, "longitude", at, -180, 180)
        if (row.get("latitude") is None) != (row.get("longitude") is None):
            self.fault(f"{at}/latitude", _("Write both latitude and longitude, or neither."))
        return SignSeen(
            sign=self.word(row, "sign", at, SIGNS),
            urgency=self.word(row, "urgency", at, URGENCIES, "month"),
            where=self.text(row, "where", at, 200),
            latitude=place[0],
            longitude=place[1],
            accuracy_m=self.number(row, "accuracy_m", at, 0, 1_000_000),
            photos=self.photos(row, at),
        )
