"""A small round that is counted through the log, as every figure of it must be."""

from collections.abc import Callable, Sequence
from typing import Any

import pytest

from monitoring.services import drain
from projects.services import log
from tests import factories
from tests.field_log.visits import item, line, visit_body


@pytest.fixture
def count(actor, survey_round) -> Callable[..., Any]:
    """Send one count: `count(plot, baseline, alive=12)`; returns its outcome."""

    def send(plot, baseline, alive: int, *, told: dict[str, Any] | None = None, **fields: Any):
        body = visit_body(plot, survey_round, [line(baseline, alive, **(told or {}))], **fields)
        (outcome,) = log.append_items(actor, [item(body)])
        return outcome

    return send


@pytest.fixture
def work() -> Callable[[], int]:
    """Work through the list here and now, as `manage.py sweep` would."""
    return drain.work_through


@pytest.fixture
def many(hill, project, site, oak, cohort, block):
    """A second block, and a round over both with six plots in each."""

    def build(alive: Sequence[int] = (18, 16, 12, 15, 17, 9)):
        east = factories.block(hill, project, site, name="East slope")
        pine = factories.species("pinus-pinaster")
        lot = factories.lot(hill, pine, code="24-200", stock_type="container")
        other = factories.cohort(east, lot, cohort.season, planted=900)
        plots = [factories.plot(block, f"A{n}") for n in range(6)] + [
            factories.plot(east, f"B{n}") for n in range(6)
        ]
        rows = [
            factories.baseline(plot, *((oak, 20) if plot.block == block else (pine, 25)),
                               cohort=cohort if plot.block == block else other)
            for plot in plots
        ]  # fmt: skip
        survey_round = factories.survey_round(project, plots, name="Both slopes")
        return survey_round, plots, rows

    return build
