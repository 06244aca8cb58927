"""How was this computed; and the figures that pages of projects show."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from monitoring.estimators import rows
from monitoring.result_words import METHOD_PAGES
from monitoring.selectors import panels
from monitoring.views.methods import PAGES
from projects.models import StockLot
from tests.results.conftest import address, words

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("name", sorted(PAGES))
def test_each_method_page_gives_a_sentence_a_formula_its_source_and_its_blind_spots(signed_in, fred, name):
    text = words(signed_in(fred).get(address("method", name=name)))
    for heading in ("Formula", "Where it comes from", "What it cannot see"):
        assert heading in text


def test_the_method_pages_say_whether_a_figure_speaks_of_these_trees_or_of_such_trees(signed_in, fred):
    client = signed_in(fred)
    for name in ("survival", "across-blocks"):
        text = words(client.get(address("method", name=name)))
        assert "such trees" in text
        assert "these trees" in text


def test_every_method_a_row_can_carry_has_a_page():
    methods = {
        rows.POSTERIOR, rows.RATIO_LOGIT_T, rows.POOLED_ICC_WILSON, rows.STRATIFIED_LOGIT_T, rows.CENSUS,
        rows.STRATIFIED_LOGIT_T_DESIGN_DF, rows.STRATIFIED_SEPARATE_RATIO, rows.WILSON_PLOTS, rows.PLOT_MEAN_T,
        rows.STRATIFIED_MEAN_T, rows.PAIRED_RESIDUALS, rows.PARTIAL_OVERLAP, rows.INDEPENDENT_ROUNDS,
        rows.COMMON_PLOTS_RATIO, rows.COHEN_KAPPA, rows.LIMITS_OF_AGREEMENT, rows.WILSON_TREES,
    }  # fmt: skip
    assert methods == set(METHOD_PAGES)
    assert set(METHOD_PAGES.values()) <= set(PAGES)


def test_an_unknown_method_is_404(signed_in, fred):
    assert signed_in(fred).get(address("method", name="guessing")).status_code == 404


def project_page(name, row):
    return reverse(f"projects:{name}", kwargs={"org": "hill", "uid": row.uid})


def test_the_block_page_shows_its_figures_what_to_replant_and_the_button(signed_in, ana, hillside):
    answer = signed_in(ana).get(project_page("block_detail", hillside.blocks[1]))
    text = words(answer)
    assert "falls short" in text
    assert "What to replant" in text
    assert "Make a draft order" in text
    assert "csrfmiddlewaretoken" in answer.content.decode().split('name="block"')[0][-300:]


def test_a_funder_reads_a_blocks_figures_but_not_its_orders(signed_in, fred, hillside):
    text = words(signed_in(fred).get(project_page("block_detail", hillside.blocks[1])))
    assert "falls short" in text
    assert "What to replant" not in text


def test_site_and_project_pages_show_each_block_as_last_counted(signed_in, ana, hillside):
    client = signed_in(ana)
    for name, row in (("site_detail", hillside.blocks[0].site), ("project_detail", hillside.project)):
        text = words(client.get(project_page(name, row)))
        assert "Blocks, as last counted" in text
        assert "Block 01" in text
        assert "meets target" in text


def test_the_home_page_shows_sites_as_strips_of_seasons_with_intervals(signed_in, ana, hillside):
    text = words(signed_in(ana).get(reverse("projects:home", kwargs={"org": "hill"})))
    assert "How the trees fare, season by season" in text
    assert "reporting 2025" in text


def test_lot_nursery_and_planting_pages_lead_from_figures_down_and_back(signed_in, ana, hillside):
    client = signed_in(ana)
    lot = StockLot.objects.first()
    planting = lot.cohorts.get()
    text = client.get(project_page("lot_detail", lot)).content.decode()
    assert project_page("cohort_detail", planting) in text
    assert "meets target" in words(client.get(project_page("cohort_detail", planting)))
    assert (
        project_page("lot_detail", lot)
        in client.get(project_page("nursery_detail", lot.nursery)).content.decode()
    )


def test_panels_ask_as_often_for_twenty_blocks_as_for_two(make_hillside, actor, hill, site, project):
    asked = []
    for number in (2, 20):
        made = make_hillside(number, 2, name=f"Group {number}")
        made.send([10, 8] * number, dead_stem=10)
        made.work()
        with CaptureQueriesContext(connection) as seen:
            panels.of_home(actor, hill)
            panels.of_site(actor, site)
            panels.of_project(actor, project)
            panels.of_block(actor, made.blocks[0])
        asked.append(len(seen))
    assert asked[0] == asked[1] <= 60
