"""The lines of a count sheet as `visit/1` writes them."""

from typing import Any
from uuid import UUID

from monitoring.demo.counts import LineCount, PlotRound


def line_marks(line: LineCount, baseline: UUID, *, known: bool) -> dict[str, Any]:
    """Return one line; 0 and empty marks are left out, as the phone does.

    Without a `known` baseline a crew writes only what lives.
    """
    row: dict[str, Any] = {
        "baselines": [str(baseline)], "species": line.planting.species, "unit": line.planting.unit,
        "alive": line.alive,
    }  # fmt: skip
    marks: dict[str, Any] = {"heights_cm": list(line.heights_cm)}
    if known:
        marks |= {
            "dead_stem": line.dead_stem, "empty_spot": line.empty_spot, "resprout": line.resprout,
            "origin_uncertain": line.origin_uncertain, "seedlings": line.seedlings, "signs": line.signs,
        }  # fmt: skip
    return row | {name: value for name, value in marks.items() if value}


def visible(line: LineCount) -> int:
    """Return the spots of a planting that can still be seen."""
    return line.alive + line.dead_stem + line.empty_spot


def natural_rows(seen: PlotRound) -> list[dict[str, Any]]:
    """Return the regeneration lines of a sheet."""
    return [
        {"species": row.species, "height_class": row.height_class, "count": row.count, "capped": row.capped}
        for row in seen.natural
    ]


def over_baseline(line: LineCount, row: dict[str, Any]) -> dict[str, Any]:
    """Return a line on which neighbours' trees were counted too: three more than were ever planted."""
    return {
        "baselines": row["baselines"],
        "species": row["species"],
        "unit": row["unit"],
        "alive": line.planted + 3,
    }


def counted_otherwise(row: dict[str, Any]) -> dict[str, Any]:
    """Return a line on which two living trees were taken for dead."""
    moved = min(2, row["alive"])
    return {
        **row, "alive": row["alive"] - moved, "dead_stem": row.get("dead_stem", 0) + moved,
        "resprout": min(row.get("resprout", 0), row["alive"] - moved),
    }  # fmt: skip
