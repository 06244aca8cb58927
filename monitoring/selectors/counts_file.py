"""The counts of a round as a plain table: the very rows its figures were computed from, with names in place of codes.

The first columns are those `manage.py estimate` reads, so that anybody can compute a round again from the file.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext_lazy as _

from monitoring.estimators.table import COUNTED, SEED, SEED_SPOT, TREE, CountTable
from monitoring.models import SurveyRound, SurvivalPlot
from monitoring.selectors.round_counts import RoundCounts, round_counts
from projects.models import Block, Cohort, StockLot

Cells = list[Any]
UNIT_WORDS = {TREE: "tree", SEED_SPOT: "seed_spot", SEED: "seed"}
COUNTS = ("planted", "alive", "dead_stem", "empty_spot", "not_found", "not_assessed", "removed")


@dataclass(frozen=True)
class Column:
    """A column of the file as Table Schema describes one."""

    name: str
    type: str
    description: Any
    required: bool = True


COLUMNS = (
    Column("block", "string", _("Planting block; the stratum")),
    Column("plot", "string", _("Survival plot")),
    Column("species", "string", _("Permanent short name; empty: a visited plot that holds nothing"), False),
    Column("planted", "integer", _("Planted in the plot, by its baseline")),
    Column("alive", "integer", _("Alive as counted, not capped")),
    Column("dead_stem", "integer", _("Dead, stem seen")),
    Column("empty_spot", "integer", _("Dead, spot seen and empty")),
    Column("not_found", "integer", _("Spot not located; counted as not alive in survival")),
    Column("not_assessed", "integer", _("Reached but not looked at; left out of survival")),
    Column("removed", "integer", _("Living trees taken out on purpose since planting")),
    Column("unit", "string", _("tree, seed_spot or seed")),
    Column("cohort", "string", _("Planting; empty: none, or more than one"), False),
    Column("lot", "string", _("Stock lot; empty: none, or more than one"), False),
    Column("observed_on", "date", _("Day of the visit that counts")),
    Column("plot_weight", "number", _("Weight where plots differ in size")),
    Column("block_planted", "integer", _("Trees planted in the whole block, by the ledger"), False),
    Column("block_plots", "integer", _("Plots the block could hold"), False),
    Column("baseline", "string", _("counted, or rebuilt from visible spots (no survival figure)")),
    Column("flagged", "boolean", _("An open case is attached")),
    Column("plot_uid", "string", _("Identifier of the plot")),
)


def count_cells(survey_round: SurveyRound) -> Iterator[Cells]:
    """Yield one row for each plot and baseline line that enters the round's figures."""
    counts = round_counts(survey_round)
    names = Names(counts)
    table = counts.table
    columns = {name: getattr(table, name).tolist() for name in COUNTS}
    for row in names.reading_order(table):
        plot, block = int(table.plot[row]), int(table.block[row])
        yield [
            names.block(block), names.plot(plot), names.label("species", table.species[row]),
            *(columns[name][row] for name in COUNTS),
            UNIT_WORDS[int(table.unit[row])], names.cohort(table.cohort[row]), names.lot(table.lot[row]),
            counts.visits[plot].observed_on.isoformat(), float(table.plot_weight[row]),
            known(table.blocks.planted[block]), known(table.blocks.plots[block]),
            "counted" if table.baseline[row] == COUNTED else "rebuilt",
            "true" if table.flagged[row] else "false", str(counts.visits[plot].plot_uid),
        ]  # fmt: skip


def known(value: Any) -> int | str:
    """Return a block fact, empty where it is not known."""
    return int(value) if value >= 0 else ""


class Names:
    """What people call the blocks, plots, plantings and lots of a round."""

    def __init__(self, counts: RoundCounts) -> None:
        self.labels = counts.table.labels
        self.blocks = unique_names([block.uid for block in counts.blocks])
        uids = [visit.plot_uid for visit in counts.visits]
        names = dict(SurvivalPlot.objects.filter(uid__in=uids).values_list("uid", "name"))
        self.plots = [names[uid] for uid in uids]
        self.cohorts = texts(Cohort.objects, self.labels.get("cohort", ()), "label")
        self.lots = texts(StockLot.objects, self.labels.get("lot", ()), "code")

    def reading_order(self, table: CountTable) -> list[int]:
        """Return the row numbers by block and plot, as a person looks for them."""
        places = zip(table.block.tolist(), table.plot.tolist(), strict=True)
        named = [(self.blocks[block], self.plots[plot], row) for row, (block, plot) in enumerate(places)]
        return [row for _block, _plot, row in sorted(named)]

    def block(self, code: int) -> str:
        return self.blocks[code]

    def plot(self, code: int) -> str:
        return self.plots[code]

    def label(self, dimension: str, code: Any) -> str:
        return self.labels[dimension][int(code)] if code >= 0 else ""

    def cohort(self, code: Any) -> str:
        uid = self.label("cohort", code)
        return self.cohorts.get(uid) or uid

    def lot(self, code: Any) -> str:
        uid = self.label("lot", code)
        return self.lots.get(uid) or uid


def texts(rows: Any, uids: tuple[str, ...], field: str) -> dict[str, str]:
    """Return the text of each row by its uid."""
    return {str(uid): text for uid, text in rows.filter(uid__in=uids).values_list("uid", field)}


def unique_names(uids: list[Any]) -> list[str]:
    """Return the names of blocks; two of one name carry their site, for the file is read by name."""
    found = {row.uid: row for row in Block.objects.filter(uid__in=uids).select_related("site")}
    names = [found[uid].name for uid in uids]
    return [
        f"{name} ({found[uid].site.name})" if names.count(name) > 1 else name
        for uid, name in zip(uids, names, strict=True)
    ]
