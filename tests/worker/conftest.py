"""A real Celery worker on the tests' own database, and a round to count."""

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection

from deploy.celery import app
from deploy.scripts.running import running, tail
from monitoring.models import DirtyKey
from projects.services import log as field_log
from tests.field_log.visits import item, line, visit_body
from tests.structure.source import ROOT

PATIENCE_S = 60


class Worker:
    """Starts and stops worker processes of this run; each reads only this run's queue."""

    def __init__(self, folder: Path) -> None:
        self.log = folder / "worker.log"
        self.context = None
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start a worker and return when it answers."""
        command = [
            sys.executable, "-m", "celery", "-A", "deploy", "worker", "--concurrency", "2",
            "--queues", settings.CELERY_TASK_DEFAULT_QUEUE, "--hostname", f"tests{os.getpid()}@localhost",
            "--loglevel", "INFO", "--without-gossip", "--without-mingle",
        ]  # fmt: skip
        environment = {**os.environ, "TALLYGROVE_DATABASE": self.database()}
        self.context = running(command, log=self.log, env=environment, cwd=ROOT)
        self.process = self.context.__enter__()
        until = time.monotonic() + PATIENCE_S
        while not app.control.ping(destination=[f"tests{os.getpid()}@localhost"], timeout=0.5):
            assert self.process.poll() is None and time.monotonic() < until, tail(self.log)

    def database(self) -> str:
        """The address of the database that these tests made."""
        base, _, _ = os.environ["TALLYGROVE_DATABASE"].rpartition("/")
        return f"{base}/{connection.settings_dict['NAME']}"

    def stop(self) -> None:
        """Let the worker finish what it does and leave."""
        if self.context:
            self.context.__exit__(None, None, None)
            self.context = None


@pytest.fixture(scope="session")
def worker_log_folder(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("worker")


@pytest.fixture
def worker(transactional_db, worker_log_folder):
    """A worker that is not started yet."""
    worker = Worker(worker_log_folder)
    yield worker
    worker.stop()
    app.control.purge()


@pytest.fixture
def count(actor, survey_round, plots, baselines) -> Callable[..., None]:
    """Send a count for each plot of the round, as a phone would."""

    def send(*alive: int) -> None:
        pairs = zip(plots, baselines, alive, strict=True)
        items = [item(visit_body(plot, survey_round, [line(baseline, n)])) for plot, baseline, n in pairs]
        outcomes = field_log.append_items(actor, items)
        assert {outcome.outcome for outcome in outcomes} == {"stored"}

    return send


@pytest.fixture
def settled(worker) -> Callable[[], None]:
    """Wait until nothing is left to compute."""

    def wait() -> None:
        until = time.monotonic() + PATIENCE_S
        while DirtyKey.objects.exists():
            assert time.monotonic() < until, (
                f"still waiting: {list(DirtyKey.objects.values())}\n{tail(worker.log)}"
            )
            time.sleep(0.1)

    return wait
