"""Everything derived can be dropped and made again, to the byte."""

import os
import random
import time
from uuid import UUID

import pytest
from django.core.management import CommandError, call_command
from django.utils import translation

from monitoring.models import Estimate, PlotBaseline, Visit
from monitoring.services import figures
from monitoring.services.rebuild import RebuildFailed, derived_digest, rebuild
from projects.services import log
from tests.field_log.visits import correction, item, line, visit_body
from tests.jobs.conftest import ALIVE

pytestmark = pytest.mark.django_db


def records(slopes) -> list[log.Item]:
    """Counts, a correction, a second opinion, a line above its baseline and a plot not reached."""
    found = slopes.items(ALIVE)
    body = visit_body(slopes.plots[0], slopes.survey_round, [line(slopes.baselines[0], 19)])
    again, name = correction(body, UUID(int=5), lines=[line(slopes.baselines[0], 26)])
    second = visit_body(
        slopes.plots[3], slopes.survey_round, [line(slopes.baselines[3], 2)], observed_on="2025-09-13"
    )
    unsafe = visit_body(slopes.plots[5], slopes.survey_round, [], status="missing", reason="unsafe")
    return [*found, item(body), item(again, id=name), item(second), item(unsafe)]


def test_a_rebuild_gives_the_same_digest_as_the_figures_it_replaced(slopes, work, hill):
    log.append_items(slopes.actor, records(slopes))
    work()
    before = derived_digest(hill)
    assert [rebuild(hill).digest, rebuild(hill).digest] == [before, before]
    assert Estimate.objects.exists()
    assert Visit.objects.count() == 16


def test_the_order_of_arrival_the_language_and_the_time_zone_do_not_matter(slopes, work, hill, monkeypatch):
    items = records(slopes)
    log.append_items(slopes.actor, items)
    work()
    expected = derived_digest(hill, log_numbers=False)
    arrive_again(slopes, items)
    monkeypatch.setenv("TZ", "Pacific/Auckland")
    time.tzset()
    try:
        with translation.override("pt"):
            rebuild(hill)
    finally:
        monkeypatch.undo()
        time.tzset()
    assert derived_digest(hill, log_numbers=False) == expected
    assert os.environ.get("TZ") != "Pacific/Auckland"


def arrive_again(slopes, items: list[log.Item]) -> None:
    """Empty the log, as no application can, and let the same records arrive in another order."""
    from django.db import connection

    from monitoring.services.projection import drop
    from projects import append_only
    from projects.models import ChainHead, Submission, SubmissionPersonal

    drop(slopes.actor.organisation)
    with connection.cursor() as cursor:
        for statement in append_only.dropping(connection.vendor):
            cursor.execute(statement)
    SubmissionPersonal.objects.all().delete()
    Submission.objects.all().delete()
    ChainHead.objects.all().delete()
    with connection.cursor() as cursor:
        for statement in append_only.creating(connection.vendor):
            cursor.execute(statement)
    shuffled = list(items)
    random.Random(4).shuffle(shuffled)
    assert shuffled != items
    log.append_items(slopes.actor, shuffled)


def test_a_changed_figure_changes_the_digest_and_a_rebuild_brings_it_back(slopes, work, hill):
    slopes.send(ALIVE)
    work()
    before = derived_digest(hill)
    Estimate.objects.filter(scope="block", is_headline=True).update(value=0.99)
    assert derived_digest(hill) != before
    assert rebuild(hill).digest == before


def test_a_rebuild_that_fails_leaves_everything_as_it_was(slopes, work, hill, monkeypatch):
    slopes.send(ALIVE)
    work()
    before = derived_digest(hill)
    monkeypatch.setattr(figures, "of_round", lambda *_: 1 / 0)
    with pytest.raises(RebuildFailed, match="ZeroDivisionError"):
        rebuild(hill)
    assert derived_digest(hill) == before


def test_the_command_prints_the_digest_and_knows_its_organisations(slopes, work, hill, capsys):
    slopes.send(ALIVE)
    work()
    call_command("rebuild", organisation="hill")
    assert capsys.readouterr().out.startswith(f"hill {derived_digest(hill)}\n12 visits")
    with pytest.raises(CommandError, match="no organisation"):
        call_command("rebuild", organisation="nobody")


def test_baselines_set_at_a_desk_survive_a_rebuild(slopes, work, hill):
    slopes.send(ALIVE)
    work()
    rebuild(hill)
    assert PlotBaseline.objects.count() == 12
