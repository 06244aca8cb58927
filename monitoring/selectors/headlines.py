"""Headline figures side by side: one line for each block, species or planting, with everything measured of it."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db.models import QuerySet

from monitoring.estimators import rows
from monitoring.models import Estimate
from projects.models import Block, Cohort, Nursery, StockLot
from species.models import Species

# Measures with a name of their own: shown apart, never pooled with survival and without outcome.
APART = (rows.SHARE_OF_VISIBLE_SPOTS, rows.SPOT_OCCUPANCY, rows.SEEDLINGS_PER_100_SEEDS)


@dataclass(frozen=True)
class Line:
    """One thing with its headline figures by measure."""

    scope: str
    key: str
    subject: Any  # a block, cohort, species, lot or nursery; None for a project or one that is gone
    figures: Mapping[str, Estimate] = field(default_factory=dict)
    stocking_target: int | None = None

    @property
    def label(self) -> str:
        return str(self.subject) if self.subject is not None else self.key

    @property
    def survival(self) -> Estimate | None:
        return self.figures.get(rows.SURVIVAL)

    @property
    def if_found(self) -> Estimate | None:
        return self.figures.get(rows.SURVIVAL_IF_FOUND)

    @property
    def removed_alive(self) -> Estimate | None:
        return self.figures.get(rows.SURVIVAL_REMOVED_ALIVE)

    @property
    def worst(self) -> Estimate | None:
        """Survival with everything open decided for the lowest; trees not found are dead in the headline already."""
        return self.figures.get(rows.SURVIVAL_WORST_CASE) or self.survival

    @property
    def best(self) -> Estimate | None:
        """Survival with everything open decided for the highest."""
        return self.figures.get(rows.SURVIVAL_BEST_CASE) or self.if_found or self.survival

    @property
    def facts(self) -> Mapping[str, Any]:
        """The counts behind the survival figure, else behind whatever was measured."""
        for figure in (self.survival, *self.figures.values()):
            if figure is not None and figure.facts:
                return figure.facts
        return {}

    @property
    def has_planted_trees(self) -> bool:
        """A survival figure, or none for another reason than that all of it was sown or has no baseline."""
        apart = any(measure in self.figures for measure in APART)
        return self.survival is not None and not (apart and self.survival.reason == rows.NOTHING_PLANTED)

    @property
    def not_found(self) -> int:
        return self.survival.facts.get("not_found", 0) if self.survival else 0

    @property
    def is_mixed_age(self) -> bool:
        return bool(self.survival and self.survival.facts.get("mixed_age"))


def headlines(rounds: Iterable[int], **narrow: Any) -> QuerySet[Estimate]:
    """Headline rows of some rounds."""
    return Estimate.objects.filter(round_id__in=list(rounds), is_headline=True, **narrow)


def lines_by_scope(figures: Iterable[Estimate]) -> dict[str, list[Line]]:
    """Group headline rows to lines by scope, each with its subject, in the order of the names."""
    figures = list(figures)
    found: dict[tuple[str, str], dict[str, Estimate]] = defaultdict(dict)
    for row in figures:
        found[row.scope, row.key][row.measure] = row
    names = subjects(found)
    lines: dict[str, list[Line]] = defaultdict(list)
    for (scope, key), measured in found.items():
        lines[scope].append(line_of(scope, key, names.get((scope, key)), measured))
    return {scope: sorted(rows_, key=lambda line: (line.label, line.key)) for scope, rows_ in lines.items()}


def line_of(scope: str, key: str, subject: Any, measured: Mapping[str, Estimate]) -> Line:
    target = None
    if isinstance(subject, Block):
        target = subject.target_stocking_per_ha or subject.project.target_stocking_per_ha
    return Line(scope, key, subject, measured, target)


SUBJECTS = {
    "block": (Block, "uid", ("site", "project")),
    "cohort": (Cohort, "uid", ("block", "species", "season", "lot")),
    "species": (Species, "slug", ()),
    "lot": (StockLot, "uid", ("species", "nursery")),
    "nursery": (Nursery, "uid", ()),
}


def subjects(keys: Iterable[tuple[str, str]]) -> dict[tuple[str, str], Any]:
    """What each (scope, key) stands for: one query for each scope that is there."""
    wanted: dict[str, set[str]] = defaultdict(set)
    for scope, key in keys:
        wanted[scope].add(key)
    found = {}
    for scope, (model, column, related) in SUBJECTS.items():
        if scope in wanted:
            found_rows = model.objects.filter(**{f"{column}__in": wanted[scope]}).select_related(*related)
            found |= {(scope, str(getattr(row, column))): row for row in found_rows}
    return found
