"""At every edge of what can be estimated the page of a round says in plain words what it can and cannot tell."""

import re
from datetime import date

import pytest

from monitoring.models import BaselineSource, Estimate, PlotBaseline, RoundBlock, SurvivalPlot
from projects.models import PlantingDay
from projects.services import log
from tests import factories
from tests.field_log.visits import item, line, visit_body
from tests.results.conftest import address, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def page(signed_in, ana):
    """Work off what waits and read the page of a round as the manager; no code word may stand on it."""
    client = signed_in(ana)

    def read(made):
        made.work()
        answer = client.get(address("round_detail", uid=made.survey_round.uid))
        assert answer.status_code == 200
        text = words(answer).partition("How many live")[2].partition("How was this computed?")[0]
        assert not re.search(r"\b[a-z]+(_[a-z]+)+\b", text)
        return text

    return read


def row_of(text: str, name: str) -> str:
    """The words of one line of the first table, up to the next line."""
    return re.split(rf"{name} Upper site", text)[1].split("Upper site")[0]


def count(made, alive, first=0):
    """Count plots from the first on, every dead tree seen."""
    for number, living in enumerate(alive, first):
        made.send([living], number, dead_stem=made.baselines[number].planted - living)


def bare(made, numbers, **fields):
    """Visit plots without any line."""
    for number in numbers:
        log.append_items(made.actor, [item(visit_body(made.plots[number], made.survey_round, **fields))])


def without_baselines(made, numbers):
    PlotBaseline.objects.filter(plot__in=[made.plots[number] for number in numbers]).delete()


def test_every_tree_lives(page, make_hillside):
    made = make_hillside(1, 6)
    count(made, [20] * 6)
    assert re.search(
        r"Block 01 Upper site Where from\? 100 %, \d\d to 100 % 6 plots, 120 trees", text := page(made)
    )
    assert "meets target" in text


def test_no_tree_lives(page, make_hillside):
    made = make_hillside(1, 6)
    count(made, [0] * 6)
    assert re.search(
        r"Block 01 Upper site Where from\? 0 %, 0 to \d+ % 6 plots, 120 trees", text := page(made)
    )
    assert "falls short" in text


def test_one_plot(page, make_hillside):
    made = make_hillside(1, 1)
    count(made, [17])
    text = page(made)
    assert (
        "One plot alone cannot say how sure a figure is; count at least one more. 17 living of 20 counted"
        in text
    )
    assert "no outcome yet" in text
    assert "85 %" not in text


def test_one_lonely_block(page, make_hillside):
    made = make_hillside(2, 6)
    count(made, [18, 17, 19, 16, 20, 18])
    count(made, [11], 6)
    text = page(made)
    assert "One plot alone cannot say" in row_of(text, "Block 02")
    assert re.search(
        r"All blocks .*A block with a single plot widens the interval on purpose\. 7 plots, 140 trees", text
    )


def test_every_block_with_a_single_plot(page, make_hillside):
    made = make_hillside(2, 1)
    made.send([18, 11])
    assert (
        "Every block has a single plot, which cannot say how sure a figure is; count at least one more."
        in page(made)
    )


def test_empty_plots_beside_others(page, make_hillside):
    made = make_hillside(1, 6)
    without_baselines(made, (4, 5))
    count(made, [18, 17, 19, 16])
    bare(made, (4, 5))
    assert "6 plots, 80 trees" in page(made)


def test_a_block_whose_plots_are_all_empty(page, make_hillside):
    made = make_hillside(2, 5)
    without_baselines(made, range(5, 10))
    count(made, [18, 17, 19, 16, 18])
    bare(made, range(5, 10))
    text = page(made)
    assert "No figure yet. The counted plots hold no planted trees." in row_of(text, "Block 02")
    assert "A block without a planted tree to judge in its plots is left out of this figure." in text


def test_a_species_absent_from_a_block(page, make_hillside):
    made = make_hillside(2, 6)
    count(made, [18, 17, 19, 16, 20, 18])
    rowan = factories.species("sorbus-aucuparia")
    cohort = made.baselines[6].cohort
    for plot, oaks in zip(made.plots[6:], made.baselines[6:], strict=True):
        young = factories.baseline(plot, rowan, 5, cohort=cohort)
        lines = [line(oaks, 15, dead_stem=5), line(young, 2, dead_stem=3)]
        log.append_items(made.actor, [item(visit_body(plot, made.survey_round, lines))])
    assert re.search(
        r"Sorbus aucuparia Where from\? 40 %, \d+ to \d+ % 6 plots, 30 trees falls short", page(made)
    )
    found = Estimate.objects.filter(scope="block_species", measure="survival", is_headline=True)
    assert {row.key.partition(":")[2] for row in found if str(made.blocks[0].uid) in row.key} == {
        "quercus-robur"
    }


def test_no_tree_found(page, make_hillside):
    made = make_hillside(1, 6)
    made.send([0] * 6)
    text = page(made)
    assert re.search(r"0 %, 0 to \d+ % ; 100 % if all not found live", text)
    assert "120 trees not found" in text
    assert "go back and look for 120 trees" in text


def test_a_block_of_one_tree(page, make_hillside):
    made = make_hillside(1, 1, planted=1)
    made.send([1])
    assert (
        "One plot alone cannot say how sure a figure is; count at least one more. 1 living of 1 counted"
        in page(made)
    )


def test_a_census(page, make_hillside):
    made = make_hillside(1, 1, planted=300)
    SurvivalPlot.objects.update(shape="whole_block", radius_m=None, area_m2=None)
    RoundBlock.objects.update(is_census=True)
    count(made, [260])
    text = page(made)
    assert "87 %, everything counted" in text
    assert "1 plot, 300 trees" in text
    assert re.search(r"Block 01 .* meets target", text)


def test_a_census_with_a_missing_plot_is_none(page, make_hillside):
    made = make_hillside(1, 3, planted=100)
    RoundBlock.objects.update(is_census=True)
    count(made, [90, 85])
    made.skip(2, status="missing", reason="not_reached")
    text = page(made)
    assert "everything counted" not in text
    assert re.search(r"88 %, \d+ to \d+ %", text)
    assert "not counted: 1 not reached" in text


def test_a_rebuilt_baseline(page, make_hillside):
    made = make_hillside(1, 6)
    PlotBaseline.objects.update(source=BaselineSource.VISIBLE_SPOTS)
    count(made, [18, 17, 19, 16, 20, 18])
    text = page(made)
    assert "Share of visible spots alive" in text
    assert "Never read as survival" in text
    assert "meets target" not in text and "falls short" not in text
    assert not Estimate.objects.exclude(outcome="").exists()


def test_rebuilt_baselines_beside_counted_ones(page, make_hillside):
    made = make_hillside(1, 6)
    PlotBaseline.objects.filter(plot=made.plots[5]).update(source=BaselineSource.VISIBLE_SPOTS)
    count(made, [18, 17, 19, 16, 20, 18])
    text = page(made)
    assert (
        "Plots in which nobody counted the trees planted are left out of this figure. 5 plots, 100 trees"
        in text
    )


def test_no_baseline_at_all(page, make_hillside, oak):
    made = make_hillside(1, 3)
    without_baselines(made, range(3))
    lines = [{"baselines": [], "species": oak.slug, "alive": 12}]
    for plot in made.plots:
        log.append_items(made.actor, [item(visit_body(plot, made.survey_round, lines))])
    text = page(made)
    assert "Nobody counted how many trees were planted in these plots, so there is no survival" in text
    assert "How well the ground is stocked" in text
    assert not Estimate.objects.filter(measure="survival", value__isnull=False).exists()


def test_a_baseline_counted_later_is_a_baseline(page, make_hillside):
    made = make_hillside(1, 6)
    PlotBaseline.objects.update(source=BaselineSource.LATER, counted_on=date(2024, 9, 1))
    count(made, [18, 17, 19, 16, 20, 18])
    assert "6 plots, 120 trees" in page(made)


def test_one_block_without_its_weight(page, make_hillside):
    made = make_hillside(2, 6)
    PlantingDay.objects.filter(block=made.blocks[1]).delete()
    count(made, [18, 17, 19, 16, 20, 18] * 2)
    text = page(made)
    assert re.search(
        r"All blocks .*No figure yet. A block lacks its number of trees planted, so blocks cannot be pooled",
        text,
    )
    assert re.search(r"\d+ %, \d+ to \d+ % 6 plots, 120 trees", row_of(text, "Block 02"))


def test_seed_spots_alone(page, make_hillside):
    made = make_hillside(1, 6)
    PlotBaseline.objects.update(unit="seed_spot")
    for plot, spots in zip(made.plots, made.baselines, strict=True):
        lines = [line(spots, 9, unit="seed_spot", seedlings=14, empty_spot=11)]
        log.append_items(made.actor, [item(visit_body(plot, made.survey_round, lines))])
    text = page(made)
    assert re.search(r"Spot occupancy .*45 %, \d+ to \d+ % 6 plots, 120 seed spots", text)
    assert "meets target" not in text and "falls short" not in text and "not settled" not in text


def test_trees_removed_on_purpose(page, make_hillside):
    made = make_hillside(1, 6)
    for plot, baseline in zip(made.plots, made.baselines, strict=True):
        removals = [
            {
                "baseline": str(baseline.line),
                "removed_on": "2025-09-14",
                "alive_removed": 5,
                "reason": "thinning",
            }
        ]
        body = visit_body(plot, made.survey_round, [line(baseline, 13, dead_stem=2)], removals=removals)
        log.append_items(made.actor, [item(body)])
    text = page(made)
    assert re.search(
        r"87 %, \d+ to \d+ % 90 % \( ?\d+ to \d+ % ?\) with the trees removed on purpose counted as alive",
        text,
    )
    assert "6 plots, 90 trees" in text


def test_every_tree_removed_on_purpose(page, make_hillside):
    made = make_hillside(1, 2)
    for plot, baseline in zip(made.plots, made.baselines, strict=True):
        removals = [
            {
                "baseline": str(baseline.line),
                "removed_on": "2025-09-14",
                "alive_removed": 20,
                "reason": "thinning",
            }
        ]
        log.append_items(
            made.actor, [item(visit_body(plot, made.survey_round, [line(baseline, 0)], removals=removals))]
        )
    assert "No planted tree was looked at, or all were removed on purpose." in page(made)


def test_destroyed_plots_count_as_lost(page, make_hillside):
    made = make_hillside(1, 6)
    count(made, [20] * 5)
    made.skip(5, status="destroyed", reason="burnt")
    text = page(made)
    assert re.search(r"83 %, \d+ to \d+ %", text)
    assert "1 of them destroyed and so without a living tree" in text


def test_missing_plots_are_said_and_never_counted(page, make_hillside):
    made = make_hillside(1, 6)
    count(made, [18] * 5)
    made.skip(5, status="missing", reason="unsafe")
    text = page(made)
    assert re.search(r"90 %, \d+ to \d+ % 5 plots, 100 trees", text)
    assert "not counted: 1 unsafe, not visited" in text


def test_nobody_reached_a_block(page, make_hillside):
    made = make_hillside(2, 2)
    count(made, [18, 17])
    assert "No plot has been counted yet." in row_of(page(made), "Block 02")


def test_plots_of_a_second_stage_count_with_the_first(page, make_hillside):
    made = make_hillside(1, 12)
    SurvivalPlot.objects.filter(pk__in=[plot.pk for plot in made.plots[6:]]).update(stage=2)
    count(made, [18, 15, 20, 16, 17, 19] * 2)
    assert re.search(r"88 %, \d+ to \d+ % 12 plots, 240 trees", page(made))


def test_rows_of_spots(page, make_hillside):
    made = make_hillside(1, 6, planted=15)
    SurvivalPlot.objects.update(shape="row", radius_m=None, spots=15, area_m2=75.0)
    count(made, [13, 14, 15, 12, 15, 14])
    text = page(made)
    assert re.search(r"92 %, \d+ to \d+ % 6 plots, 90 trees", text)
    assert "How well the ground is stocked" in text


def test_plots_whose_area_nobody_knows_are_said_to_be_left_out_of_stocking(page, make_hillside):
    made = make_hillside(1, 6)
    SurvivalPlot.objects.filter(pk__in=[plot.pk for plot in made.plots[4:]]).update(
        shape="row", radius_m=None, spots=20, area_m2=None
    )
    count(made, [18, 15, 20, 16, 17, 19])
    text = page(made)
    assert "Plots whose area is not on record are left out of the trees per area." in text
    assert Estimate.objects.get(scope="block", measure="stocking").n_plots == 4


def test_holdings_of_unequal_weight(page, make_hillside):
    made = make_hillside(1, 5)
    for weight, plot in zip((1.0, 2.0, 5.0, 0.5, 3.5), made.plots, strict=True):
        SurvivalPlot.objects.filter(pk=plot.pk).update(
            shape="holding", radius_m=None, area_m2=None, selection_method="list", plot_weight=weight
        )
    count(made, [18, 17, 10, 15, 19])
    text = page(made)
    assert "Plots carry different weights, so the interval is the weighted one. 5 plots, 100 trees" in text
    share = (18 + 2 * 17 + 5 * 10 + 0.5 * 15 + 3.5 * 19) / (12 * 20)
    assert Estimate.objects.get(scope="block", measure="survival", is_headline=True).value == pytest.approx(
        share
    )
    assert f"{share:.0%}".replace("%", " %") in text


def test_single_trees(page, make_hillside):
    made = make_hillside(1, 15, planted=1)
    SurvivalPlot.objects.update(shape="single_tree", radius_m=None, area_m2=None)
    count(made, [1] * 12)
    count(made, [0] * 3, 12)
    assert "80 %, 55 to 94 % 15 plots, 15 trees" in page(made)  # limits of Beta(0.7 + 12, 0.7 + 3)
