"""The work list: nothing is lost, nothing is cleared too early, one bad key holds up nobody."""

from datetime import timedelta

import pytest
from django.utils import timezone

from monitoring.models import DirtyKey, Estimate
from monitoring.services import dirty, drain, figures, hints, recompute
from projects.services import log
from tests import factories
from tests.field_log.visits import item, line, visit_body
from tests.jobs.conftest import ALIVE
from tests.jobs.figures import headline

pytestmark = pytest.mark.django_db


def test_marking_again_raises_the_version_and_forgets_failures(hill):
    key = dirty.Key(dirty.ROUND, "7")
    dirty.mark(hill, [key])
    before = DirtyKey.objects.get()
    DirtyKey.objects.update(attempts=5, error="no")
    dirty.mark(hill, [key, key])
    after = DirtyKey.objects.get()
    assert (after.version, after.attempts, after.error) == (before.version + 1, 0, "")
    assert after.since == before.since


def test_a_row_deleted_and_made_again_is_never_taken_for_the_first(hill):
    versions = set()
    for _ in range(5):
        dirty.mark(hill, [dirty.Key(dirty.ROUND, "7")])
        versions.add(DirtyKey.objects.get().version)
        DirtyKey.objects.all().delete()
    assert len(versions) == 5


def test_a_count_that_arrives_while_figures_are_computed_is_not_lost(slopes, work, monkeypatch):
    slopes.send(ALIVE)
    work()
    items = slopes.items([n - 1 for n in ALIVE])
    computed = figures.of_round_block
    interrupted = []

    def with_a_late_count(organisation_id, key):
        parts = computed(organisation_id, key)
        if not interrupted:
            interrupted.append(key)
            body = visit_body(slopes.plots[1], slopes.survey_round, [line(slopes.baselines[1], 3)])
            log.append_items(slopes.actor, [item(body)])
        return parts

    log.append_items(slopes.actor, items[:1])
    monkeypatch.setattr(figures, "of_round_block", with_a_late_count)
    key = DirtyKey.objects.get(kind="round_block")
    assert recompute.recompute(organisation_id=key.organisation_id, kind=key.kind, key=key.key)
    assert DirtyKey.objects.filter(kind="round_block", attempts=0).exists()
    work()
    assert not DirtyKey.objects.exists()
    row = headline("block", block=slopes.north)
    assert row.n_flagged == 2  # two people counted two of its plots


def test_a_worker_that_comes_back_from_the_dead_writes_nothing(slopes, work):
    slopes.send(ALIVE)
    key = DirtyKey.objects.get(kind="round")
    version = recompute.begin(key.organisation_id, key.kind, key.key)
    old = figures.of_round(key.organisation_id, key.key)
    work()
    slopes.send([n - 2 for n in ALIVE])
    work()
    newest = headline("project").value
    assert recompute.finish(key.organisation_id, key.kind, key.key, version, old) is False
    dirty.mark(key.organisation_id, [dirty.Key(key.kind, key.key)])
    assert recompute.finish(key.organisation_id, key.kind, key.key, version, old) is False
    assert headline("project").value == newest


def test_computing_twice_touches_no_row(slopes, work):
    slopes.send(ALIVE)
    work()
    round_id, organisation_id = slopes.survey_round.pk, slopes.survey_round.organisation_id
    parts = [
        *figures.of_round_block(organisation_id, f"{round_id}:{slopes.north.pk}"),
        *figures.of_round(organisation_id, str(round_id)),
    ]
    assert len(parts) > 4
    assert {part.write() for part in parts} == {0}


def test_rows_that_are_no_longer_produced_go_away(slopes, work, project):
    slopes.send(ALIVE)
    work()
    assert Estimate.objects.filter(scope="species").exists()
    factories.m.RoundPlot.objects.all().delete()
    dirty.mark_round(slopes.survey_round)
    work()
    assert not Estimate.objects.filter(scope="species").exists()


def test_a_key_that_always_fails_is_parked_with_its_error_and_the_others_go_on(slopes, work, monkeypatch):
    slopes.send(ALIVE)
    poisoned = f"{slopes.survey_round.pk}:{slopes.north.pk}"
    computed = figures.of_round_block

    def poison(organisation_id, key):
        if key == poisoned:
            raise ZeroDivisionError("a plot of no size")
        return computed(organisation_id, key)

    monkeypatch.setattr(figures, "of_round_block", poison)
    for _ in range(recompute.MOST_ATTEMPTS + 2):
        work()
    row = DirtyKey.objects.get()
    assert (row.key, row.attempts) == (poisoned, recompute.MOST_ATTEMPTS)
    assert "a plot of no size" in row.error
    assert headline("block", block=slopes.east).status == "ok"
    monkeypatch.setattr(figures, "of_round_block", computed)
    assert work() == 0
    assert drain.work_through(parked=True) > 0
    assert headline("block", block=slopes.north).status == "ok"


def test_a_key_that_kills_its_worker_is_parked_too(hill):
    dirty.mark(hill, [dirty.Key(dirty.ROUND, "7")])
    for _ in range(recompute.MOST_ATTEMPTS):
        assert recompute.begin(hill.pk, dirty.ROUND, "7") is not None  # the worker dies here
    assert recompute.begin(hill.pk, dirty.ROUND, "7") is None


def test_organisations_take_turns_and_small_keys_come_first(hill, other):
    dirty.mark(hill, [dirty.Key(dirty.ROUND_BLOCK, f"1:{n}") for n in range(40)])
    dirty.mark(hill, [dirty.Key(dirty.ROUND, "1")])
    dirty.mark(other, [dirty.Key(dirty.ROUND, "2"), dirty.Key(dirty.ROUND_BLOCK, "2:1")])
    first = [(row.organisation_id, row.kind) for row in drain.waiting()[:4]]
    assert first == [
        (hill.pk, "round_block"), (other.pk, "round_block"), (hill.pk, "round_block"), (other.pk, "round"),
    ]  # fmt: skip


def test_the_sweeper_hints_only_at_what_has_waited(hill, monkeypatch):
    sent = []
    monkeypatch.setattr(hints.publisher, "put", sent.extend)
    dirty.mark(hill, [dirty.Key(dirty.ROUND, "1"), dirty.Key(dirty.ROUND, "2")])
    DirtyKey.objects.filter(key="1").update(since=timezone.now() - timedelta(seconds=30))
    drain.hint_again()
    assert sent == [(hill.pk, "round", "1")]


def test_a_batch_hints_once_per_key_and_not_before_its_commit(
    slopes, django_capture_on_commit_callbacks, monkeypatch, settings
):
    publisher = hints.Publisher()
    publisher.run = lambda: None  # nothing is sent, so that what waits can be counted
    monkeypatch.setattr(hints, "publisher", publisher)
    settings.BROKER = "redis://nowhere:1/0"
    with django_capture_on_commit_callbacks(execute=True):
        slopes.send(ALIVE)
        assert publisher.waiting == {}
    assert len(publisher.waiting) == 4  # two blocks, the round, the project


def test_hints_without_room_are_dropped(hill):
    publisher = hints.Publisher(most_waiting=2)
    publisher.run = lambda: None
    publisher.put((hill.pk, "round", str(n)) for n in range(5))
    assert list(publisher.waiting) == [(hill.pk, "round", "0"), (hill.pk, "round", "1")]
