"""The coverage study as `deploy/bench coverage` left it, read for its page: figures are taken from its files alone."""

import csv
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any

from django.conf import settings

from monitoring.estimators import CODE_VERSION, rows

MOST_NAMED = 12
HEADLINES = (rows.POSTERIOR, rows.STRATIFIED_LOGIT_T)


@dataclass(frozen=True)
class Study:
    """What the study found, and the cells of its main grid."""

    told: Mapping[str, Any]
    cells: tuple[Mapping[str, Any], ...]

    @property
    def is_current(self) -> bool:
        """Made with the code that computes figures now."""
        return self.told["code_version"] == CODE_VERSION

    @property
    def blocks(self) -> Mapping[str, Any]:
        return self._grid("main")

    @property
    def projects(self) -> Mapping[str, Any]:
        return self._grid("projects")

    @property
    def harder(self) -> list[Mapping[str, Any]]:
        """The harder forests, each with its headline and the worst of it."""
        return [
            {"form": grid["form"], "cells": grid["cells"], "headline": headline(grid)}
            for grid in self.told["grids"]
            if grid["grid"] == "stress"
        ]

    @property
    def below(self) -> list[Mapping[str, Any]]:
        """Kinds of block and project whose headline held the truth less often than aimed at, the worst first."""
        found = [cell for grid in (self.blocks, self.projects) for cell in headline(grid)["below"]]
        return sorted(found, key=lambda cell: cell["covered"])

    @property
    def more_below(self) -> int:
        return max(len(self.below) - MOST_NAMED, 0)

    @property
    def day(self) -> date:
        return date.fromisoformat(self.told["made_on"])

    @property
    def n_surveys(self) -> int:
        return sum(grid["cells"] * grid["surveys"] for grid in self.told["grids"])

    @property
    def wrong(self) -> Iterator[Mapping[str, Any]]:
        """How often each outcome was wrong with the truth on the target: blocks at one look and two, then projects."""
        for rule in self.told["looks"]["rules"]:
            yield {"rule": rule["rule"], "outcomes": rule["outcomes"]}
        yield {"rule": "projects", "outcomes": headline(self.projects)["outcomes"]}

    def _grid(self, name: str) -> Mapping[str, Any]:
        return next(grid for grid in self.told["grids"] if grid["grid"] == name)


def headline(grid: Mapping[str, Any]) -> Mapping[str, Any]:
    """The method that leads where the product shows such a figure."""
    return next(found for found in grid["methods"] if found["method"] in HEADLINES)


def coverage_study() -> Study | None:
    """The study that was kept; None where there is none."""
    folder = Path(settings.STUDIES)
    try:
        return read(folder, (folder / "coverage.json").stat().st_mtime_ns)
    except FileNotFoundError:
        return None


@lru_cache(maxsize=2)
def read(folder: Path, _changed: int) -> Study:
    told = json.loads((folder / "coverage.json").read_text(encoding="utf-8"))
    with (folder / "coverage.csv").open(encoding="utf-8", newline="") as file:
        cells = tuple(row for row in csv.DictReader(file) if row["grid"] == "main")
    return Study(told, cells)
