"""Method pages with the counts behind a figure, step by step; and the study of how often figures are right."""

import json
import shutil
import uuid
from pathlib import Path

import pytest
from django.conf import settings as configured
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from monitoring.evidence_words import form_words
from monitoring.figure_links import method_address
from monitoring.models import CountLine, Estimate, PerformanceRow, ReplacementNeed
from monitoring.selectors import worked
from monitoring.selectors.evidence import coverage_study
from monitoring.selectors.worked_textbook import EXAMPLES
from monitoring.templatetags.evidence import place_words
from tests import factories
from tests.results.conftest import ALIVE, address, words

pytestmark = pytest.mark.django_db


def headline(scope, measure="survival", **narrow):
    return Estimate.objects.filter(scope=scope, measure=measure, is_headline=True, **narrow).first()


def steps(answer):
    """The words of the worked example of a page."""
    assert answer.status_code == 200
    text = words(answer)
    return text.split("With your own counts")[-1].split("Where it comes from")[0]


def test_the_counts_behind_a_block_are_listed_added_up_and_divided(signed_in, fred, hillside):
    row = headline("block", block=hillside.blocks[0])
    text = steps(signed_in(fred).get(method_address("hill", row)))
    assert "Block 01" in text
    for number, alive in enumerate(ALIVE[:6]):
        assert f"1-{number + 1} {alive} 20 {5 * alive}.0 %" in text
    assert sum(ALIVE[:6]) == 107
    assert "107 / 120 = 89.2 %" in text
    beside = Estimate.objects.get(
        scope="block", measure="survival", method="ratio_logit_t", block=hillside.blocks[0]
    )
    assert f"standard error: {beside.se:.4f}" in text
    assert "ratio, logit-t limits" in text
    assert "meets target" in text


def test_several_blocks_weigh_by_the_trees_planted_in_them(signed_in, fred, hillside):
    """500 planted and 120 in the plots of each block: one counted tree stands for 4.17."""
    text = steps(signed_in(fred).get(method_address("hill", headline("project"))))
    assert "Block 01 6 107 120 4.17 446 500" in text
    assert "Block 02 6 59 120 4.17 246 500" in text
    assert "692 / 1 000 = 69.2 %" in text


def test_the_steps_lead_to_the_figure_that_is_stored(hillside):
    for row in Estimate.objects.filter(
        measure__in=("survival", "survival_if_found"), is_headline=True, status="ok"
    ):
        found = worked.worked_example(row)
        assert found.value == pytest.approx(row.value, rel=1e-9), (row.scope, row.key)
        assert not found.is_behind
        assert len(found.plots) == row.n_plots


def test_trees_not_found_stand_between_the_two_figures(signed_in, fred, make_hillside):
    made = make_hillside(1, 6)
    made.send([15] * 6, dead_stem=2)
    made.work()
    text = steps(signed_in(fred).get(method_address("hill", headline("block"))))
    assert "Of 120 planted trees 90 were seen living and 18 were not found." in text
    assert "If all of those live the figure is 90 %" in text


def test_stocking_takes_the_ground_of_each_plot(signed_in, fred, hillside):
    row = headline("block", "stocking", block=hillside.blocks[0])
    found = worked.worked_example(row)
    assert found.per_ha == pytest.approx(row.value, rel=1e-9)
    text = steps(signed_in(fred).get(method_address("hill", row)))
    assert "107 living trees on" in text


def test_a_comparison_and_a_need_have_steps_of_their_own(signed_in, ana, hillside):
    client = signed_in(ana)
    peer = PerformanceRow.objects.exclude(pooled=None).first()
    assert f"{peer.facts['alive']} living of {peer.n_trees} trees" in steps(
        client.get(f"{address('method', name='performance')}?figure={peer.uid}")
    )
    need = ReplacementNeed.objects.filter(status="ok").first()
    text = steps(client.get(f"{address('method', name='replacement')}?figure={need.uid}"))
    assert f"{need.n_assured} with" in text


def test_a_round_lends_a_page_its_first_figure(signed_in, fred, hillside):
    asked = f"{address('method', name='survival')}?round={hillside.survey_round.uid}"
    assert "107 / 120" in steps(signed_in(fred).get(asked))


def test_a_figure_older_than_its_counts_says_so(signed_in, fred, hillside):
    row = headline("block", block=hillside.blocks[0])
    CountLine.objects.filter(visit__plot=hillside.plots[0]).update(alive=2)
    assert "Counts came in after this figure was computed" in steps(
        signed_in(fred).get(method_address("hill", row))
    )


@pytest.mark.parametrize("asked", ["figure", "round"])
@pytest.mark.parametrize("value", ["not-a-uid", str(uuid.UUID(int=7))])
def test_what_does_not_exist_is_not_found(signed_in, fred, hillside, asked, value):
    assert signed_in(fred).get(f"{address('method', name='survival')}?{asked}={value}").status_code == 404


def test_nobody_sees_the_counts_of_others(signed_in, hillside, ana):
    """Another organisation's manager, at home there, asks with the identity of a figure of the hill."""
    other = factories.organisation(slug="valley")
    stranger = factories.member(other, "manager")
    client = signed_in(stranger)
    page = reverse("monitoring:method", kwargs={"org": "valley", "name": "survival"})
    assert client.get(page).status_code == 200
    for row in (headline("block"), PerformanceRow.objects.first(), ReplacementNeed.objects.first()):
        assert client.get(f"{page}?figure={row.uid}").status_code == 404
    assert client.get(f"{page}?round={hillside.survey_round.uid}").status_code == 404


def test_the_steps_ask_as_often_for_twenty_blocks_as_for_two(make_hillside):
    asked = []
    for number in (2, 20):
        made = make_hillside(number, 2, name=f"Group {number}")
        made.send([10, 8] * number, dead_stem=10)
        made.work()
        row = Estimate.objects.select_related("round__project").get(
            round=made.survey_round, scope="project", measure="survival", is_headline=True
        )
        with CaptureQueriesContext(connection) as seen:
            assert len(worked.worked_example(row).blocks) == number
        asked.append(len(seen))
    assert asked[0] == asked[1] <= 25


@pytest.mark.parametrize("name", sorted(EXAMPLES))
def test_without_a_figure_an_example_stands_in(signed_in, fred, name):
    text = words(signed_in(fred).get(address("method", name=name)))
    assert "A worked example" in text


def test_the_textbook_example_gives_what_the_textbook_prints(signed_in, fred):
    """Lohr, Sampling (2021), example 4.5: 61 of 206 seedlings, .2961, standard error .115, design effect 13.1."""
    text = words(signed_in(fred).get(address("method", name="survival")))
    assert "61 / 206 = 29.6 %" in text
    assert "standard error: 0.115" in text
    assert "13.1 times" in text


# --- evidence -------------------------------------------------------------------------------
@pytest.fixture
def study_folder(settings, tmp_path):
    """A copy of the kept study that a test may change."""
    for name in ("coverage.json", "coverage.csv"):
        shutil.copy(Path(configured.STUDIES) / name, tmp_path / name)
    settings.STUDIES = tmp_path
    return tmp_path


def test_the_page_of_evidence_shows_what_the_study_found(signed_in, fred):
    study = coverage_study()
    text = words(signed_in(fred).get(address("method", name="evidence")))
    headline_found = study.blocks["methods"][0]
    assert f"{100 * headline_found['mean']:.1f} %" in text
    assert f"{100 * headline_found['worst']:.1f} %" in text
    assert "trees pooled as if independent" in text
    assert "none was drawn, the data cannot show one" in text
    assert "deploy/bench coverage" in text


def test_the_figures_of_the_page_come_from_the_file(signed_in, fred, study_folder):
    told = json.loads((study_folder / "coverage.json").read_text())
    told["grids"][0]["methods"][0]["mean"] = 0.4321
    told["code_version"] = "0"
    (study_folder / "coverage.json").write_text(json.dumps(told))
    text = words(signed_in(fred).get(address("method", name="evidence")))
    assert "43.2 %" in text
    assert "newer version of the code" in text


def test_kinds_below_the_level_aimed_at_are_named(signed_in, fred):
    below = coverage_study().below
    assert below
    assert [cell["covered"] for cell in below] == sorted(cell["covered"] for cell in below)
    text = words(signed_in(fred).get(address("method", name="evidence")))
    worst, form = below[0], form_words(below[0]["form"])
    assert f"correlation {worst['icc']:.2f}, {form}: {100 * worst['covered']:.1f} %" in text


def test_without_a_study_the_page_says_how_to_make_one(signed_in, fred, study_folder):
    (study_folder / "coverage.json").unlink()
    client = signed_in(fred)
    assert "The study is not on this machine." in words(client.get(address("method", name="evidence")))
    assert client.get(address("evidence_chart")).status_code == 404


def test_the_picture_of_the_study_is_drawn(signed_in, fred, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    answer = signed_in(fred).get(address("evidence_chart"))
    assert answer.headers["Content-Type"].startswith("image/svg+xml")
    assert b"trees pooled" in answer.content


def test_kinds_of_project_that_differ_only_in_their_form_are_told_apart():
    cell = {"blocks": 4, "plots": 5, "icc": 0.2, "survival": 0.957, "covered": 0.91}
    told = {form: place_words({**cell, "form": form}) for form in ("common", "uneven")}
    assert told["common"].endswith("correlation 0.20, blocks equally patchy")
    assert told["uneven"].endswith("every other block four times as patchy")
