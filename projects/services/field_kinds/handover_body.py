"""Read the text of a `handover/1` record: one look at a lot where it changes hands.

Frozen: a record a released phone could write is read this way for ever. A new question is `handover/2`.

    lot               uid of the stock lot; needed
    point             nursery | arrival | field_store | crew: where it changes hands; needed
    checked_at        instant with its offset from UTC (RFC 3339), as the phone's clock said, not before
                      1900; needed
    clock_offset_ms   server time less phone time when they last met, whole milliseconds; null where not known
    counted           plants counted, whole; null = not counted
    box_temperature_c degrees Celsius in the box, -100 to 100; null = not measured
    minutes_exposed   minutes roots lay in the open, 0 to 10 080 (a week); null = not known
    root_condition    moist | drying | dry | spoilt | frozen | not_seen; absent = not_seen
    sample_size       plants looked at closely, 1 or more; null = no sample
    sample_bad        of them not fit to plant, at most sample_size; both numbers or neither
    heights_cm        heights of sampled plants in centimetres, 0.1 to 9 999; absent = none
    collars_mm        root-collar diameters in millimetres, 0.1 to 999; where both are given, as many as
                      heights, of the same plants in the same order
    verdict           accept | hold | reject: what the person decided; needed
    because           why, at most 300 signs
    photos            SHA-256 of each picture's bytes, at most 12; the bytes travel on their own

`personal`, which can be erased later: author, note, device.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _

from projects.services.field_kinds.reading import BodyReader, check_schema, loaded

SCHEMAS = ("handover/1",)
POINTS = ("nursery", "arrival", "field_store", "crew")
ROOTS = ("moist", "drying", "dry", "spoilt", "frozen", "not_seen")
VERDICTS = ("accept", "hold", "reject")
FIRST_YEAR = 1900
MOST_MINUTES = 7 * 24 * 60


@dataclass(frozen=True)
class HandoverBody:
    """A hand-over check as the phone wrote it."""

    lot: UUID
    point: str
    checked_at: datetime
    clock_offset_ms: int | None
    counted: int | None
    box_temperature_c: float | None
    minutes_exposed: int | None
    root_condition: str
    sample_size: int | None
    sample_bad: int | None
    heights_cm: tuple[float, ...]
    collars_mm: tuple[float, ...]
    verdict: str
    because: str
    photos: tuple[str, ...]


def read_handover(schema: str, text: str) -> HandoverBody:
    """Parse a record, or raise `Rejected` with all its faults at once."""
    check_schema(schema, SCHEMAS)
    return Reader().handover(loaded(text))


class Reader(BodyReader):
    """Reads the parts of a hand-over check."""

    def handover(self, data: dict[str, Any]) -> HandoverBody:
        size, bad = self.sample(data)
        heights, collars = (
            self.numbers(data, "heights_cm", 0.1, 9_999), self.numbers(data, "collars_mm", 0.1, 999)
        )  # fmt: skip
        if heights and collars and len(heights) != len(collars):
            self.fault("/collars_mm", _("Write a diameter for each height, in the same order."))
        return self.finish(
            HandoverBody(
                lot=self.uuid(data.get("lot"), "/lot"),  # type: ignore[arg-type]
                point=self.word(data, "point", "", POINTS),
                checked_at=self.looked(data.get("checked_at")),
                clock_offset_ms=self.offset(data.get("clock_offset_ms")),
                counted=self.count(data, "counted", "", None),
                box_temperature_c=self.number(data, "box_temperature_c", "", -100, 100),
                minutes_exposed=self.count(data, "minutes_exposed", "", None, MOST_MINUTES),
                root_condition=self.word(data, "root_condition", "", ROOTS, "not_seen"),
                sample_size=size,
                sample_bad=bad,
                heights_cm=heights,
                collars_mm=collars,
                verdict=self.word(data, "verdict", "", VERDICTS),
                because=self.text(data, "because", "", 300),
                photos=self.photos(data),
            )
        )

    def looked(self, value: Any) -> datetime:
        """Return the instant of the look; one so early that no zone's calendar holds it is no clock's."""
        found = self.instant(value, "/checked_at")
        if found.year < FIRST_YEAR and not self.faults:
            self.fault(
                "/checked_at", _("This is long before anybody had a phone. Set its clock, then look again.")
            )
        return found

    def sample(self, data: dict[str, Any]) -> tuple[int | None, int | None]:
        """Return how many plants were looked at and how many of them are unfit: both, or neither."""
        size, bad = self.count(data, "sample_size", "", None), self.count(data, "sample_bad", "", None)
        if (size is None) != (bad is None) or (size is not None and not 0 <= (bad or 0) <= size) or size == 0:
            words = _(
                "Write how many plants were looked at, 1 or more, and how many of them are unfit, no more."
            )
            self.fault("/sample_bad", words)
        return size, bad
