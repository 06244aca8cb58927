"""What one more visit costs the database: the same few statements, whatever the sheet and the plot's past."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from projects.services import log
from tests import factories
from tests.field_log.visits import item, line, visit_body

pytestmark = pytest.mark.django_db

MOST = 36


@pytest.fixture
def cost(actor, project, block, oak, cohort):
    """Return the number of statements for one visit of so many lines after so many earlier rounds."""

    def measure(n_lines: int, earlier: int) -> int:
        plot = factories.plot(block)
        rows = [factories.baseline(plot, oak, 20, cohort=cohort) for _ in range(n_lines)]
        for month in range(3, 3 + earlier):
            survey_round = factories.survey_round(
                project, [plot], opens_on=date(2024, month, 1), closes_on=date(2024, month, 20)
            )
            body = visit_body(
                plot, survey_round, [line(row, 19) for row in rows], observed_on=f"2024-{month:02}-05"
            )
            log.append_items(actor, [item(body)])
        last = visit_body(plot, factories.survey_round(project, [plot]), [line(row, 9) for row in rows])
        with CaptureQueriesContext(connection) as caught:
            log.append_items(actor, [item(last)])
        return len(caught)

    return measure


def test_a_visit_asks_as_much_whatever_its_lines_and_the_rounds_before(cost):
    cost(1, 0)  # the first also begins the chain
    found = {(n, earlier): cost(n, earlier) for n, earlier in [(1, 0), (10, 0), (40, 0), (1, 8), (40, 8)]}
    assert len(set(found.values())) == 1, found
    assert found[1, 0] <= MOST


def test_a_batch_marks_its_work_once(actor, plots, baselines, survey_round):
    batch = [
        item(visit_body(plot, survey_round, [line(row, 9)]))
        for plot, row in zip(plots, baselines, strict=True)
    ]
    with CaptureQueriesContext(connection) as caught:
        log.append_items(actor, batch)
    marks = [query["sql"] for query in caught if "monitoring_dirtykey" in query["sql"]]
    heads = [query["sql"] for query in caught if query["sql"].startswith('UPDATE "projects_chainhead"')]
    assert (len(marks), len(heads)) == (3, 1)


def test_plots_beside_are_asked_for_by_name(actor, plots, baselines, survey_round):
    """By a subquery, PostgreSQL read all baselines for every visit: 0.4 s each with 10,000 of them."""
    with CaptureQueriesContext(connection) as caught:
        log.append_items(actor, [item(visit_body(plots[0], survey_round, [line(baselines[0], 9)]))])
    (beside,) = [query["sql"] for query in caught if " UNION " in query["sql"]]
    assert beside.count("SELECT") == 2
