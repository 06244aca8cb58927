"""Counts of a round as integer columns, one row per plot and baseline line, straight from the tables.

Only visits that count are read, at the revision that stands. Nothing is summed or rounded here.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

import numpy as np
from django.db import connection
from django.db.models import Exists, OuterRef, QuerySet

from monitoring.estimators.table import COUNTED, REBUILT, SEED, SEED_SPOT, TREE, Ints
from monitoring.models import (
    CASES_OF_FIGURES,
    BaselineSource,
    Case,
    CaseKind,
    CountLine,
    PlotBaseline,
    RoundPlot,
    Visit,
)
from projects.models import Unit

UNIT_CODES = {Unit.TREE.value: TREE, Unit.SEED_SPOT.value: SEED_SPOT, Unit.SEED_AREA.value: SEED}
COUNT_COLUMNS = ("alive", "dead_stem", "empty_spot", "not_found", "not_assessed")
BASELINE_COLUMNS = ("baseline", "visit", "species", "cohort", "planted", "unit", "rebuilt", "in_time")
LINE_COLUMNS = ("baseline", "visit", *COUNT_COLUMNS)


@dataclass(frozen=True, slots=True)
class CountingVisit:
    """The visit that counts for one plot of a round."""

    id: int
    plot_id: int
    plot_uid: UUID
    block_id: int
    status: str
    observed_on: date
    seq: int
    plot_weight: float | None
    area_m2: float | None
    radius_m: float | None
    length_m: float | None
    width_m: float | None
    shape: str
    drawn: bool  # the plot was drawn for the round
    accepted: bool  # or a lead decided that it counts all the same
    doubted: bool  # an open case is attached, of its sheet

    @property
    def enters(self) -> bool:
        """A plot nobody drew is no part of the sample until a lead accepts it."""
        return self.drawn or self.accepted


def counting_visits(round_id: int, block_id: int | None = None) -> list[CountingVisit]:
    """The visits that count for a round, or for one block of it, in the order of the plots' identities."""
    cases = Case.objects.filter(round_id=OuterRef("round_id"), plot_id=OuterRef("plot_id"))
    rows = of_block(Visit.objects.filter(round_id=round_id, is_counting=True), block_id).annotate(
        drawn=Exists(RoundPlot.objects.filter(round_id=OuterRef("round_id"), plot_id=OuterRef("plot_id"))),
        accepted=Exists(
            cases.filter(kind=CaseKind.NOT_ON_ROUND, settled_seq__isnull=False, settled_as="accept")
        ),
        doubted=Exists(cases.filter(settled_seq__isnull=True).exclude(kind__in=CASES_OF_FIGURES)),
    )
    columns = (
        "id", "plot_id", "plot__uid", "plot__block_id", "status", "observed_on", "submission_seq",
        "plot__plot_weight", "plot__area_m2", "plot__radius_m", "plot__length_m", "plot__width_m", "plot__shape",
        "drawn", "accepted", "doubted",
    )  # fmt: skip
    found = [CountingVisit(*row) for row in rows.order_by("plot_id").values_list(*columns)]
    return sorted(found, key=lambda visit: visit.plot_uid.int)


def of_block(visits: QuerySet[Visit], block_id: int | None) -> QuerySet[Visit]:
    return visits if block_id is None else visits.filter(plot__block_id=block_id)


BASELINES = f"""
SELECT b.id, v.id, b.species_id, COALESCE(b.cohort_id, -1), COALESCE(b.planted, 0),
       CASE b.unit WHEN '{Unit.TREE}' THEN {TREE} WHEN '{Unit.SEED_SPOT}' THEN {SEED_SPOT} ELSE {SEED} END,
       CASE b.source WHEN '{BaselineSource.VISIBLE_SPOTS}' THEN {REBUILT} ELSE {COUNTED} END,
       CASE WHEN b.counted_on IS NULL OR b.counted_on <= v.observed_on THEN 1 ELSE 0 END
FROM monitoring_visit v
JOIN monitoring_survivalplot p ON p.id = v.plot_id
JOIN monitoring_plotbaseline b ON b.plot_id = v.plot_id AND b.is_current
WHERE v.round_id = %s AND v.is_counting AND v.status <> 'missing' {{block}}
"""  # noqa: S608  (constants of this module)

VISITS_READ = """
SELECT v.id FROM monitoring_visit v JOIN monitoring_survivalplot p ON p.id = v.plot_id
WHERE v.round_id = %s AND v.is_counting AND v.status <> 'missing' {block}
"""
LINES = """
SELECT l.baseline_id, l.visit_id, l.alive, l.dead_stem, l.empty_spot, l.not_found, l.not_assessed
FROM monitoring_countline l
WHERE l.baseline_id IS NOT NULL AND l.visit_id
"""


def current_baselines(round_id: int, block_id: int | None = None) -> dict[str, Ints]:
    """Every current baseline of the plots visited, in no order.

    Columns `BASELINE_COLUMNS`, each (n_baselines,); `in_time` says that it existed on the day of the visit.
    """
    return columns(BASELINES, BASELINE_COLUMNS, round_id, block_id)


def lines_of_baselines(round_id: int, block_id: int | None = None) -> dict[str, Ints]:
    """Every line that names one baseline, in no order; columns `LINE_COLUMNS`, each (n_lines,).

    PostgreSQL takes the visits as an array, else it reads the lines of all rounds to find those of one.
    """
    among = (
        "= ANY (ARRAY(" + VISITS_READ + "))" if connection.vendor == "postgresql" else f"IN ({VISITS_READ})"
    )
    return columns(LINES + among, LINE_COLUMNS, round_id, block_id)


def columns(sql: str, names: Sequence[str], round_id: int, block_id: int | None) -> dict[str, Ints]:
    """Whole columns of a query; PostgreSQL sends them as arrays, which spares an object for every row."""
    if connection.vendor != "postgresql":
        rows = np.array(fetched(sql, round_id, block_id), dtype=np.int64).reshape(-1, len(names))
        return dict(zip(names, np.ascontiguousarray(rows.T), strict=True))
    arrays = ", ".join(f"array_agg({name})" for name in names)
    whole = f"SELECT {arrays} FROM ({sql}) AS one ({', '.join(names)})"  # noqa: S608  (constants of this module)
    found = fetched(whole, round_id, block_id)[0]
    return {name: np.array(column or [], dtype=np.int64) for name, column in zip(names, found, strict=True)}


REMOVED = """
SELECT b.id, SUM(r.alive_removed)
FROM monitoring_visit v
JOIN monitoring_survivalplot p ON p.id = v.plot_id
JOIN monitoring_removal r ON r.plot_id = v.plot_id AND r.is_counted AND r.removed_on <= v.observed_on
JOIN monitoring_plotbaseline b ON b.plot_id = v.plot_id AND b.line = r.baseline_line AND b.is_current
WHERE v.round_id = %s AND v.is_counting {block}
GROUP BY b.id ORDER BY b.id
"""


def removed_by_baseline(round_id: int, block_id: int | None = None) -> dict[int, int]:
    """Living trees taken out on purpose up to the day of the visit, by baseline row."""
    return {int(baseline): int(removed) for baseline, removed in fetched(REMOVED, round_id, block_id)}


def fetched(sql: str, round_id: int, block_id: int | None) -> Sequence[tuple[Any, ...]]:
    narrowed = sql.replace("{block}", "" if block_id is None else "AND p.block_id = %s")
    with connection.cursor() as cursor:
        cursor.execute(narrowed, [round_id] if block_id is None else [round_id, block_id])
        return cursor.fetchall()


@dataclass(frozen=True, slots=True)
class LooseLine:
    """A line that names no single baseline: several at once, or none that we have."""

    visit_id: int
    species_id: int
    unit: str
    counts: tuple[int, ...]
    baselines: tuple[int, ...]  # row ids of the current baselines it names


def loose_lines(round_id: int, block_id: int | None = None) -> list[LooseLine]:
    """Lines of counted plots that refer to several baselines or to none."""
    lines = CountLine.objects.filter(
        visit__in=of_block(
            Visit.objects.filter(round_id=round_id, is_counting=True, status="counted"), block_id
        ),
        baseline__isnull=True,
    ).order_by("visit_id", "position")
    rows = list(
        lines.values_list(
            "visit_id", "visit__plot_id", "species_id", "unit", "baseline_lines", *COUNT_COLUMNS
        )
    )
    known = current_rows({row[1] for row in rows}, {uid for row in rows for uid in row[4]})
    return [
        LooseLine(
            visit,
            species,
            unit,
            tuple(counts),
            tuple(sorted(known[plot, uid] for uid in named if (plot, uid) in known)),
        )
        for visit, plot, species, unit, named, *counts in rows
    ]


def current_rows(plot_ids: set[int], lines: set[str]) -> dict[tuple[int, str], int]:
    """Return the row id of the current revision of each baseline line in its plot; another plot's is none."""
    rows = PlotBaseline.objects.filter(plot_id__in=plot_ids, line__in=lines, is_current=True)
    return {(plot, str(line)): pk for plot, line, pk in rows.values_list("plot_id", "line", "id")}
