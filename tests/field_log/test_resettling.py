"""What a visit is held against may change after it arrived; its flags then say what is true now."""

from datetime import date

import pytest

from monitoring.models import Case, DirtyKey, Visit
from monitoring.services import projection, rebuild, rounds
from projects.services import log, planting
from tests import factories
from tests.field_log.visits import item, line, visit_body

pytestmark = pytest.mark.django_db


@pytest.fixture
def flags():
    return lambda: Visit.objects.get(is_counting=True).flags


def dates(survey_round, **changes):
    kept = {name: getattr(survey_round, name) for name in ("name", "season", "opens_on", "closes_on")}
    return kept | changes


def same_after_a_rebuild(hill):
    before = rebuild.derived_digest(hill)
    projection.rebuild(hill)
    return rebuild.derived_digest(hill) == before


def test_moving_the_closing_day_makes_visits_late_or_in_time(
    hill, actor, plots, baselines, survey_round, flags
):
    body = visit_body(plots[0], survey_round, [line(baselines[0], 14)], observed_on="2025-11-15")
    log.append_items(actor, [item(body)])
    assert flags() == ["late"]
    rounds.edit_round(
        actor=actor, survey_round=survey_round, **dates(survey_round, closes_on=date(2025, 11, 30))
    )
    assert (flags(), Case.objects.count()) == ([], 0)
    DirtyKey.objects.all().delete()
    rounds.edit_round(
        actor=actor, survey_round=survey_round, **dates(survey_round, closes_on=date(2025, 11, 1))
    )
    assert (flags(), Case.objects.get().kind) == (["late"], "late")
    assert DirtyKey.objects.filter(kind="round", key=str(survey_round.pk)).exists()
    assert same_after_a_rebuild(hill)


def test_a_block_that_joins_a_round_brings_its_visits_in(hill, actor, project, site, survey_round, flags):
    block = factories.block(hill, project, site)
    plot = factories.plot(block)
    log.append_items(actor, [item(visit_body(plot, survey_round))])
    assert flags() == ["not_on_this_round"]
    rounds.edit_round(actor=actor, survey_round=survey_round, blocks=[block], **dates(survey_round))
    assert (flags(), Case.objects.count()) == ([], 0)
    assert same_after_a_rebuild(hill)


def test_a_planting_day_recorded_later_shows_a_visit_before_it(
    hill, actor, block, lot, plots, oak, survey_round, flags
):
    season = factories.season(hill, "planting", year=2025)
    cohort = factories.cohort(block, lot, season, planted_on=date(2025, 9, 1))
    row = factories.baseline(plots[0], oak, 20, cohort=cohort)
    log.append_items(actor, [item(visit_body(plots[0], survey_round, [line(row, 14)]))])
    assert flags() == []
    (day,) = cohort.planting_days.all()
    planting.void_planting_day(actor=actor, day=day, reason="wrong month")
    planting.plant(
        actor=actor, block=block, planted_on=date(2025, 10, 1), quantity=500, lot=lot, season=season
    )
    assert flags() == ["before_planting"]
    assert same_after_a_rebuild(hill)
