"""How often limits hold the truth, and how often outcomes are wrong: deploy/bench coverage [--quick]

Surveys are made up by the thousand, worked through the product's own estimators and held against the truth they
were made from. The whole study takes minutes and writes a table, a summary and a picture to
deploy/benchmarks/results/, from where the page of evidence reads them; --quick takes a few surveys and writes nothing
unless told where to. The same seed gives the same figures. Fails where a promise is not kept.
"""

import argparse
import csv
import json
import multiprocessing
import os
import platform
import sys
import time
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from datetime import date
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np

from deploy.benchmarks import _coverage_counts as counts
from deploy.benchmarks._coverage_limits import BLOCK_METHODS, PROJECT_METHODS, block_limits, project_limits
from deploy.benchmarks._coverage_worlds import Cell, ProjectCell, draw, draw_projects, truth
from monitoring.estimators import CODE_VERSION, rows
from monitoring.estimators.rows import EstimateSettings

SEED = 20260
BATCH = 500
RESULTS = Path(__file__).resolve().parent / "results"

MAIN = tuple(
    Cell("main", n, icc, p)
    for n, icc, p in product((8, 12, 20, 30), (0.05, 0.1, 0.2), (0.5, 0.7, 0.85, 0.9, 0.95, 0.97))
)
FEW = tuple(Cell("few", n, icc, p) for n, icc, p in product((5, 6), (0.01, 0.1, 0.2), (0.5, 0.85, 0.95)))
HARD = tuple(
    Cell(form, n, icc, p)
    for form, n, icc, p in product(
        ("wide", "sparse", "logit_normal", "informative"),
        (8, 12, 20),
        (0.05, 0.1, 0.2),
        (0.5, 0.7, 0.85, 0.95),
    )
)
WIPED_OUT = tuple(
    Cell("wiped_out", n, 0.1, p) for n, p in product((8, 12, 20, 30), (0.5, 0.7, 0.85, 0.9, 0.95))
)
PROJECTS = tuple(
    ProjectCell(form, blocks, plots, icc, p)
    for form, (blocks, plots), icc, p in product(
        ("common", "uneven", "logit_normal", "sparse"),
        ((4, 5), (6, 8), (8, 3), (12, 8)),
        (0.05, 0.1, 0.2),
        (0.7, 0.9, 0.95),
    )
)
HEAVY = tuple(
    ProjectCell("heavy", blocks, plots, icc, p)
    for (blocks, plots), icc, p in product(((4, 5), (6, 8)), (0.1, 0.2), (0.7, 0.9, 0.95))
)
LOOKS = tuple(
    Cell("main", n, icc, p) for n, icc, p in product((8, 12, 20), (0.05, 0.1, 0.2), (0.7, 0.8, 0.9))
)


@dataclass(frozen=True, slots=True)
class Effort:
    """Surveys of each cell, by grid."""

    main: int = 5_000
    stress: int = 1_000
    projects: int = 4_000
    looks: int = 2_000


QUICK = Effort(main=300, stress=80, projects=300, looks=200)


@dataclass(frozen=True, slots=True)
class Task:
    """One cell to be worked: `grid` main, stress, projects or looks; `number` makes its chance its own."""

    grid: str
    number: int
    cell: Cell | ProjectCell
    surveys: int


def main() -> int:
    """Work every cell, print, write, judge."""
    options = arguments()
    effort = QUICK if options.quick else Effort()
    began = time.monotonic()
    found = worked(tasks(effort), options.processes)
    study = gathered(found, effort) | about(time.monotonic() - began)
    print(*lines(study), sep="\n")
    folder = options.to or (None if options.quick else RESULTS)
    if folder:
        write(study, found, folder)
    broken = promises_broken(study, slack=4 if options.quick else 0)
    print("\n" + ("\n".join(broken) if broken else "Every promise is kept."))
    return 1 if broken else 0


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser("deploy/bench coverage", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a few surveys a cell, in under a minute")
    parser.add_argument("--to", type=Path, help="folder to write to")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    return parser.parse_args()


def tasks(effort: Effort) -> list[Task]:
    """Every cell of every grid."""
    grids: tuple[tuple[str, Sequence[Cell | ProjectCell], int], ...] = (
        ("main", MAIN, effort.main), ("stress", (*FEW, *HARD, *WIPED_OUT, *HEAVY), effort.stress),
        ("projects", PROJECTS, effort.projects), ("looks", LOOKS, effort.looks),
    )  # fmt: skip
    return [Task(grid, n, cell, surveys) for grid, cells, surveys in grids for n, cell in enumerate(cells)]


def worked(todo: Sequence[Task], processes: int = 1) -> list[Any]:
    """What each task found, in the order of the tasks, whatever the number of processes."""
    if processes < 2:
        return [row for task in todo for row in work(task)]
    os.environ["OPENBLAS_NUM_THREADS"] = os.environ["OMP_NUM_THREADS"] = (
        "1"  # for the processes started below
    )
    with ProcessPoolExecutor(processes, mp_context=multiprocessing.get_context("spawn")) as pool:
        return [row for rows_of_task in pool.map(work, todo, chunksize=2) for row in rows_of_task]


def work(task: Task) -> list[Any]:
    """Make the surveys of one cell up, estimate them, count."""
    grids = ("main", "stress", "projects", "looks")
    rng = np.random.default_rng([SEED, grids.index(task.grid), task.number])
    settings = EstimateSettings()
    if isinstance(task.cell, ProjectCell):
        cell = task.cell
        parts = (
            project_limits(*draw_projects(cell, n, rng), cell.planted, settings)
            for n in batches(task.surveys)
        )
        return counted(joined(parts), cell.truth, PROJECT_METHODS, task)
    if task.grid == "looks":
        return looked(task.cell, task.surveys, rng, settings)
    cell = task.cell
    parts = (block_limits(*draw(cell, n, rng), settings) for n in batches(task.surveys))
    return counted(joined(parts), truth(cell), BLOCK_METHODS, task)


def counted(found: dict[str, Any], true: float, methods: Iterable[str], task: Task) -> list[counts.Counted]:
    return [
        counts.counted(found[method], found["value"], true, method, task.grid, task.cell, true)
        for method in methods
    ]


def looked(
    cell: Cell, surveys: int, rng: np.random.Generator, settings: EstimateSettings
) -> list[counts.Looked]:
    """Two looks of equal size, the second resting on all plots of both."""
    twice = Cell(cell.form, 2 * cell.plots, cell.icc, cell.survival)
    first, both = [], []
    for n in batches(surveys):
        alive, trees = draw(twice, n, rng)
        first.append(block_limits(alive[:, : cell.plots], trees[:, : cell.plots], settings)[rows.POSTERIOR])
        both.append(block_limits(alive, trees, settings)[rows.POSTERIOR])
    return counts.looked(np.concatenate(first), np.concatenate(both), cell.survival, cell)


def batches(surveys: int) -> Iterator[int]:
    for start in range(0, surveys, BATCH):
        yield min(BATCH, surveys - start)


def joined(parts: Iterable[dict[str, Any]]) -> dict[str, Any]:
    every = list(parts)
    return {name: np.concatenate([part[name] for part in every]) for name in every[0]}


# --- what it says ---------------------------------------------------------------------------
def gathered(found: Sequence[Any], effort: Effort) -> dict[str, Any]:
    """Summaries by grid and form, and of the looks."""
    cells = [row for row in found if isinstance(row, counts.Counted)]
    named = {(cell.grid, cell.form if cell.grid == "stress" else "") for cell in cells}
    return {
        "effort": asdict(effort),
        "grids": [grid_summary(cells, grid, form) for grid, form in sorted(named, key=order_of_grid)],
        "looks": {
            "cells": len(LOOKS), "surveys": effort.looks,
            "rules": counts.looks_summary([row for row in found if isinstance(row, counts.Looked)]),
        },
    }  # fmt: skip


FORMS = ("", "few", "wide", "sparse", "logit_normal", "informative", "wiped_out", "heavy")


def order_of_grid(named: tuple[str, str]) -> tuple[int, int]:
    return ("main", "projects", "stress").index(named[0]), FORMS.index(named[1])


def grid_summary(cells: Sequence[counts.Counted], grid: str, form: str) -> dict[str, Any]:
    chosen = [cell for cell in cells if cell.grid == grid and form in ("", cell.form)]
    methods = counts.by_method(chosen)
    return {
        "grid": grid, "form": form, "cells": len(chosen) // len(methods), "surveys": chosen[0].surveys,
        "error": counts.error(chosen[0]), "methods": [counts.summary(of) for of in methods.values()],
    }  # fmt: skip


def about(seconds: float) -> dict[str, Any]:
    """When, where, and with what the study was run."""
    return {
        "made_on": date.today().isoformat(),  # noqa: DTZ011
        "machine": f"{platform.machine()} {os.cpu_count()} CPU", "python": platform.python_version(),
        "numpy": np.__version__, "code_version": CODE_VERSION, "seed": SEED, "seconds": round(seconds),
    }  # fmt: skip


def promises_broken(study: dict[str, Any], slack: float = 0) -> list[str]:
    """What the headline and the totals of projects promise and did not hold, `slack` Monte-Carlo errors allowed."""
    broken = []
    for grid, method, least_mean, most_mean, worst in (
        ("main", rows.POSTERIOR, 0.95, 0.965, 0.94), ("projects", rows.STRATIFIED_LOGIT_T, 0.945, 1.0, 0.90),
    ):  # fmt: skip
        of = next(part for part in study["grids"] if part["grid"] == grid)
        found = next(part for part in of["methods"] if part["method"] == method)
        room = slack * of["error"]
        room_of_mean = room / of["cells"] ** 0.5
        if not least_mean - room_of_mean <= found["mean"] <= most_mean + room_of_mean:
            broken.append(f"{grid}: mean coverage {found['mean']:.4f}, promised {least_mean} to {most_mean}")
        if found["worst"] < worst - room:
            broken.append(f"{grid}: worst cell {found['worst']:.4f} at {found['worst_at']}, promised {worst}")
    return broken


def lines(study: dict[str, Any]) -> Iterator[str]:
    """The study as a table to read, in per cent."""
    yield "{made_on} {machine}, Python {python}, code version {code_version}, seed {seed}, {seconds} s".format(
        **study
    )
    head = "mean  worst   best  error  <93 %  width   over  under"
    for grid in study["grids"]:
        name = " ".join(part for part in (grid["grid"], grid["form"]) if part)
        yield f"\n{name}: {grid['cells']} cells of {grid['surveys']}, Monte-Carlo error {100 * grid['error']:.2f}"
        yield f"{'':26}{head}"
        for found in grid["methods"]:
            shares = [found[key] for key in ("mean", "worst", "best", "mean_error", "far_below")]
            yield (
                f"{found['method']:24}" + "".join(f"{100 * share:7.2f}" for share in shares)
                + f"{found['relative_width']:7.2f}{100 * found['overstated']:7.2f}{100 * found['understated']:7.2f}"
            )  # fmt: skip
    yield "\nTarget equal to the truth: said to be met, or missed (mean / worst cell)"
    for grid in study["grids"][:2]:
        for found in grid["methods"]:
            yield f"{grid['grid']} {found['method']:30}{outcome_words(found['outcomes'])}"
    for rule in study["looks"]["rules"]:
        yield f"looks {rule['rule']:30}{outcome_words(rule['outcomes'])}"


def outcome_words(found: dict[str, dict[str, float]]) -> str:
    return "  ".join(f"{name} {100 * at['mean']:.1f}/{100 * at['worst']:.1f}" for name, at in found.items())


# --- what it keeps --------------------------------------------------------------------------
def write(study: dict[str, Any], found: Sequence[Any], folder: Path) -> None:
    """Summary, table of all cells, table of the looks, and the picture."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "coverage.json").write_text(json.dumps(study, indent=1) + "\n")
    cells = [row for row in found if isinstance(row, counts.Counted)]
    table(folder / "coverage.csv", counts.as_rows(cells))
    table(
        folder / "coverage-looks.csv", counts.as_rows(row for row in found if isinstance(row, counts.Looked))
    )
    (folder / "coverage.svg").write_bytes(picture(cells))


def table(path: Path, found: Sequence[dict[str, Any]]) -> None:
    with path.open("w", newline="") as file:
        writer = csv.DictWriter(file, list(found[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(found)


def picture(cells: Sequence[counts.Counted]) -> bytes:
    """The picture of the page of evidence, in English."""
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings")
    django.setup()
    from monitoring.charts.drawing import draw as drawn
    from monitoring.charts.evidence import coverage_picture

    spec, title = coverage_picture([asdict(cell) for cell in cells if cell.grid == "main"])
    return drawn(spec, title)


if __name__ == "__main__":
    sys.exit(main())
