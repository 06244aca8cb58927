"""What was sown is told in its own words: spot occupancy, seedlings found, seedlings per 100 seeds; never survival."""

import pytest
from django.urls import reverse

from monitoring import seed_words
from monitoring.models import CountLine, RoundPlot
from monitoring.selectors import seeds
from monitoring.services import drain
from projects.services import log
from tests import factories
from tests.field_log.visits import item, line, visit_body


def said(**fields):
    return seed_words.line_words(CountLine(**{"unit": "seed_spot", "planted": 40, "alive": 22, **fields}))


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        (
            {"seedlings": 31},
            "Spot occupancy: 22 of 40 seed spots hold a living seedling (55\u00a0%). 31 seedlings found.",
        ),
        (
            {"seedlings": 1, "alive": 1},
            "Spot occupancy: 1 of 40 seed spots hold a living seedling (3\u00a0%). 1 seedling found.",
        ),
        (
            {"seedlings": None, "not_assessed": 18},
            "Spot occupancy: 22 of 22 seed spots hold a living seedling (100\u00a0%). Seedlings were not counted.",
        ),
        ({"planted": None, "seedlings": 5}, "22 seed spots hold a living seedling. 5 seedlings found."),
        ({"planted": 20, "seedlings": 30}, "22 seed spots hold a living seedling. 30 seedlings found."),
        (
            {"unit": "seed_area", "planted": 2000, "alive": 40, "seedlings": 43},
            "43 seedlings found of 2\u202f000 seeds sown: 2.2 per 100.",
        ),
        (
            {"unit": "seed_area", "planted": 2000, "alive": 40},
            "40 seedlings found of 2\u202f000 seeds sown: 2.0 per 100.",
        ),
        ({"unit": "seed_area", "planted": None, "alive": 40}, "40 seedlings found."),
        ({"unit": "tree"}, ""),
    ],
)  # fmt: skip
def test_a_line_says_what_came_up_of_what_was_sown(fields, words):
    assert said(**fields) == words


@pytest.fixture
def sown(hill, actor, block, project, oak, lot):
    """Three plots of seed spots with their counts; in the last nobody counted seedlings."""
    season = factories.season(hill, "planting", year=2024)
    lot.unit, lot.stock_type = "seed_spot", "direct_seed"
    lot.save()
    cohort = factories.cohort(block, lot, season)
    plots = [factories.plot(block, f"S{number}") for number in range(3)]
    rows = [factories.baseline(plot, oak, 40, cohort=cohort, unit="seed_spot") for plot in plots]
    survey_round = factories.survey_round(project, plots)
    for plot, row, seedlings in zip(plots, rows, (31, 28, None), strict=True):
        count = line(row, 20, unit="seed_spot", empty_spot=20)
        if seedlings is not None:
            count["seedlings"] = seedlings
        log.append_items(actor, [item(visit_body(plot, survey_round, [count]))])
    drain.work_through()
    return survey_round


def test_the_plot_page_has_a_column_of_seedlings_and_the_occupancy_in_words(signed_in, ben, sown):
    plot = RoundPlot.objects.get(round=sown, plot__name="S0").plot
    page = (
        signed_in(ben)
        .get(reverse("monitoring:plot_detail", kwargs={"org": "hill", "uid": plot.uid}))
        .content.decode()
    )
    assert '<td class="number" data-label="Seedlings">31</td>' in page
    assert (
        "Spot occupancy: 20 of 40 seed spots hold a living seedling (50\u00a0%). 31 seedlings found." in page
    )


def test_a_plot_of_planted_trees_has_no_column_of_seedlings(
    signed_in, ben, actor, plots, baselines, survey_round
):
    log.append_items(actor, [item(visit_body(plots[0], survey_round, [line(baselines[0], 18)]))])
    address = reverse("monitoring:plot_detail", kwargs={"org": "hill", "uid": plots[0].uid})
    assert "Seedlings" not in signed_in(ben).get(address).content.decode()


def test_the_round_says_spot_occupancy_and_the_seedlings_found(signed_in, ben, sown):
    assert seeds.of_round(sown)["seed_spot"] == seeds.Sown(120, 60, 59, 40)
    address = reverse("monitoring:round_detail", kwargs={"org": "hill", "uid": sown.uid})
    page = signed_in(ben).get(address).content.decode()
    assert "Spot occupancy: 60 of 120 seed spots hold a living seedling (50\u00a0%)." in page
    assert "Where seedlings were counted, 40 occupied spots held 59 of them." in page


def test_a_round_without_seed_says_nothing_of_it(signed_in, ben, actor, plots, baselines, survey_round):
    log.append_items(actor, [item(visit_body(plots[0], survey_round, [line(baselines[0], 18)]))])
    assert seed_words.round_words(seeds.of_round(survey_round)) == {}
