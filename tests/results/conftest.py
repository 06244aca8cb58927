"""A round counted through the log and computed, with prices, windows and money beside it."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import pytest
from django.http import HttpResponse
from django.urls import reverse

from monitoring.models import PlotBaseline, SurveyRound, SurvivalPlot
from monitoring.services import drain
from projects import clocks
from projects.access import Actor
from projects.models import Block, BudgetLine, PlantingWindow, Project
from projects.services import log
from tests import factories
from tests.field_log.visits import item, line, visit_body


@pytest.fixture(autouse=True)
def first_of_november(monkeypatch):
    """Windows and order dates are counted from a day that stays."""
    monkeypatch.setattr(clocks, "today_of", lambda organisation: date(2026, 11, 1))


@dataclass
class Hillside:
    """Blocks of one project with plots of one species each, in one round."""

    actor: Actor
    project: Project
    survey_round: SurveyRound
    blocks: list[Block]
    plots: list[SurvivalPlot]
    baselines: list[PlotBaseline]

    def send(
        self, alive: Sequence[int], first: int = 0, survey_round: SurveyRound | None = None, **told: Any
    ) -> None:
        """Count plots from the `first` on; what is not told of a line is not found."""
        chosen = survey_round or self.survey_round
        pairs = zip(self.plots[first:], self.baselines[first:], alive, strict=False)
        lines = [(plot, [line(baseline, number, **told)]) for plot, baseline, number in pairs]
        log.append_items(self.actor, [item(visit_body(plot, chosen, held)) for plot, held in lines])

    def skip(self, number: int, **fields: Any) -> None:
        """Report one plot without a count."""
        log.append_items(self.actor, [item(visit_body(self.plots[number], self.survey_round, **fields))])

    def work(self) -> None:
        drain.work_through()


@pytest.fixture
def make_hillside(actor, hill, project, site, oak) -> Callable[..., Hillside]:
    """Return a maker: so many blocks, so many plots in each, so many trees in a plot."""

    def make(n_blocks: int = 2, n_plots: int = 6, planted: int = 20, name: str = "Block") -> Hillside:
        season = factories.season(hill, "planting", year=2024)
        blocks, plots, baselines = [], [], []
        for number in range(n_blocks):
            block = factories.block(hill, project, site, name=f"{name} {number + 1:02}")
            lot = factories.lot(hill, oak, unit_cost_minor=95, currency="EUR")
            cohort = factories.cohort(block, lot, season, planted=500)
            PlantingWindow.objects.create(
                organisation=hill, block=block, stock_type="bare_root", opens_on=date(2027, 2, 8),
                closes_on=date(2027, 3, 14),
            )  # fmt: skip
            mine = [factories.plot(block, f"{number + 1}-{n + 1}") for n in range(n_plots)]
            blocks, plots = [*blocks, block], [*plots, *mine]
            baselines += [factories.baseline(plot, oak, planted, cohort=cohort) for plot in mine]
        survey_round = factories.survey_round(
            project, plots, name=f"{name} round", closes_on=date(2026, 12, 31)
        )
        return Hillside(actor, project, survey_round, blocks, plots, baselines)

    return make


ALIVE = (18, 17, 19, 18, 16, 19, 9, 12, 6, 10, 14, 8)  # the first block near 90 %, the second near 50 %


@pytest.fixture
def hillside(make_hillside, hill, project) -> Hillside:
    """Two blocks of six plots, all counted, every dead tree seen; money spent; a pass for what follows."""
    made = make_hillside()
    for number, alive in enumerate(ALIVE):
        made.send([alive], number, dead_stem=20 - alive, signs={"bitten": 1})
    BudgetLine.objects.create(
        organisation=hill, project=project, what="plants and planting", spent_minor=300_000
    )
    made.work()
    return made


def address(name: str, /, **kwargs: Any) -> str:
    """The address of a page of the hill group."""
    return reverse(f"monitoring:{name}", kwargs={"org": "hill", **kwargs})


def words(answer: HttpResponse) -> str:
    """The visible words of a page, white space made plain."""
    text = re.sub(r"<(script|style|title)\b.*?</\1>", " ", answer.content.decode(), flags=re.S)
    return (
        re.sub(r"[\s\u00a0\u202f]+", " ", re.sub(r"<[^>]+>", " ", text)).replace(" ,", ",").replace(" .", ".")
    )
