"""A small round that is counted through the log, as every figure of it must be."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import pytest

from monitoring.models import PlotBaseline, SurveyRound, SurvivalPlot
from monitoring.services import drain
from projects.access import Actor
from projects.models import Block
from projects.services import log
from tests import factories
from tests.field_log.visits import item, line, visit_body


@pytest.fixture
def send(actor) -> Callable[..., Any]:
    """Send one visit: `send(round, plot, [line(baseline, 12)], status="counted")`; returns its outcome."""

    def store(survey_round: SurveyRound, plot: SurvivalPlot, lines: Sequence[dict], **fields: Any) -> Any:
        (outcome,) = log.append_items(actor, [item(visit_body(plot, survey_round, list(lines), **fields))])
        return outcome

    return store


@pytest.fixture
def count(send, survey_round) -> Callable[..., Any]:
    """Send one count of one baseline in the shared round."""

    def store(plot: SurvivalPlot, baseline: PlotBaseline, alive: int, **told: Any) -> Any:
        return send(survey_round, plot, [line(baseline, alive, **told)])

    return store


@pytest.fixture
def work() -> Callable[[], int]:
    """Work through the list here and now, as `manage.py sweep` would."""
    return drain.work_through


@dataclass
class Slopes:
    """Two blocks with six plots each, oak in one and pine in the other, in one round."""

    actor: Actor
    survey_round: SurveyRound
    north: Block
    east: Block
    plots: list[SurvivalPlot]
    baselines: list[PlotBaseline]

    def items(self, alive: Sequence[int]) -> list[log.Item]:
        """One record per plot, the remainder not found."""
        return [
            item(visit_body(plot, self.survey_round, [line(baseline, n, dead_stem=1, signs={"bitten": 1})]))
            for plot, baseline, n in zip(self.plots, self.baselines, alive, strict=True)
        ]

    def send(self, alive: Sequence[int]) -> None:
        log.append_items(self.actor, self.items(alive))


ALIVE = (18, 16, 12, 15, 17, 9, 20, 24, 11, 16, 22, 19)


@pytest.fixture
def slopes(actor, hill, project, site, oak, block, cohort) -> Slopes:
    east = factories.block(hill, project, site, name="East slope")
    pine = factories.species("pinus-pinaster")
    lot = factories.lot(hill, pine, code="24-200", stock_type="container")
    planted_on = date(2024, 2, 20)
    other = factories.cohort(east, lot, cohort.season, planted=900, planted_on=planted_on)
    plots = [factories.plot(block, f"A{n}") for n in range(6)] + [
        factories.plot(east, f"B{n}") for n in range(6)
    ]
    baselines = [factories.baseline(plot, oak, 20, cohort=cohort) for plot in plots[:6]]
    baselines += [factories.baseline(plot, pine, 25, cohort=other) for plot in plots[6:]]
    return Slopes(
        actor, factories.survey_round(project, plots, name="Both slopes"), block, east, plots, baselines
    )
