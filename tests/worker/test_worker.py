"""Counts become figures through a broker and a worker process, and a lost message only costs time."""

from datetime import timedelta

import pytest
from django.utils import timezone

from monitoring import tasks
from monitoring.models import DirtyKey, Estimate
from monitoring.services import dirty, drain, hints, recompute
from tests.jobs.figures import headline

pytestmark = [pytest.mark.worker, pytest.mark.django_db(transaction=True)]


def rows():
    return sorted(
        Estimate.objects.values_list("uid", "scope", "measure", "method", "value", "lower", "upper")
    )


def test_counts_are_computed_by_the_worker(worker, count, settled):
    worker.start()
    count(18, 16, 11)
    settled()
    figure = headline("project")
    assert figure.value == pytest.approx(45 / 60)
    assert figure.lower < figure.value < figure.upper
    assert "monitoring.tasks.recompute_key" in worker.log.read_text()


def test_the_worker_writes_the_rows_that_this_process_would_write(worker, count, settled, survey_round):
    count(18, 16, 11)
    drain.work_through()
    here = rows()
    assert here
    Estimate.objects.all().delete()
    worker.start()
    all_again(survey_round)
    settled()
    assert rows() == here


def all_again(survey_round):
    """Say that everything computed of the round is stale."""
    dirty.mark_round(survey_round)
    dirty.mark_project(survey_round.project)


def test_a_hint_that_was_lost_is_given_again_by_the_sweep(worker, count, settled, monkeypatch):
    monkeypatch.setattr(hints.publisher, "put", lambda todo: None)
    count(18, 16, 11)
    monkeypatch.undo()
    worker.start()
    assert DirtyKey.objects.exists()
    DirtyKey.objects.update(since=timezone.now() - timedelta(minutes=1))
    tasks.sweep.delay()
    settled()
    assert headline("project").value == pytest.approx(45 / 60)


def test_hints_given_twice_change_nothing(worker, count, settled, survey_round):
    worker.start()
    count(18, 16, 11)
    settled()
    before = rows()
    for _ in range(3):
        tasks.recompute_key.delay(survey_round.organisation_id, dirty.ROUND, str(survey_round.pk))
    all_again(survey_round)
    settled()
    assert rows() == before


def test_counts_sent_while_no_worker_runs_wait_for_one(worker, count, settled):
    count(20, 20, 20)
    assert DirtyKey.objects.exists()
    assert not Estimate.objects.exists()
    worker.start()
    settled()
    assert headline("project").value == pytest.approx(1.0)
    assert not DirtyKey.objects.filter(attempts__gte=recompute.MOST_ATTEMPTS).exists()
