"""What changed between two versions of a plan: lines, allowances and totals."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from projects.calc.diversity import effective_species

Content = Mapping[str, Any]
ADDED, GONE, CHANGED = "added", "gone", "changed"
ALLOWANCES = (
    "assurance", "cull_share", "handling_loss_share", "slack_weeks", "crew_people", "trees_per_person_day",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class LineChange:
    """One species and stock type in one block and wave; a quantity is None where the version has no such line."""

    kind: str
    block: str
    species: str
    stock_words: str
    wave: int
    before: int | None
    after: int | None

    @property
    def by(self) -> int:
        """How many more plants; below zero for fewer."""
        return (self.after or 0) - (self.before or 0)


@dataclass(frozen=True, slots=True)
class ValueChange:
    """Something with one value in each version, the same or not."""

    name: str
    before: Any
    after: Any

    @property
    def is_same(self) -> bool:
        return bool(self.before == self.after)


@dataclass(frozen=True, slots=True)
class Differences:
    """Lines that differ; allowances that differ; totals, also those that do not."""

    lines: tuple[LineChange, ...]
    allowances: tuple[ValueChange, ...]
    totals: tuple[ValueChange, ...]

    @property
    def is_same(self) -> bool:
        """Whether the versions plant the same by the same allowances."""
        return not self.lines and not self.allowances


def differences(before: Content, after: Content) -> Differences:
    """Compare two contents of plans of one project.

    Examples
    --------
    >>> line = {"slug": "a", "species": "A a", "stock_type": "t", "stock_words": "t", "wave": 1, "quantity": 5}
    >>> plan = {"season": None, "second_season": None} | dict.fromkeys(ALLOWANCES, 1)
    >>> totals = {"plants": 5, "species": 1, "blocks": 1, "plant_costs": []}
    >>> old = {"plan": plan, "blocks": [{"uid": "b", "name": "B", "lines": [line]}], "totals": totals, "living": None}
    >>> new = old | {"blocks": [{"uid": "b", "name": "B", "lines": [line | {"quantity": 7}]}]}
    >>> [(each.kind, each.by) for each in differences(old, new).lines]
    [('changed', 2)]
    """
    return Differences(
        tuple(_lines(before, after)), tuple(_allowances(before, after)), tuple(_totals(before, after))
    )


def _by_key(content: Content) -> dict[tuple[str, int, str, str], tuple[str, Mapping[str, Any]]]:
    return {
        (block["uid"], line["wave"], line["slug"], line["stock_type"]): (block["name"], line)
        for block in content["blocks"]
        for line in block["lines"]
    }


def _lines(before: Content, after: Content) -> Iterator[LineChange]:
    old, new = _by_key(before), _by_key(after)
    names = {block["uid"]: block["name"] for content in (before, after) for block in content["blocks"]}
    for key in sorted(old.keys() | new.keys(), key=lambda key: (names[key[0]], *key)):
        was, now = old.get(key), new.get(key)
        quantities = (was[1]["quantity"] if was else None, now[1]["quantity"] if now else None)
        if quantities[0] == quantities[1]:
            continue
        line = (now or was)[1]  # type: ignore[index]
        kind = ADDED if was is None else GONE if now is None else CHANGED
        yield LineChange(kind, names[key[0]], line["species"], line["stock_words"], line["wave"], *quantities)


def _allowances(before: Content, after: Content) -> Iterator[ValueChange]:
    for name in (*ALLOWANCES, "season", "second_season"):
        was, now = before["plan"][name], after["plan"][name]
        if was != now:
            yield ValueChange(name, was, now)


def _totals(before: Content, after: Content) -> Iterator[ValueChange]:
    for name in ("plants", "species", "blocks", "plant_costs"):
        yield ValueChange(name, before["totals"][name], after["totals"][name])
    yield ValueChange("living", before["living"], after["living"])
    yield ValueChange("effective_species", _varied(before), _varied(after))


def _varied(content: Content) -> float | None:
    """Effective number of species of the whole plan."""
    sums: dict[str, int] = {}
    for block in content["blocks"]:
        for line in block["lines"]:
            sums[line["slug"]] = sums.get(line["slug"], 0) + line["quantity"]
    return round(effective_species(list(sums.values())), 6) if sums else None
