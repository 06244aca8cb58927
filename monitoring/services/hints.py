"""Hints that work is waiting: sent after commit, by a thread of their own, and worth nothing more than speed."""

import logging
import threading
from collections.abc import Iterable

from django.conf import settings
from django.db import transaction

logger = logging.getLogger(__name__)

Hint = tuple[int, str, str]  # organisation id, kind, key
JOB = "job"  # the kind whose key is the row id of a job; every other kind is one of the work list


def after_commit(organisation_id: int, keys: Iterable[tuple[str, str]]) -> None:
    """Send hints once the transaction has committed; one that is rolled back sends none."""
    todo = [(organisation_id, kind, key) for kind, key in keys]
    transaction.on_commit(lambda: send(todo), robust=True)


def send(todo: Iterable[Hint]) -> None:
    """Tell the workers, or this process's own thread where it does the work."""
    if settings.BROKER:
        publisher.put(todo)
    elif settings.JOBS_EMBEDDED_THREAD:
        from monitoring.services import drain

        drain.wake()


class Publisher:
    """Sends hints to the broker from a thread, so that a slow or absent broker never holds up a request."""

    def __init__(self, most_waiting: int = 1000) -> None:
        self.most_waiting = most_waiting
        self.waiting: dict[Hint, None] = {}  # in order, each once
        self.changed = threading.Condition()
        self.thread: threading.Thread | None = None

    def put(self, todo: Iterable[Hint]) -> None:
        """Queue hints; what finds no room is dropped, since the sweeper finds the rows anyway."""
        with self.changed:
            for hint in todo:
                if len(self.waiting) < self.most_waiting:
                    self.waiting[hint] = None
            if self.thread is None or not self.thread.is_alive():  # also in a forked process
                self.thread = threading.Thread(target=self.run, name="tallygrove-hints", daemon=True)
                self.thread.start()
            self.changed.notify()

    def take(self) -> Hint:
        """Wait for a hint and take it off the queue."""
        with self.changed:
            self.changed.wait_for(lambda: self.waiting)
            hint = next(iter(self.waiting))
            del self.waiting[hint]
            return hint

    def run(self) -> None:
        while True:
            hint = self.take()
            try:
                publish(hint)
            except Exception as problem:  # whatever the broker's client raises
                logger.warning("no hint could be sent (%s); the sweeper will find the work", problem)
                with self.changed:
                    self.waiting.clear()  # if one message cannot be sent, neither can the next


publisher = Publisher()


def publish(hint: Hint) -> None:
    """Send one message; an hour later it is worthless."""
    from monitoring import tasks

    _organisation_id, kind, key = hint
    if kind == JOB:
        tasks.run_job.apply_async((int(key),), retry=False, expires=3600)
    else:
        tasks.recompute_key.apply_async(hint, retry=False, expires=3600)
