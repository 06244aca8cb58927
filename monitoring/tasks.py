"""What a worker is told to do. Each task takes an id and calls one service; running one twice changes nothing."""

from celery import shared_task

from monitoring.services import chores, drain, recompute, reminders
from projects.services import jobs


@shared_task
def recompute_key(organisation_id: int, kind: str, key: str) -> None:
    """Recompute one key of the work list, if it is still there."""
    recompute.recompute(organisation_id=organisation_id, kind=kind, key=key)


@shared_task
def run_job(job_id: int) -> None:
    """Run one job, unless somebody is at it or it is over."""
    jobs.run(job_id)


@shared_task
def sweep() -> None:
    """Hint again at everything that has waited for a few seconds: its first hint was lost."""
    drain.hint_again()


@shared_task
def renew_reminders() -> None:
    """Bring reminders up to today's date, and mark what an older release computed."""
    reminders.renew_all()


@shared_task
def send_letters() -> None:
    """Send the weekly letters that are due and that nobody has sent."""
    chores.send_letters()
