"""Hints that work is waiting: sent after commit, by a thread of their own, and worth nothing more than speed."""

import logging
import queue
import threading
from collections.abc import Iterable

from django.conf import settings
from django.db import connection, transaction

logger = logging.getLogger(__name__)

Hint = tuple[int, str, str]  # organisation id, kind, key


def after_commit(organisation_id: int, keys: Iterable[tuple[str, str]]) -> None:
    """Collect hints over one transaction and send each once after it has committed."""
    pending: set[Hint] = connection.__dict__.setdefault("tallygrove_hints", set())
    pending.update((organisation_id, kind, key) for kind, key in keys)
    transaction.on_commit(lambda: send(pending), robust=True)


def send(pending: set[Hint]) -> None:
    """Send everything collected; a second call after the same commit finds nothing left."""
    todo = sorted(pending)
    pending.clear()
    if not todo:
        return
    if settings.BROKER:
        publisher.put(todo)
    elif settings.JOBS_EMBEDDED_THREAD:
        from monitoring.services import drain

        drain.wake()


class Publisher:
    """Sends hints to the broker from a thread, so that a slow or absent broker never holds up a request."""

    def __init__(self, most_waiting: int = 1000) -> None:
        self.waiting: queue.Queue[Hint] = queue.Queue(most_waiting)
        self.lock = threading.Lock()
        self.thread: threading.Thread | None = None

    def put(self, todo: Iterable[Hint]) -> None:
        """Queue hints; when the queue is full they are dropped, since the sweeper finds the rows anyway."""
        try:
            for hint in todo:
                self.waiting.put_nowait(hint)
        except queue.Full:
            logger.warning("hints are not getting through; the sweeper will find the work")
        self.start()

    def start(self) -> None:
        """Start the thread, also in a process forked after an earlier start."""
        with self.lock:
            if self.thread is None or not self.thread.is_alive():
                self.thread = threading.Thread(target=self.run, name="tallygrove-hints", daemon=True)
                self.thread.start()

    def run(self) -> None:
        while True:
            hint = self.waiting.get()
            try:
                publish(hint)
            except Exception as problem:  # whatever the broker's client raises
                logger.warning("no hint could be sent (%s); the sweeper will find the work", problem)
                self.forget()

    def forget(self) -> None:
        """Drop what waits: if one message cannot be sent, neither can the next."""
        try:
            while True:
                self.waiting.get_nowait()
        except queue.Empty:
            return


publisher = Publisher()


def publish(hint: Hint) -> None:
    """Send one message; an hour later it is worthless."""
    from monitoring import tasks

    tasks.recompute_key.apply_async(hint, retry=False, expires=3600)
