"""Turns the checked lines of a file of counts into a `CountTable`."""

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from monitoring.estimators import count_columns as columns
from monitoring.estimators.table import SEED_SPOT, BlockFacts, CountTable

CODED = ("block", "species", "cohort", "lot", "stock_type", "nursery", "site")
Line = dict[str, Any]


def complete(line: Line, given: set[str], warn: Callable[..., None]) -> None:
    """Fill in the remainder: not found where dead was recorded, else dead; flag what does not close."""
    dead = line["dead"] if line["dead"] is not None else 0
    seen_dead = dead + (line["dead_stem"] or 0) + (line["empty_spot"] or 0)
    aside = (line["not_assessed"] or 0) + (line["removed"] or 0)
    rest = line["planted"] - line["alive"] - seen_dead - aside
    if line["not_found"] is None:
        counted_dead = {"dead", "dead_stem", "empty_spot"} & given
        line["not_found"] = max(rest, 0) if counted_dead else 0
    elif rest != line["not_found"] and seen_dead:
        warn(line["line"], "not_found", columns.DOES_NOT_ADD_UP)
    line["dead_stem"] = (line["dead_stem"] or 0) + dead
    line["flagged"] = int(rest < 0 or bool(seen_dead and rest != line["not_found"]))
    if line["alive"] + aside > line["planted"]:
        warn(line["line"], "alive", columns.MORE_ALIVE_THAN_PLANTED, str(line["alive"]))
    elif rest < 0:
        warn(line["line"], "dead", columns.DOES_NOT_ADD_UP)


def table_of(lines: list[Line]) -> CountTable:
    """The checked lines as a table, codes in the sorted order of the names."""
    names = {name: sorted({line[name] for line in lines if line[name]}) for name in CODED}
    codes = {name: {label: code for code, label in enumerate(labels)} for name, labels in names.items()}
    plots = {key: code for code, key in enumerate(sorted({(line["block"], line["plot"]) for line in lines}))}
    counts = ("planted", "alive", "dead_stem", "empty_spot", "not_found", "not_assessed", "removed")
    projects = sorted({line["project"] for line in lines if line["project"]})
    return CountTable.build(
        plot=[plots[line["block"], line["plot"]] for line in lines],
        plot_weight=[line["plot_weight"] for line in lines],
        unit=[line["unit"] for line in lines],
        flagged=[line["flagged"] for line in lines],
        blocks=_block_facts(lines, codes),
        labels={
            **{name: tuple(labels) for name, labels in names.items()},
            "project": tuple(projects[:1]) if len(projects) == 1 else ("all",),
        },
        **{name: [codes[name].get(line[name], -1) for line in lines] for name in CODED if name != "site"},
        **{name: [line[name] or 0 for line in lines] for name in counts},
    )


def _block_facts(lines: list[Line], codes: Mapping[str, Mapping[str, int]]) -> BlockFacts:
    n_blocks = len(codes["block"])
    facts = {name: np.full(n_blocks, -1) for name in (*columns.BLOCK_FACTS, "site")}
    census, spots_of_block = np.zeros(n_blocks, bool), np.full(n_blocks, -1)
    for line in lines:
        block = codes["block"][line["block"]]
        census[block] |= bool(line["census"])
        for name in columns.BLOCK_FACTS:
            if line[name] is not None:
                facts[name][block] = line[name]
        if line["block_planted"] is not None and line["unit"] == SEED_SPOT:
            spots_of_block[block] = line["block_planted"]
        if line["site"]:
            facts["site"][block] = codes["site"][line["site"]]
    unsaid = facts["block_planted_spots"] < 0
    facts["block_planted_spots"] = np.where(unsaid, spots_of_block, facts["block_planted_spots"])
    return BlockFacts.build(
        n_blocks,
        planted=facts["block_planted"],
        planted_spots=facts["block_planted_spots"],
        plots=facts["block_plots"],
        is_census=census,
        site=facts["site"],
    )
