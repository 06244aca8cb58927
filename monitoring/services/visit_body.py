"""Read the text of a `visit/1` record: every field of the sheet, every fault with its place and cure.

A released schema is accepted for ever. Keys not known here stay in the stored bytes and are passed over.
"""

from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _

from projects.services.field_kinds.reading import (
    MOST,
    MOST_LINES,
    BodyReader,
    check_schema,
    clean,
    loaded,
)

SCHEMAS = ("visit/1",)
COUNTS = ("alive", "dead_stem", "empty_spot", "not_assessed", "resprout", "origin_uncertain")
UNITS = ("tree", "seed_spot", "seed_area")
SIGNS = ("bitten", "pulled", "frost_blackened", "smothered", "burnt", "mown", "flooded", "none_seen", "other")
DESTROYED = ("burnt", "slid", "built_on", "other")
MISSING = ("unsafe", "refused", "not_located", "not_reached")
SPOT_STATUSES = ("alive", "dead_stem", "empty_spot", "not_found", "not_assessed")
BASELINE_SOURCES = ("at_planting", "later", "visible_spots", "none")


@dataclass(frozen=True)
class BaselineLine:
    """How many of one species were planted in the plot, as this visit says."""

    line: UUID
    species: str
    cohort: UUID | None
    planted: int | None
    unit: str
    source: str
    counted_on: date


@dataclass(frozen=True)
class SheetLine:
    """One line of the count sheet; `not_found` None means the remainder."""

    baselines: tuple[UUID, ...]
    species: str
    unit: str
    alive: int
    dead_stem: int
    empty_spot: int
    not_found: int | None
    not_assessed: int
    resprout: int
    origin_uncertain: int
    seedlings: int | None
    signs: dict[str, int]
    heights_cm: tuple[int, ...]
    spots: tuple[dict[str, str], ...]


@dataclass(frozen=True)
class RegenerationCount:
    species: str | None
    name: str
    height_class: str
    count: int
    capped: bool
    subplot_area_m2: float | None


@dataclass(frozen=True)
class RemovalNote:
    baseline: UUID
    removed_on: date
    alive_removed: int
    reason: str


@dataclass(frozen=True)
class VisitBody:
    """One revision of a visit, as the phone wrote it."""

    visit: UUID
    parents: tuple[UUID, ...]
    plot: UUID
    round: UUID | None
    purpose: str
    observed_on: date
    clock_offset_ms: int | None
    status: str
    reason: str
    baselines: tuple[BaselineLine, ...]
    lines: tuple[SheetLine, ...]
    regeneration: tuple[RegenerationCount, ...]
    removals: tuple[RemovalNote, ...]

    def species_slugs(self) -> set[str]:
        """Return every species the record names."""
        named: list[Any] = [*self.baselines, *self.lines, *self.regeneration]
        return {row.species for row in named if row.species}


def read_visit(schema: str, text: str) -> VisitBody:
    """Parse a record, or raise `Rejected` with all its faults at once."""
    check_schema(schema, SCHEMAS)
    reader = Reader()
    return reader.finish(reader.visit(loaded(text)))


class Reader(BodyReader):
    """Reads the parts of a count sheet."""

    def slug(self, data: dict, at: str, *, needed: bool = True) -> str:
        value = self.text(data, "species", at, 200)
        if needed and not value:
            self.fault(f"{at}/species", _("Name the species of this line."))
        return value

    # --- the parts of a sheet ---------------------------------------------------------------
    def visit(self, data: dict) -> VisitBody:
        status = self.word(data, "status", "", ("counted", "destroyed", "missing"))
        purpose = self.word(data, "purpose", "", ("survival", "baseline"), "survival")
        body = VisitBody(
            visit=self.uuid(data.get("visit"), "/visit"),  # type: ignore[arg-type]
            parents=self.uuids(data, "parents", ""),
            plot=self.uuid(data.get("plot"), "/plot"),  # type: ignore[arg-type]
            round=self.uuid(data.get("round"), "/round", needed=False),
            purpose=purpose,
            observed_on=self.day(data.get("observed_on"), "/observed_on"),
            clock_offset_ms=self.offset(data.get("clock_offset_ms")),
            status=status,
            reason=self.reason(data, status),
            baselines=self.rows(data, "baselines", self.baseline),
            lines=self.rows(data, "lines", self.line),
            regeneration=self.rows(data, "regeneration", self.regenerated),
            removals=self.rows(data, "removals", self.removal),
        )
        if purpose == "survival" and body.round is None:
            self.fault("/round", _("A survival count belongs to a survey round. Choose the round."))
        if len({line.line for line in body.baselines}) < len(body.baselines):
            self.fault("/baselines", _("One baseline is listed twice. Keep one of the two rows."))
        return body

    def reason(self, data: dict, status: str) -> str:
        if status == "counted":
            return ""
        words = DESTROYED if status == "destroyed" else MISSING
        return self.word(data, "reason", "", words)

    def uuids(self, data: dict, key: str, at: str) -> tuple[UUID, ...]:
        values = data.get(key) or []
        if not isinstance(values, list) or len(values) > 50:
            self.fault(f"{at}/{key}", _("This must be a list of identifiers."))
            return ()
        found = [self.uuid(value, f"{at}/{key}/{n}") for n, value in enumerate(values)]
        return tuple(dict.fromkeys(uid for uid in found if uid is not None))

    def baseline(self, row: dict, at: str) -> BaselineLine:
        return BaselineLine(
            line=self.uuid(row.get("uid"), f"{at}/uid"),  # type: ignore[arg-type]
            species=self.slug(row, at),
            cohort=self.uuid(row.get("cohort"), f"{at}/cohort", needed=False),
            planted=self.count(row, "planted", at, default=None),
            unit=self.word(row, "unit", at, UNITS, "tree"),
            source=self.word(row, "source", at, BASELINE_SOURCES, "at_planting"),
            counted_on=self.day(row.get("counted_on"), f"{at}/counted_on"),
        )

    def line(self, row: dict, at: str) -> SheetLine:
        counts = {name: self.count(row, name, at) for name in COUNTS}
        if row.get("alive") is None:
            self.fault(f"{at}/alive", _("Write how many are alive, 0 if none."))
        return SheetLine(
            baselines=self.uuids(row, "baselines", at),
            species=self.slug(row, at),
            unit=self.word(row, "unit", at, UNITS, "tree"),
            not_found=self.count(row, "not_found", at, default=None),
            seedlings=self.count(row, "seedlings", at, default=None),
            signs=self.signs(row.get("signs") or {}, f"{at}/signs"),
            heights_cm=self.heights(row.get("heights_cm") or [], f"{at}/heights_cm"),
            spots=self.spots(row.get("spots") or [], f"{at}/spots"),
            **counts,
        )

    def signs(self, value: Any, at: str) -> dict[str, int]:
        row = self.object(value, at)
        for name in sorted(set(row) - set(SIGNS)):
            self.fault(
                f"{at}/{clean(str(name))[:40]}",
                _("Choose one of: %(choices)s.") % {"choices": ", ".join(SIGNS)},
            )
        counted = {name: self.count(row, name, at) for name in SIGNS if name in row}
        return {name: count for name, count in counted.items() if count}

    def heights(self, value: Any, at: str) -> tuple[int, ...]:
        if not isinstance(value, list) or len(value) > MOST_LINES:
            self.fault(at, _("This must be a list of heights in whole centimetres."))
            return ()
        if any(type(height) is not int or not 0 <= height <= 15_000 for height in value):
            self.fault(at, _("Write each height in whole centimetres, for example 85."))
            return ()
        return tuple(value)

    def spots(self, value: Any, at: str) -> tuple[dict[str, str], ...]:
        if not isinstance(value, list) or len(value) > MOST_LINES:
            self.fault(at, _("This must be a list of planting spots."))
            return ()
        rows = [(self.object(row, f"{at}/{n}"), f"{at}/{n}") for n, row in enumerate(value)]
        return tuple(
            {
                "spot": self.text(row, "spot", here, 20),
                "status": self.word(row, "status", here, SPOT_STATUSES),
            }
            for row, here in rows
        )

    def regenerated(self, row: dict, at: str) -> RegenerationCount:
        species = self.slug(row, at, needed=False)
        name = self.text(row, "name", at, 120)
        if not species and not name:
            self.fault(f"{at}/species", _("Name the species, or write what you call it."))
        area = row.get("subplot_area_m2")
        if area is not None and (type(area) not in (int, float) or not 0 < area < MOST):
            self.fault(f"{at}/subplot_area_m2", _("Write the area in square metres, above 0."))
            area = None
        return RegenerationCount(
            species=species or None,
            name=name,
            height_class=self.word(row, "height_class", at, ("lower", "upper")),
            count=self.count(row, "count", at),
            capped=row.get("capped") is True,
            subplot_area_m2=float(area) if area is not None else None,
        )

    def removal(self, row: dict, at: str) -> RemovalNote:
        return RemovalNote(
            baseline=self.uuid(row.get("baseline"), f"{at}/baseline"),  # type: ignore[arg-type]
            removed_on=self.day(row.get("removed_on"), f"{at}/removed_on"),
            alive_removed=self.count(row, "alive_removed", at),
            reason=self.word(row, "reason", at, ("thinning", "theft", "construction", "other"), "other"),
        )
