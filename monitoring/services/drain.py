"""Working through jobs and dirty keys: by this process's own thread, by `manage.py sweep`, or by hinting at workers."""

import logging
import threading
import time
from datetime import timedelta

from django.db import close_old_connections, connections
from django.db.models import Case, F, IntegerField, QuerySet, Value, When, Window
from django.db.models.functions import RowNumber
from django.utils import timezone

from monitoring.models import DirtyKey
from monitoring.services import chores, dirty, hints, recompute
from projects.services import jobs

logger = logging.getLogger(__name__)

HINT_AGAIN_AFTER = timedelta(seconds=5)
HINTS_AT_ONCE = 200
AT_ONCE = 50  # then look again, so that small keys that came meanwhile go first
IDLE_SECONDS = 60.0  # a quiet thread looks again: another process may have left work behind


def waiting(older_than: timedelta = timedelta(0), *, parked: bool = False) -> QuerySet[DirtyKey]:
    """Keys to work on, fair between organisations: the first of each, then the second of each, and so on.

    Within an organisation the small keys (a block of a round) come before the pooled ones. Parked keys,
    which failed too often, are left out unless asked for.
    """
    rank = Case(
        *(When(kind=kind, then=Value(n)) for n, kind in enumerate(dirty.KINDS)), output_field=IntegerField()
    )
    rows = DirtyKey.objects.filter(since__lte=timezone.now() - older_than)
    if not parked:
        rows = rows.filter(attempts__lt=recompute.MOST_ATTEMPTS)
    turn = Window(
        RowNumber(), partition_by="organisation_id", order_by=[rank.asc(), F("since").asc(), F("id").asc()]
    )
    return rows.annotate(turn=turn).order_by("turn", "organisation_id")


def work_through(older_than: timedelta = timedelta(0), *, parked: bool = False) -> int:
    """Run the jobs, then recompute until nothing is left untried; return how many keys were worked."""
    jobs.work_through(older_than)
    if parked:
        DirtyKey.objects.filter(attempts__gte=recompute.MOST_ATTEMPTS).update(attempts=0)
    tried: set[tuple[int, int]] = set()
    while batch := untried(older_than, tried):
        for row in batch:
            tried.add((row.pk, row.version))
            recompute.recompute(organisation_id=row.organisation_id, kind=row.kind, key=row.key)
    return len(tried)


def untried(older_than: timedelta, tried: set[tuple[int, int]]) -> list[DirtyKey]:
    """Return the next keys that this pass has not tried at their present version."""
    still_there = DirtyKey.objects.filter(pk__in=[pk for pk, _version in tried]).count() if tried else 0
    rows = waiting(older_than)[: still_there + AT_ONCE]
    return [row for row in rows if (row.pk, row.version) not in tried]


def hint_again() -> int:
    """Send a hint for every job and key that has waited; return how many."""
    asked = jobs.due(HINT_AGAIN_AFTER).values_list("organisation_id", "pk")[:HINTS_AT_ONCE]
    todo = [(organisation_id, hints.JOB, str(pk)) for organisation_id, pk in asked]
    rows = waiting(HINT_AGAIN_AFTER)[:HINTS_AT_ONCE]
    todo += [(row.organisation_id, row.kind, row.key) for row in rows]
    hints.publisher.put(todo)
    return len(todo)


# --- this process's own thread --------------------------------------------------------------
class Drain:
    """One thread per process that works through the list whenever it is woken."""

    def __init__(self) -> None:
        self.woken = threading.Event()
        self.lock = threading.Lock()
        self.thread: threading.Thread | None = None
        self.stopping = False
        self.chores_done: float | None = None  # when this process last did them

    def wake(self) -> None:
        """Wake the thread; start it first if this process has none (also after a fork)."""
        with self.lock:
            self.woken.set()
            if self.thread is None or not self.thread.is_alive():
                self.stopping = False
                self.thread = threading.Thread(target=self.run, name="tallygrove-drain", daemon=True)
                self.thread.start()

    def stop(self) -> None:
        """Let the thread finish what it is at and end."""
        with self.lock:
            thread, self.stopping = self.thread, True
            self.woken.set()
        if thread is not None:
            thread.join(30)

    def run(self) -> None:
        while not self.stopping:
            self.woken.wait(IDLE_SECONDS)
            self.woken.clear()
            if not self.stopping:
                self.pass_once()

    def pass_once(self) -> None:
        """Work through the list; whatever goes wrong, the thread lives on and the rows stay."""
        close_old_connections()
        try:
            work_through()
            self.do_chores()
        except Exception:
            logger.exception("the work list could not be worked through; it will be tried again")
            time.sleep(1)
        finally:
            connections.close_all()

    def do_chores(self) -> None:
        """Do what the clock asks for, where no beat does it: a day may have begun, a letter be due."""
        now = time.monotonic()
        if self.chores_done is None or now - self.chores_done >= chores.EVERY_SECONDS:
            self.chores_done = now
            chores.do()


thread_of_this_process = Drain()


def wake() -> None:
    """Have this process work through the list soon, outside the request that asks for it."""
    thread_of_this_process.wake()
