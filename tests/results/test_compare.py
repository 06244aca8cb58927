"""Which species and lots did well: words first, and no ranking of what cannot be separated."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from monitoring.selectors.compare import comparisons
from monitoring.services.rebuild import rebuild
from projects.models import PlantingDay, Season
from projects.services import log
from tests import factories
from tests.field_log.visits import item, line, visit_body
from tests.results.conftest import address, words

pytestmark = pytest.mark.django_db


def plant_beside(made, planted_on):
    """Pines in every plot of the oaks."""
    pine = factories.species("pinus-pinaster")
    lot = factories.lot(made.actor.organisation, pine, code="PINE-1", stock_type="container")
    season = Season.objects.get(kind="planting")
    other = factories.cohort(made.blocks[0], lot, season, planted=400, planted_on=planted_on)
    for plot in made.plots:
        factories.baseline(plot, pine, 15, cohort=other)


@pytest.fixture
def beside(make_hillside):
    """One block where pine stands beside oak in every plot, and does much worse."""
    made = make_hillside(1, 8, planted=15)
    plant_beside(made, date(2024, 2, 10))
    for number, (plot, oaks) in enumerate(zip(made.plots, made.baselines, strict=True)):
        pines = plot.baselines.get(species__slug="pinus-pinaster")
        alive = 6 + number % 3
        lines = [line(oaks, 14 - number % 2, dead_stem=1), line(pines, alive, dead_stem=15 - alive)]
        log.append_items(made.actor, [item(visit_body(plot, made.survey_round, lines))])
    made.work()
    return made


def test_the_better_species_is_said_in_words_before_the_table(signed_in, ana, beside):
    text = words(signed_in(ana).get(address("compare", uid=beside.survey_round.uid)))
    assert "Quercus robur did better than its peers in the same blocks: +" in text
    assert "Pinus pinaster did worse than its peers in the same blocks: −" in text
    assert text.index("did better") < text.index("drawn towards its peers")
    assert "1 of 2; the best with a chance of more than 99 %" in text
    assert "chance does as much less than once in 1 000" in text
    assert "A second reckoning, by odds" in text
    assert "Not only the plants differed" not in text


def test_alike_species_are_said_to_be_inseparable_first(signed_in, ana, make_hillside):
    made = make_hillside(1, 8, planted=15)
    plant_beside(made, date(2024, 2, 10))
    for number, (plot, oaks) in enumerate(zip(made.plots, made.baselines, strict=True)):
        pines = plot.baselines.get(species__slug="pinus-pinaster")
        counts = (12 + number % 3, 12 + (number + 1) % 3)
        lines = [line(b, n, dead_stem=15 - n) for b, n in zip((oaks, pines), counts, strict=True)]
        log.append_items(made.actor, [item(visit_body(plot, made.survey_round, lines))])
    made.work()
    text = words(signed_in(ana).get(address("compare", uid=made.survey_round.uid)))
    assert "Cannot separate. These counts cannot tell them apart" in text
    assert "1 to 2 of 2" in text
    assert "did better" not in text


@pytest.mark.parametrize(("days", "told"), [(29, False), (45, True)])
def test_planting_dates_far_apart_are_named_beside_the_difference(signed_in, ana, make_hillside, days, told):
    made = make_hillside(1, 6, planted=15)
    plant_beside(made, date(2024, 2, 10) + timedelta(days=days))
    for plot, oaks in zip(made.plots, made.baselines, strict=True):
        pines = plot.baselines.get(species__slug="pinus-pinaster")
        lines = [line(oaks, 13, dead_stem=2), line(pines, 7, dead_stem=8)]
        log.append_items(made.actor, [item(visit_body(plot, made.survey_round, lines))])
    made.work()
    text = words(signed_in(ana).get(address("compare", uid=made.survey_round.uid)))
    assert ("Pinus pinaster was planted 45 days later than its peers on average" in text) == told
    assert ("Not only the plants differed" in text) == told


def test_crews_that_planted_one_side_only_are_named(signed_in, ana, beside):
    for number, day in enumerate(PlantingDay.objects.order_by("id")):
        PlantingDay.objects.filter(pk=day.pk).update(crew=f"crew {number}")
    text = words(signed_in(ana).get(address("compare", uid=recomputed(beside).uid)))
    assert "Quercus robur was planted by other crews than its peers" in text
    PlantingDay.objects.update(crew="one crew")
    text = words(signed_in(ana).get(address("compare", uid=recomputed(beside).uid)))
    assert "other crews" not in text


def recomputed(made):
    rebuild(made.actor.organisation)
    return made.survey_round


def test_lots_in_blocks_of_their_own_cannot_be_separated_and_have_no_rank(signed_in, ana, hillside):
    text = words(signed_in(ana).get(address("compare", uid=hillside.survey_round.uid)))
    assert "Cannot separate" in text
    assert "plant them side by side in one block to find out" in text
    assert "only in Block 01" in text
    assert "in Block 01 or in Block 02, at least 5 plots holding each" in text
    for scope in comparisons(hillside.survey_round):
        if scope.scope == "lot":
            assert not scope.groups
            assert len(scope.apart) == 2


def test_too_few_plots_show_counts_only(signed_in, ana, make_hillside):
    made = make_hillside(1, 3)
    made.send([15] * 3, dead_stem=5)
    made.work()
    text = words(signed_in(ana).get(address("compare", uid=made.survey_round.uid)))
    assert "Held by fewer than 5 plots" in text
    assert "45 living of 60 counted" in text


def test_nothing_compared_yet_teaches_the_next_step(signed_in, ana, make_hillside):
    text = words(signed_in(ana).get(address("compare", uid=make_hillside(1, 2).survey_round.uid)))
    assert "Nothing to compare yet" in text


def test_funders_and_volunteers_do_not_read_comparisons(signed_in, fred, vera, hillside):
    for member in (fred, vera):
        assert signed_in(member).get(address("compare", uid=hillside.survey_round.uid)).status_code == 403


def test_another_organisation_meets_404(signed_in, olaf, hillside):
    where = address("compare", uid=hillside.survey_round.uid)
    for path in (where, where.replace("/hill/", "/other/")):
        assert signed_in(olaf).get(path).status_code == 404


def test_comparisons_ask_as_often_for_twenty_lots_as_for_two(make_hillside):
    asked = []
    for number in (2, 20):
        made = make_hillside(number, 2, name=f"Group {number}")
        made.send([10, 8] * number, dead_stem=10)
        made.work()
        with CaptureQueriesContext(connection) as seen:
            assert comparisons(made.survey_round)
        asked.append(len(seen))
    assert asked[0] == asked[1]
