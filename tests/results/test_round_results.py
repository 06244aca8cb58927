"""What the page of a round says about its figures."""

import re
from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from monitoring.models import Estimate
from monitoring.selectors.results import round_results
from projects.models import Season
from projects.services import log
from tests import factories
from tests.field_log.visits import item, line, visit_body
from tests.results.conftest import address, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def read(signed_in, ana):
    """Read a page as the manager."""
    client = signed_in(ana)

    def get(name, **kwargs):
        answer = client.get(address(name, **kwargs))
        assert answer.status_code == 200
        return words(answer)

    return get


def test_each_block_stands_with_interval_basis_and_outcome_in_words(read, hillside):
    text = read("round_detail", uid=hillside.survey_round.uid)
    assert "meets target" in text
    assert "falls short" in text
    assert "6 plots, 120 trees" in text
    assert re.search(r"Block 01 Upper site Where from\? 89 %, \d+ to \d+ %", text)
    assert "How was this computed?" in text


def test_a_project_figure_names_the_share_of_planted_trees_in_surveyed_blocks(read, hillside, hill, site):
    unseen = factories.block(hill, hillside.project, site, name="Unseen")
    lot = factories.lot(hill, factories.species("quercus-robur"))
    factories.cohort(unseen, lot, Season.objects.get(kind="planting"), planted=1000)
    from monitoring.services import dirty

    dirty.mark_project(hillside.project)
    hillside.work()
    assert "50 % of the planted trees stand in surveyed blocks" in read(
        "round_detail", uid=hillside.survey_round.uid
    )


def test_no_point_stands_without_its_interval(hillside):
    for row in Estimate.objects.all():
        assert (row.value is None) == (row.lower is None) == (row.upper is None), row


def test_an_open_outcome_says_how_many_more_plots_would_settle_it(read, make_hillside):
    made = make_hillside(1, 5)
    for number, alive in enumerate((18, 15, 20, 16, 18)):
        made.send([alive], number, dead_stem=20 - alive)
    made.work()
    text = read("round_detail", uid=made.survey_round.uid)
    assert re.search(r"not settled yet \d+ more plots", text)


def test_trees_not_found_widen_what_is_said_and_send_people_back(read, make_hillside):
    made = make_hillside(1, 6)
    made.send([15] * 6)  # five of twenty in each plot were not found
    made.work()
    text = read("round_detail", uid=made.survey_round.uid)
    assert "30 trees not found" in text
    assert "if all not found live" in text
    assert "go back and look for 30 trees" in text
    assert "if no tree is found again" in text


def test_before_the_age_of_the_check_a_figure_is_so_far_without_an_outcome(read, make_hillside, project):
    project.check_age_months = 60
    project.save()
    made = make_hillside(1, 6)
    made.send([18] * 6, dead_stem=2)
    made.work()
    text = read("round_detail", uid=made.survey_round.uid)
    assert "so far before the age of the check" in text
    assert "meets target" not in text


def test_trees_of_several_seasons_together_have_no_outcome(read, make_hillside, hill, oak):
    made = make_hillside(1, 6)
    later = factories.season(hill, "planting", year=2025)
    lot = factories.lot(hill, oak)
    cohort = factories.cohort(made.blocks[0], lot, later, planted=100, planted_on=date(2025, 1, 20))
    for plot in made.plots:
        factories.baseline(plot, oak, 5, cohort=cohort, counted_on=date(2025, 2, 1))
    for plot, baseline in zip(made.plots, made.baselines, strict=True):
        young = plot.baselines.get(cohort=cohort)
        lines = [line(baseline, 16, dead_stem=4), line(young, 4, dead_stem=1)]
        log.append_items(made.actor, [item(visit_body(plot, made.survey_round, lines))])
    made.work()
    text = read("round_detail", uid=made.survey_round.uid)
    assert "no outcome: trees of several planting seasons stand together" in text


def test_plots_missing_and_destroyed_are_told_with_their_reasons(read, make_hillside):
    made = make_hillside(1, 6)
    made.send([16] * 3, dead_stem=4)
    made.skip(3, status="missing", reason="unsafe")
    made.skip(4, status="destroyed", reason="slid")
    made.work()
    text = read("round_detail", uid=made.survey_round.uid)
    assert (
        "4 of 6 plots counted, 1 of them destroyed and so without a living tree, "
        "not counted: 1 unsafe, not visited, 1 not reported yet" in text
    )


def test_counts_to_be_settled_stand_beside_the_figure(read, make_hillside):
    made = make_hillside(1, 6)
    made.send([25], 0)
    made.send([15] * 5, 1, dead_stem=5)
    made.work()
    text = read("round_detail", uid=made.survey_round.uid)
    assert "1 to be settled" in text
    assert "1 count is still to be settled by the field lead" in text


def test_seed_spots_and_rebuilt_baselines_keep_their_own_names_and_never_pool(read, make_hillside, oak):
    made = make_hillside(1, 6)
    made.send([18] * 6, dead_stem=2)
    sown = [factories.baseline(plot, oak, 30, unit="seed_spot") for plot in made.plots]
    for plot, planted, spots in zip(made.plots, made.baselines, sown, strict=True):
        lines = [
            line(planted, 18, dead_stem=2),
            line(spots, 9, unit="seed_spot", seedlings=14, empty_spot=21),
        ]
        body = visit_body(plot, made.survey_round, lines, observed_on="2025-09-13")
        log.append_items(made.actor, [item(body)])
    made.work()
    text = read("round_detail", uid=made.survey_round.uid)
    assert "Spot occupancy" in text
    assert "180 seed spots" in text
    figure = Estimate.objects.get(scope="block", measure="survival", is_headline=True)
    assert figure.n_trees == 120


def test_a_species_in_too_few_plots_shows_counts_and_no_figure(read, make_hillside, cohort):
    made = make_hillside(1, 6)
    alder = factories.species("alnus-glutinosa")
    made.send([17] * 3, 3, dead_stem=3)
    for plot, oaks in zip(made.plots[:3], made.baselines[:3], strict=True):
        rare = factories.baseline(plot, alder, 4, cohort=cohort)
        lines = [line(oaks, 17, dead_stem=3), line(rare, 3, dead_stem=1)]
        log.append_items(made.actor, [item(visit_body(plot, made.survey_round, lines))])
    made.work()
    text = read("round_detail", uid=made.survey_round.uid)
    assert "Too few plots hold it: the counts are shown, without a figure. 9 living of 12 counted" in text


def test_counts_that_are_not_in_the_figures_yet_are_announced(read, make_hillside):
    made = make_hillside(1, 6)
    made.send([18] * 6, dead_stem=2)
    assert "Counts have come in that these figures do not hold yet" in read(
        "round_detail", uid=made.survey_round.uid
    )


def test_an_empty_round_teaches_the_next_step(read, make_hillside):
    made = make_hillside(1, 2)
    assert "No figures yet" in read("round_detail", uid=made.survey_round.uid)


def queries_of(survey_round) -> int:
    with CaptureQueriesContext(connection) as seen:
        results = round_results(survey_round)
        assert results.every is not None
    return len(seen)


def test_results_ask_as_often_for_twenty_blocks_as_for_two(make_hillside):
    asked = []
    for number, name in ((2, "Few"), (20, "Many")):
        made = make_hillside(number, 2, name=name)
        made.send([18, 15] * number, dead_stem=2)
        made.work()
        asked.append(queries_of(made.survey_round))
    assert asked[0] == asked[1] <= 14


def test_the_chart_of_a_round_is_drawn_once_and_read_from_its_file_afterwards(
    signed_in, ana, hillside, settings, tmp_path, monkeypatch
):
    settings.MEDIA_ROOT = tmp_path
    client = signed_in(ana)
    where = address("round_chart", uid=hillside.survey_round.uid, kind="survival")
    first = client.get(where)
    assert first.headers["Content-Type"].startswith("image/svg+xml")
    assert "style-src 'unsafe-inline'" in first.headers["Content-Security-Policy"]
    assert b"Block 01" in first.content
    assert len(list((tmp_path / "charts").glob("*.svg"))) == 1
    from monitoring.charts import drawing

    monkeypatch.setattr(drawing, "draw", lambda *told: pytest.fail("drawn twice"))
    assert client.get(where).content == first.content


def test_a_chart_in_another_language_is_another_file(signed_in, ana, hillside, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    from django.utils import translation

    from monitoring.charts import drawing, specs

    bars = [specs.Interval("North", 0.6, 0.5, 0.7)]
    names = set()
    for axis in ("living of planted", "vivas das plantadas"):
        names.add(drawing.file_of(specs.interval_chart(bars, 0.8, specs.Words(axis)), "t"))
    assert len(names) == 2
    assert translation.get_language() == "en-gb"


def test_plantings_of_one_lot_are_told_apart_by_their_block(read, hillside):
    text = read("round_detail", uid=hillside.survey_round.uid).partition("One lot in one block")[2]
    for line_ in round_results(hillside.survey_round).plantings:
        assert f"{line_.label} {line_.subject.block.name}" in text
