"""How many plots, and where: the table, the sharing-out, and what the page begins with."""

import math
import re

import pytest

from monitoring import design_words as words
from monitoring.calc.pooled_correlation import correlation_of
from monitoring.estimators.sample_size import plots_needed, what_plots_buy
from monitoring.models import Estimate
from monitoring.selectors import survey_design
from projects.identifiers import uuid7
from projects.models import Holding, PlantingDay
from tests import factories
from tests.rounds.conftest import url

pytestmark = pytest.mark.django_db


@pytest.fixture
def blocks(hill, project, site, lot):
    """Three blocks with 4000, 2500 and 3500 trees on 2 ha each."""
    season = factories.season(hill, "planting", year=2024)
    made = [factories.block(hill, project, site, name=name) for name in ("Ash", "Birch", "Cherry")]
    for block, trees in zip(made, (4000, 2500, 3500), strict=True):
        factories.cohort(block, lot, season, planted=trees)
    return made


def look(page, project, **typed):
    return page.get(url("survey_design", uid=project.uid), typed)


def test_the_table_is_what_the_estimators_say_and_the_wish_is_marked(page, project, blocks):
    asked = {"survival": "85", "icc": "0.1", "trees_per_plot": "20", "half_width": "6", "plots_per_day": "6"}
    answer = look(page, project, **asked)
    design = answer.context["design"]
    held = 500  # 10 000 trees in plots of 20
    needed = plots_needed(0.85, 0.06, trees_per_plot=20, icc=0.1, block_plots=held)
    assert design.block_plots == held
    assert design.chosen.plots == needed.plots == 22
    expected = what_plots_buy(
        [row.plots for row in design.table], survival=0.85, trees_per_plot=20, icc=0.1, target=0.8, block_plots=held,
        plots_per_person_day=6,
    )  # fmt: skip
    assert design.table == expected and {10, 22, 30} <= {row.plots for row in expected}
    text = re.sub(r"\s+", " ", answer.content.decode())
    assert "With 22 plots the survival would be known to about ±6 points," in text
    assert text.count('class="chosen"') == 1


def test_everything_typed_stays_in_the_form_also_when_some_of_it_is_wrong(page, project, blocks):
    typed = {"survival": "a lot", "icc": "0,2", "half_width": "9", f"plots_{blocks[0].uid}": "7"}
    answer = look(page, project, **typed)
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "Write a percentage, such as 80." in text
    for value in ("a lot", "0,2", "9"):
        assert f'value="{value}"' in text
    assert answer.context["form"][f"plots_{blocks[0].uid}"].value() == "7"
    assert answer.context["design"] is None


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"survival": "100"}, "survival"),
        ({"level": "0"}, "level"),
        ({"half_width": "0"}, "half_width"),
        ({"icc": "1"}, "icc"),
        ({"trees_per_plot": "", "radius_m": ""}, "trees_per_plot"),
        ({"plots_per_day": "0"}, "plots_per_day"),
        ({"rule": "by guess"}, "rule"),
        ({"total": "-3"}, "total"),
    ],
)
def test_numbers_that_cannot_be_are_answered_at_their_field(page, project, blocks, typed, field):
    answer = look(page, project, **typed)
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]


def test_a_measure_out_of_its_bounds_is_told_them_in_the_words_of_a_count(page, project, blocks):
    errors = look(page, project, icc="2", plots_per_day="0").context["form"].errors
    assert errors["icc"] == ["Write 0.9 or less."]
    assert errors["plots_per_day"] == ["Write 0.1 or more."]


def test_a_first_look_begins_with_the_target_and_the_usual_correlation(page, project, blocks):
    answer = look(page, project)
    form = answer.context["form"]
    assert (form["survival"].value(), form["icc"].value()) == ("80", "0.1")
    text = answer.content.decode()
    assert "Nothing was counted yet" in text and "0.1, is common practice" in text


def estimate(survey_round, block, value, **fields):
    values = {
        "scope": "block" if block else "project", "key": str(block.uid if block else survey_round.project.uid),
        "measure": "survival", "level": 0.95, "code_version": "3", "input_digest": "0" * 64, **fields,
    }  # fmt: skip
    return Estimate.objects.create(
        uid=uuid7(), organisation=survey_round.organisation, project=survey_round.project, round=survey_round,
        block=block, value=value, **{"method": "beta_binomial_posterior", "is_headline": True, **values},
    )  # fmt: skip


def test_later_looks_begin_with_what_the_last_round_showed(page, project, blocks):
    survey_round = factories.survey_round(project, [factories.plot(block) for block in blocks])
    for block, value in zip(blocks, (0.9, 0.6, 0.7), strict=True):
        estimate(survey_round, block, value)
        estimate(
            survey_round,
            block,
            value,
            method="ratio_logit_t",
            is_headline=False,
            deff=2.9,
            n_plots=8,
            n_trees=160,
        )
    estimate(survey_round, None, 0.742, method="stratified_logit_t")
    answer = look(page, project)
    form = answer.context["form"]
    assert (form["survival"].value(), form["icc"].value()) == ("74.2", "0.1")
    assert answer.context["known"].correlation.df == 21
    shares = answer.context["design"].shares
    assert [share.survival for share in shares] == [0.9, 0.6, 0.7]


def test_the_projects_own_correlation_pools_design_effects_by_plots_beyond_the_first():
    # (9 × 1.9 + 4 × 0.4) / (9 × 19 + 4 × 9) = 18.7 / 207
    found = correlation_of([2.9, 1.4], [10, 5], [200, 50])
    assert found.value == pytest.approx(18.7 / 207, abs=5e-4) and found.df == 13 and found.is_own
    assert (
        correlation_of([math.nan, 2.9], [30, 10], [600, 200]).df == 0
    )  # nine plots beyond the first are too few
    assert correlation_of([0.2, 0.3], [10, 10], [200, 200]).value == 0.0


# --- sharing out --------------------------------------------------------------------------------
def plots_by_block(answer):
    return [share.plots for share in answer.context["design"].shares]


def test_plots_follow_the_trees_planted_or_are_equal(page, project, blocks):
    assert plots_by_block(look(page, project, total="20", rule="proportional")) == [8, 5, 7]
    assert plots_by_block(look(page, project, total="21", rule="equal")) == [7, 7, 7]


def test_where_plots_differ_more_neyman_gives_more(page, project, blocks):
    # Case 6-neyman-30 of the check cases (R 4.2.2): weights .4 .25 .35, standard deviations .3, .4583, .2179.
    # Spreads follow from survival here, so 0.5 stands against 0.95: sd ratio sqrt(.25/.0475) = 2.29.
    asked = {
        f"survival_{blocks[0].uid}": "95",
        f"survival_{blocks[1].uid}": "50",
        f"survival_{blocks[2].uid}": "95",
    }
    answer = look(page, project, total="30", rule="neyman", **asked)
    # pulls 4000 : 2500 × 2.294 : 3500, so 9.1, 13.0 and 7.9 plots
    assert plots_by_block(answer) == [9, 13, 8]


def test_plots_that_are_more_work_are_fewer(page, project, blocks):
    asked = {"total": "320", "rule": "optimal_cost", "plots_per_day": "8"}
    even = look(page, project, **asked).context["design"]
    dear = look(page, project, **asked, **{f"per_day_{blocks[0].uid}": "2"}).context["design"]
    assert sum(share.plots for share in even.shares) == 320
    assert 39.8 < dear.days <= 40.0  # 320 plots at 8 a day: the days stay, the plots become fewer
    # pulls 4000 / √(1/2), 2500 / √(1/8), 3500 / √(1/8) per day of work: halved beside its neighbours
    ratio = dear.shares[0].plots / dear.shares[2].plots
    assert ratio == pytest.approx(0.5 * even.shares[0].plots / even.shares[2].plots, rel=0.03)


def test_a_number_of_ones_own_stays_and_the_others_share_the_rest(page, project, blocks):
    answer = look(page, project, total="20", **{f"plots_{blocks[1].uid}": "11"})
    assert plots_by_block(answer) == [5, 11, 4]
    assert answer.context["design"].n_shared == 20


def test_every_block_gets_two_and_too_few_are_told(page, project, blocks):
    answer = look(page, project, total="5")
    assert plots_by_block(answer) == [2, 2, 2]
    assert "do not give every block its two" in answer.content.decode()
    assert min(plots_by_block(look(page, project, total="7"))) == 2


def test_one_block_alone_is_reckoned_with_its_own_trees(page, project, blocks):
    design = look(page, project, of=str(blocks[1].uid)).context["design"]
    assert design.block_plots == 125
    assert [share.facts.block for share in design.shares] == [blocks[1]]


# --- shapes -------------------------------------------------------------------------------------
def test_each_block_gets_the_radius_that_holds_the_trees_wished(page, project, blocks):
    answer = look(page, project, trees_per_plot="20")
    radii = [share.radius_m for share in answer.context["design"].shares]
    # 2000, 1250 and 1750 trees per hectare: r = sqrt(20 / density × 10 000 / π)
    assert radii == [round(math.sqrt(20 / density * 10_000 / math.pi), 2) for density in (2000, 1250, 1750)]


def test_one_radius_for_all_gives_each_block_its_own_trees(page, project, blocks):
    shares = look(page, project, trees_per_plot="", radius_m="5,64").context["design"].shares
    assert [round(share.trees_in_plot, 1) for share in shares] == [20.0, 12.5, 17.5]


def test_thin_plantings_become_rows_and_tiny_ones_are_counted_whole(page, hill, project, site, lot):
    season = factories.season(hill, "planting", year=2024)
    thin, tiny, hedge = (
        factories.block(hill, project, site, name=name, net_area_ha=area, pattern=pattern)
        for name, area, pattern in (
            ("A thin", 4.0, "square"),
            ("B tiny", 0.3, "square"),
            ("C hedge", 0.1, "row"),
        )
    )
    for block, trees in ((thin, 1200), (tiny, 80), (hedge, 900)):
        factories.cohort(block, lot, season, planted=trees)
    answer = look(page, project, trees_per_plot="", radius_m="5")
    shares = answer.context["design"].shares
    assert [share.shape for share in shares] == ["row", "whole_block", "row"]
    assert shares[1].plots == 1
    text = answer.content.decode()
    assert "count the whole block: with 80" in text and "shape=whole_block" in text and "shape=row" in text


def test_a_list_of_holdings_is_drawn_by_list(page, hill, project, site):
    block = factories.block(hill, project, site, name="Farms", layout="holdings")
    for number in range(30):
        Holding.objects.create(organisation=hill, block=block, label=f"Farm {number}", trees_received=40)
    (share,) = look(page, project, total="50").context["design"].shares
    assert (share.shape, share.trees_in_plot, share.holds) == ("holdings", 40, 30)
    assert share.plots == 30  # never more than there are


def test_a_project_without_blocks_or_trees_says_what_to_do(page, hill, project, site):
    assert "No block belongs to this project yet" in look(page, project).content.decode()
    block = factories.block(hill, project, site, row_spacing_m=None, in_row_spacing_m=None)
    answer = look(page, project)
    assert "write down what was planted" in answer.content.decode()
    assert answer.context["design"].shares[0].facts.block == block
    assert not PlantingDay.objects.filter(block=block).exists()


# --- words and picture --------------------------------------------------------------------------
def test_chances_are_said_as_people_say_them():
    assert words.chance(0.72) == "in 7 of 10 surveys"
    assert words.chance(0.06) == "in 1 of 10 surveys"
    assert words.chance(0.02) == "in hardly any survey"
    assert words.chance(0.97) == "in nearly every survey"
    assert [words.points(width) for width in (0.0612, 0.0349, 0.0249)] == ["±6", "±3", "±2.5"]


def test_a_survival_at_the_target_is_told_to_settle_nothing(page, project, blocks):
    text = look(page, project, survival="80").content.decode()
    assert "most surveys would leave the question open" in text
    assert (
        "leave the question open" not in look(page, project, survival="97", half_width="5").content.decode()
    )


def test_the_picture_shows_the_same_address(page, project, blocks):
    asked = {"survival": "90", "half_width": "8"}
    answer = page.get(url("design_chart", uid=project.uid), asked)
    assert answer.status_code == 200 and answer["Content-Type"].startswith("image/svg+xml")
    picture = answer.content.decode()
    assert "your wish" in picture and "surveys that settle the question" in picture
    assert page.get(url("design_chart", uid=project.uid), {"survival": "x"}).status_code == 404


def test_a_wish_no_number_reaches_is_said(page, project, blocks):
    values = {"survival": 0.5, "trees_per_plot": 1, "icc": 0.0}
    assert survey_design.needed_or_none(values, {"half_width": 0.006, "level": 0.99}, None) is None


def test_a_block_remembers_the_radius_most_of_its_plots_in_use_have(page, project, blocks):
    for radius in (6.31, 6.31, 5.64):
        factories.plot(blocks[0], radius_m=radius)
    for _gone in range(3):
        factories.plot(blocks[0], radius_m=4.0, retired_at="2026-01-01T00:00Z")
    facts = look(page, project).context["design"].shares[0].facts
    assert (facts.n_plots, facts.usual_radius_m, facts.usual_shape) == (3, 6.31, "circle")


def test_a_volunteer_and_a_funder_do_not_plan(signed_in, vera, fred, project, blocks):
    for member in (vera, fred):
        assert look(signed_in(member), project).status_code == 403


def test_the_page_asks_a_constant_number_of_questions(page, hill, project, site, blocks):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    counts = []
    for _more in range(2):
        with CaptureQueriesContext(connection) as asked:
            look(page, project)
        counts.append(len(asked))
        for _number in range(6):
            factories.plot(factories.block(hill, project, site))
    assert counts[0] == counts[1]


def test_seed_spots_stand_apart_from_the_plots_for_survival(page, project, hill, site, oak, blocks):
    """Spot occupancy is never pooled with survival, so acorns take no part in the number, nor in its sharing."""
    asked = {"survival": "85", "icc": "0.1", "trees_per_plot": "20", "half_width": "6", "plots_per_day": "6"}
    without = look(page, project, **asked).context["design"]
    acorns = factories.lot(hill, oak, unit="seed_spot", stock_type="direct_seed")
    season = factories.season(hill, "planting", year=2025)
    factories.cohort(factories.block(hill, project, site, name="Dell"), acorns, season, planted=9000)
    answer = look(page, project, **asked)
    design = answer.context["design"]
    assert design.table == without.table
    plots = {share.facts.block.name: share.plots for share in design.shares}
    assert plots.pop("Dell") == 0
    assert plots == {share.facts.block.name: share.plots for share in without.shares}
    assert "seed spots each. They tell spot occupancy" in re.sub(r"\s+", " ", answer.content.decode())


def test_a_block_of_seed_spots_alone_can_be_designed(page, project, hill, site, oak):
    acorns = factories.lot(hill, oak, unit="seed_spot", stock_type="direct_seed")
    dell = factories.block(hill, project, site, name="Dell")
    factories.cohort(dell, acorns, factories.season(hill, "planting", year=2025), planted=9000)
    (share,) = look(page, project).context["design"].shares
    assert share.plots >= 2
