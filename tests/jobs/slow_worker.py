"""The worker's application, made slow where a test wants to catch it in the middle of its work."""

import os
import time

from celery.signals import worker_init

from deploy.celery import app

__all__ = ["app"]


@worker_init.connect
def slow_down(**_: object) -> None:
    """Sleep between reading and writing, for as long as the environment says."""
    from monitoring.services import recompute

    delay_s, finish = float(os.environ.get("TALLYGROVE_TEST_SLOW_WORK_S", "0")), recompute.finish

    def slow_finish(*args, **kwargs):
        time.sleep(delay_s)
        return finish(*args, **kwargs)

    recompute.finish = slow_finish
