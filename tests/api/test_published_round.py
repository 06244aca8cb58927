"""A published survey goes in through the field API, as baselines and counts, and comes out with its printed figures.

Source: S. L. Lohr, Sampling: Design and Analysis, seedling survival data (exercise 4.5): ten plots with the
seedlings alive in 1992 and, of those, the ones still alive in 1994. Ratio 61/206, linearised standard error, and
the design effect against independent trees.
"""

import csv
import io
import re
from datetime import date

import pytest

from monitoring.estimators.count_file import read_counts
from monitoring.estimators.round_estimates import round_estimates
from monitoring.models import Estimate
from monitoring.services import drain
from projects.identifiers import uuid7
from tests import factories
from tests.api.conftest import SECRET
from tests.api.wire import visit_body, wire

pytestmark = pytest.mark.django_db

SEEDLINGS_1992 = (1, 0, 8, 2, 76, 60, 25, 2, 1, 31)
ALIVE_1994 = (0, 0, 1, 2, 10, 15, 3, 2, 1, 27)


@pytest.fixture
def forest(hill, project, site):
    block = factories.block(hill, project, site, name="Seedling plots")
    plots = [factories.plot(block, f"L{number:02d}") for number in range(1, 11)]
    dates = {"opens_on": date(1994, 6, 1), "closes_on": date(1994, 9, 30)}
    return block, factories.survey_round(project, plots, **dates), plots


@pytest.fixture
def crew(forest, client):
    _block, survey_round, _plots = forest
    factories.field_pass(survey_round, secret=SECRET)
    client.cookies["tg_field"] = SECRET
    return client


@pytest.fixture
def counted(crew, send, forest, oak):
    """Post ten baseline visits, then ten counts."""
    block, survey_round, plots = forest
    lines = [str(uuid7()) for _plot in plots]
    baselines = [
        visit_body(
            plot, None, purpose="baseline", observed_on="1992-06-15",
            baselines=[{"uid": uid, "species": oak.slug, "planted": planted, "unit": "tree", "source": "at_planting",
                        "counted_on": "1992-06-15"}],
        )
        for plot, uid, planted in zip(plots, lines, SEEDLINGS_1992, strict=True)
    ]  # fmt: skip
    counts = [
        visit_body(
            plot, survey_round, observed_on="1994-06-15",
            lines=[{"baselines": [uid], "species": oak.slug, "alive": alive, "dead_stem": planted - alive}],
        )
        for plot, uid, planted, alive in zip(plots, lines, SEEDLINGS_1992, ALIVE_1994, strict=True)
    ]  # fmt: skip
    outcomes = send(crew, *(wire(body) for body in baselines), *(wire(body) for body in counts))
    assert [one["outcome"] for one in outcomes] == ["stored"] * 20
    return block, survey_round


def test_the_round_has_the_published_ratio_error_and_design_effect(counted, signed_in, ana):
    block, survey_round = counted
    drain.work_through()
    query = {"round": survey_round.uid, "scope": "block", "measure": "survival"}
    rows = signed_in(ana).get("/api/v1/o/hill/estimates/", query).json()["results"]
    (ratio,) = [row for row in rows if row["method"] == "ratio_logit_t"]
    assert (ratio["n_plots"], ratio["n_trees"]) == (10, 206)
    assert ratio["value"] == pytest.approx(61 / 206, rel=1e-9)
    assert ratio["se"] == pytest.approx(0.115, abs=0.0005)
    assert ratio["deff"] == pytest.approx(13.1, abs=0.05)
    (headline,) = [row for row in rows if row["is_headline"]]
    assert headline["lower"] < 61 / 206 < headline["upper"]
    assert headline["key"] == str(block.uid)


def test_the_round_page_prints_them_beside_the_headline_interval(counted, signed_in, ana):
    _block, survey_round = counted
    drain.work_through()
    answer = signed_in(ana).get(f"/o/hill/round/{survey_round.uid}/")
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))
    assert re.search(r"ratio, logit-t limits 0\.296 0\.115 0\.\d{3} to 0\.\d{3} 13\.1", text)
    assert re.search(r"beta-binomial posterior shown above 0\.296 0\.115 0\.259 to 0\.690 13\.1", text)


def test_the_exported_file_gives_the_same_figures(counted, signed_in, ana):
    _block, survey_round = counted
    response = signed_in(ana).get(f"/api/v1/o/hill/rounds/{survey_round.uid}/counts.csv")
    text = b"".join(response.streaming_content).decode()
    assert [int(row["alive"]) for row in csv.DictReader(io.StringIO(text))] == list(ALIVE_1994)
    rows = round_estimates(read_counts(text).rounds[0].table)
    (ratio,) = [r for r in rows if (r.scope, r.measure, r.method) == ("block", "survival", "ratio_logit_t")]
    assert (round(ratio.value, 4), round(ratio.se, 3), round(ratio.deff, 1)) == (0.2961, 0.115, 13.1)


def test_a_second_sending_changes_no_figure(counted, crew, send, forest):
    drain.work_through()
    before = list(Estimate.objects.order_by("uid").values())
    _block, survey_round, plots = forest
    body = visit_body(plots[0], survey_round)
    stored = factories.m.Visit.objects.filter(plot=plots[0], is_counting=True).get()
    outcome = send(crew, wire(body, id=stored.uid))
    assert outcome[0]["outcome"] == "id_reused"
    drain.work_through()
    assert list(Estimate.objects.order_by("uid").values()) == before
