"""The loop from a sent count to a figure on either database: in this process's own thread, or by workers.

The same promises are kept in every mode; what a mode adds is how it can be broken.
"""

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from uuid import uuid4

import pytest
from django.core.management import call_command
from django.db import connection
from django.db.models import F

from deploy.celery import app
from monitoring.models import DirtyKey
from monitoring.services import drain, hints
from monitoring.services.rebuild import derived_digest, rebuild
from projects.services import log
from tests.jobs.conftest import ALIVE
from tests.jobs.figures import headline

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 40.0

pytestmark = pytest.mark.django_db(transaction=True)


def eventually(told: Callable[[], bool], *, within: float = PATIENCE_S) -> None:
    """Wait until something is so."""
    ends = time.monotonic() + within
    while not told():
        assert time.monotonic() < ends, "it did not come about in time"
        time.sleep(0.05)


def nothing_waits() -> bool:
    return not DirtyKey.objects.exists()


def figures_agree_with_a_rebuild(organisation) -> bool:
    """Say whether what jobs made is to the byte what a rebuild makes."""
    made = derived_digest(organisation)
    return rebuild(organisation).digest == made


# --- embedded -------------------------------------------------------------------------------
@pytest.fixture
def thread(settings) -> Iterator[drain.Drain]:
    """Let this process recompute by its own thread, and end it afterwards."""
    settings.BROKER, settings.JOBS_EMBEDDED_THREAD = "", True
    yield drain.thread_of_this_process
    drain.thread_of_this_process.stop()


def test_a_count_reaches_the_figures_without_anybody_sweeping(thread, slopes, hill):
    slopes.send(ALIVE)
    eventually(nothing_waits)
    assert headline("project").n_plots == 12
    assert figures_agree_with_a_rebuild(hill)


def test_the_thread_works_beside_the_request_and_not_in_its_transaction(thread, slopes, monkeypatch):
    seen = []
    work_through = drain.work_through

    def watched() -> int:
        seen.append((threading.current_thread().name, connection.in_atomic_block))
        return work_through()

    monkeypatch.setattr(drain, "work_through", watched)
    slopes.send(ALIVE)
    eventually(nothing_waits)
    assert set(seen) == {("tallygrove-drain", False)}


def test_the_thread_lives_on_after_a_failure(thread, slopes, monkeypatch):
    work_through, failed = drain.work_through, []

    def fail_once(*args, **kwargs):
        if not failed:
            failed.append(True)
            raise OSError("the disk is full")
        return work_through(*args, **kwargs)

    monkeypatch.setattr(drain, "work_through", fail_once)
    slopes.send(ALIVE[:12])
    eventually(lambda: bool(failed))
    drain.wake()
    eventually(nothing_waits)
    assert headline("project").status == "ok"


def test_one_thread_serves_a_process(thread, slopes):
    for n in range(3):
        slopes.send([max(alive - n, 0) for alive in ALIVE])
    eventually(nothing_waits)
    assert [t.name for t in threading.enumerate()].count("tallygrove-drain") == 1


# --- workers --------------------------------------------------------------------------------
class Worker:
    """A real Celery worker on this test's database, with a queue of its own."""

    def __init__(self, queue: str, delay_s: float = 0.0) -> None:
        self.queue, self.delay_s = queue, delay_s
        self.process: subprocess.Popen | None = None

    def start(self) -> "Worker":
        told = connection.settings_dict
        host = f"{told['HOST'] or '127.0.0.1'}:{told['PORT'] or 5432}"
        secret = f":{told['PASSWORD']}" if told["PASSWORD"] else ""
        environment = os.environ | {
            "TALLYGROVE_DATABASE": f"postgresql://{told['USER']}{secret}@{host}/{told['NAME']}",
            "TALLYGROVE_QUEUE": self.queue,
            "TALLYGROVE_LOG_LEVEL": "ERROR",
            "TALLYGROVE_TEST_SLOW_WORK_S": str(self.delay_s),
        }
        command = [
            sys.executable, "-m", "celery", "-A", "tests.jobs.slow_worker", "worker", "-P", "solo", "-Q", self.queue,
            "-n", f"{self.queue}@%h", "--loglevel", "ERROR", "--without-gossip", "--without-mingle",
            "--without-heartbeat",
        ]  # fmt: skip
        self.process = subprocess.Popen(command, cwd=ROOT, env=environment, start_new_session=True)
        return self

    def kill(self) -> None:
        """Kill it the hard way, in the middle of whatever it does."""
        if self.process is not None and self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait(10)


@pytest.fixture
def queue(settings) -> Iterator[str]:
    """A queue of this test's own, emptied afterwards."""
    name = f"test-{uuid4().hex[:12]}"
    before = app.conf.task_default_queue
    app.conf.task_default_queue = name
    app.amqp.queues = None
    del app.amqp.queues
    yield name
    app.conf.task_default_queue = before
    with app.connection_for_write() as broker:
        broker.default_channel.client.delete(
            name, f"_kombu.binding.{name}", f"_kombu.binding_permanent.{name}"
        )


@pytest.fixture
def start(queue) -> Iterator[Callable[..., Worker]]:
    """Start workers; all of them are gone at the end."""
    started: list[Worker] = []

    def begin(**fields) -> Worker:
        started.append(Worker(queue, **fields).start())
        return started[-1]

    yield begin
    for worker in started:
        worker.kill()


@pytest.mark.worker
def test_a_worker_computes_what_was_sent(start, slopes, hill):
    start()
    slopes.send(ALIVE)
    eventually(nothing_waits)
    assert headline("project").n_plots == 12
    assert figures_agree_with_a_rebuild(hill)


@pytest.mark.worker
def test_a_worker_killed_in_the_middle_loses_nothing(start, slopes, hill):
    slow = start(delay_s=5.0)
    slopes.send(ALIVE)
    eventually(lambda: DirtyKey.objects.filter(attempts__gte=1).exists())
    slow.kill()
    assert DirtyKey.objects.exists()
    start()
    age_everything()
    drain.hint_again()
    eventually(nothing_waits)
    assert headline("project").n_plots == 12
    assert figures_agree_with_a_rebuild(hill)


@pytest.mark.worker
def test_doubled_and_shuffled_hints_change_nothing(start, slopes, hill):
    slopes.send(ALIVE)
    todo = [(row.organisation_id, row.kind, row.key) for row in DirtyKey.objects.order_by("-id")]
    for hint in [*todo, *reversed(todo), *todo]:
        hints.publish(hint)
    start()
    eventually(nothing_waits)
    assert figures_agree_with_a_rebuild(hill)


@pytest.mark.worker
def test_hints_lost_with_the_broker_are_healed_by_the_sweeper(start, slopes, hill, monkeypatch):
    lost = []

    def lose(hint) -> None:
        lost.append(hint)
        raise ConnectionError("the broker is gone")

    monkeypatch.setattr(hints, "publish", lose)
    slopes.send(ALIVE)
    eventually(lambda: bool(lost) and not hints.publisher.waiting)
    monkeypatch.undo()
    start()
    assert DirtyKey.objects.exists()
    age_everything()
    assert drain.hint_again() > 0
    eventually(nothing_waits)
    assert figures_agree_with_a_rebuild(hill)


@pytest.mark.worker
def test_without_any_worker_or_broker_the_sweep_command_does_the_work(queue, slopes, hill, capsys):
    slopes.send(ALIVE)
    call_command("sweep")
    assert nothing_waits()
    assert figures_agree_with_a_rebuild(hill)


def age_everything() -> None:
    """Let what waits have waited for a minute."""
    DirtyKey.objects.update(since=F("since") - timedelta(minutes=1))


# --- a broker that is not there -------------------------------------------------------------
def test_a_broker_that_does_not_answer_holds_up_no_request(slopes, settings, monkeypatch):
    settings.BROKER = "redis://192.0.2.1:6379/0"  # TEST-NET-1, RFC 5737: nobody answers there
    trying = []
    monkeypatch.setattr(hints, "publisher", hints.Publisher())
    monkeypatch.setattr(hints, "publish", lambda hint: (trying.append(hint), time.sleep(20)))
    items = slopes.items(ALIVE)
    log.append_items(slopes.actor, items[:6])
    eventually(lambda: bool(trying))  # the thread now hangs on the broker
    began = time.monotonic()
    log.append_items(slopes.actor, items[6:])
    assert time.monotonic() - began < 10
    assert DirtyKey.objects.count() == 4
