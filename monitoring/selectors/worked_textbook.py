"""Examples for method pages to which no figure of the reader was named, worked by the same code."""

from collections.abc import Callable

from django.utils.translation import gettext as _

from monitoring.estimators import rows
from monitoring.estimators.measures import measures_of
from monitoring.estimators.round_estimates import round_estimates
from monitoring.estimators.rows import EstimateRow
from monitoring.estimators.stocking import stocking_estimates
from monitoring.estimators.stocking_table import StockingTable
from monitoring.estimators.table import BlockFacts, CountTable
from monitoring.selectors.worked import PlotCounts, Worked, counted

PLANTED = (1, 0, 8, 2, 76, 60, 25, 2, 1, 31)
ALIVE = (0, 0, 1, 2, 10, 15, 3, 2, 1, 27)
LIVING_ON_GROUND = (11, 9, 14, 8, 12, 10)
PLOT_M2 = 100.0


class Numbers:
    """Plots and blocks named by their number."""

    def plot(self, code: int) -> str:
        return f"{code + 1:02}"

    def block(self, code: int) -> str:
        return "AB"[code]


def seedlings() -> Worked:
    """Ten plots of seedlings counted twice."""
    table = CountTable.build(block=[0] * 10, plot=range(10), species=[0] * 10, planted=PLANTED, alive=ALIVE)
    source = "Lohr, Sampling: Design and Analysis, 3rd ed. 2021, example 4.5"
    return from_counts(table, "block", "0", _("Seedlings in ten plots"), source)


def two_blocks() -> Worked:
    """Two blocks of unequal size, the smaller one faring worse, some trees not found."""
    table = CountTable.build(
        block=[0, 0, 0, 0, 1, 1, 1, 1], plot=range(8), species=[0] * 8,
        planted=[20, 18, 21, 20, 19, 20, 22, 20], alive=[17, 15, 20, 16, 9, 12, 8, 11],
        not_found=[1, 0, 0, 2, 3, 1, 0, 2], blocks=BlockFacts.build(2, planted=[9600, 4400]),
        labels={"project": (_("Two blocks"),)},
    )  # fmt: skip
    return from_counts(table, "project", _("Two blocks"), _("Two blocks"), _("numbers made up for this page"))


def on_the_ground() -> Worked:
    """Six round plots of a hundred square metres."""
    table = StockingTable.build(
        block=[0] * 6, area_ha=[PLOT_M2 / 10_000] * 6, planted=LIVING_ON_GROUND, natural=[0] * 6,
        net_area_ha=[2.0], target_per_ha=[1000.0],
    )  # fmt: skip
    found = [
        row for row in stocking_estimates(table) if row.scope == "block" and row.measure == rows.STOCKING
    ]
    plots = tuple(
        PlotCounts(Numbers().plot(code), alive, area_m2=PLOT_M2)
        for code, alive in enumerate(LIVING_ON_GROUND)
    )
    return Worked(
        found[0], _("Six plots of a hundred square metres"), plots=plots, target=1000.0,
        source=_("numbers made up for this page"),
    )  # fmt: skip


def from_counts(table: CountTable, scope: str, key: str, label: str, source: str) -> Worked:
    """The survival of one thing with its plots, blocks and every method."""
    found = [row for row in round_estimates(table, scopes=(scope,)) if row.key == key]
    survival = [row for row in found if row.measure == rows.SURVIVAL]
    plots, blocks = counted(table, scope, key, measures_of(table)[0], Numbers())
    return Worked(
        figure=survival[0], label=label, plots=plots, blocks=blocks, beside=tuple(survival[1:]), source=source,
        if_found=headline_of(found, rows.SURVIVAL_IF_FOUND),
        facts={name: int(getattr(table, name).sum()) for name in ("planted", "alive", "not_found")},
    )  # fmt: skip


def headline_of(found: list[EstimateRow], measure: str) -> EstimateRow:
    return next(row for row in found if row.measure == measure and row.is_headline)


EXAMPLES: dict[str, Callable[[], Worked]] = {
    "survival": seedlings,
    "across-blocks": two_blocks,
    "not-found": two_blocks,
    "outcome": two_blocks,
    "stocking": on_the_ground,
}
