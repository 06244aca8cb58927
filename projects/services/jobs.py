"""Long work that one person asked for: a row that says how far it is, worked by whoever comes first.

The row is the truth and a hint is only speed, as with dirty keys. A job is taken for a while and its lease
renewed at each step; where the lease runs out, because its worker died, somebody else takes it again. Work
must therefore do no harm when it is begun twice.
"""

import logging
import time
from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.core.cache import cache
from django.db import transaction
from django.db.models import F, Q, QuerySet
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from projects.access import Actor, member_actor
from projects.announcements import announce
from projects.errors import Refusal
from projects.models import Job, JobState, Membership

logger = logging.getLogger(__name__)

LEASE = timedelta(minutes=2)
PAUSE = timedelta(seconds=20)  # after a failure, times the attempts made
MOST_ATTEMPTS = 3
TELL_EVERY_SECONDS = 0.5
ACTIVE = (JobState.WAITING, JobState.RUNNING)

Work = Callable[[Job, "Progress"], dict[str, Any]]
works: dict[str, Work] = {}  # kind of job -> what to do; given by the services that own the kinds


class Cancelled(Exception):
    """The work was called off at one of its steps."""


@transaction.atomic
def start(*, actor: Actor, kind: str, title: str, link: str, **parameters: Any) -> Job:
    """Put a job on the list; `link` is the page that tells how it went."""
    job = Job.objects.create(
        organisation=actor.organisation,
        kind=kind,
        title=title[:200],
        created_by=actor.person,
        parameters={**parameters, "link": link, "language": translation.get_language() or ""},
    )
    announce("job_waiting", job)
    return job


def may_cancel(actor: Actor, job: Job) -> bool:
    """Whoever started a job may call it off, and so may a manager."""
    started_it = actor.person is not None and job.created_by_id == actor.person.pk
    return job.state in ACTIVE and (started_it or actor.may("job.cancel"))


@transaction.atomic
def cancel(*, actor: Actor, job: Job) -> Job:
    """Call a job off: at once while nobody is at it, else at its next step."""
    actor.require("job.view")
    locked = Job.objects.select_for_update().get(pk=job.pk, organisation=actor.organisation)
    if locked.state not in ACTIVE:
        raise Refusal(_("This work is over already; there was nothing left to call off."))
    if not may_cancel(actor, locked):
        raise Refusal(_("Only whoever started this work, or a manager, calls it off."))
    locked.cancel_asked_at = locked.cancel_asked_at or timezone.now()
    if locked.state == JobState.WAITING:
        locked.state, locked.lease_until = JobState.CANCELLED, None
        locked.result = {"link": locked.parameters.get("link", ""), "message": called_off()}
    locked.save(update_fields=["cancel_asked_at", "state", "lease_until", "result"])
    return locked


def called_off() -> str:
    """Say that a job was called off."""
    return _("Called off. Nothing of it was stored.")


def due(older_than: timedelta = timedelta(0)) -> QuerySet[Job]:
    """Jobs nobody is at: waiting, or left by a worker that died."""
    now = timezone.now()
    free = Q(lease_until__isnull=True) | Q(lease_until__lt=now)
    rows = Job.objects.filter(free, state__in=ACTIVE, kind__in=works)
    return rows.filter(created_at__lte=now - older_than).order_by("pk")


def work_through(older_than: timedelta = timedelta(0)) -> int:
    """Run every job that is due; return how many were run."""
    return sum(run(pk) for pk in list(due(older_than).values_list("pk", flat=True)))


def run(job_id: int) -> bool:
    """Run one job unless somebody is at it or it is over; return whether it was run."""
    job = take(job_id)
    if job is None:
        return False
    with translation.override(job.parameters.get("language") or None):
        if job.attempts > MOST_ATTEMPTS:
            end(job, JobState.FAILED, {"message": stopped()})
            return False
        try:
            progress = Progress(job)
            progress.stop_if_asked()
            end(job, JobState.DONE, works[job.kind](job, progress))
        except Cancelled:
            end(job, JobState.CANCELLED, {"message": called_off()})
        except Refusal as refusal:
            end(job, JobState.FAILED, {"message": refusal.message})
        except Exception as problem:
            logger.exception("job %s (%s) did not come to its end", job.pk, job.kind)
            put_back(job, problem)
    return True


def take(job_id: int) -> Job | None:
    """Take a job for a while; None when it is not to be had."""
    taken = due().filter(pk=job_id)
    if not taken.update(
        state=JobState.RUNNING, attempts=F("attempts") + 1, lease_until=timezone.now() + LEASE, done_steps=0
    ):
        return None
    return Job.objects.select_related("organisation", "created_by").get(pk=job_id)


def mine(job: Job) -> QuerySet[Job]:
    """Return the row as long as nobody else took the job after its lease ran out."""
    return Job.objects.filter(pk=job.pk, attempts=job.attempts, state=JobState.RUNNING)


def end(job: Job, state: str, result: dict[str, Any]) -> None:
    """Write what came of a job."""
    mine(job).update(state=state, lease_until=None, result={"link": job.parameters.get("link", ""), **result})


def put_back(job: Job, problem: Exception) -> None:
    """Let a job be tried again after a pause, or say that it stopped."""
    if job.attempts >= MOST_ATTEMPTS:
        end(job, JobState.FAILED, {"message": stopped(), "error": repr(problem)[:300]})
    else:
        mine(job).update(state=JobState.WAITING, lease_until=timezone.now() + PAUSE * job.attempts)


def stopped() -> str:
    """Say that a job was tried often enough."""
    words = _(
        "The work broke off %(n)s times. Nothing of it was stored. Start it again, or ask who runs this."
    )
    return words % {"n": MOST_ATTEMPTS}


def actor_of(job: Job) -> Actor:
    """Return the member who asked for a job, with the rights of this moment."""
    rows = Membership.objects.filter(
        organisation=job.organisation, person=job.created_by, person__isnull=False, ended_at__isnull=True
    )
    membership = rows.select_related("organisation", "person").first()
    if membership is None:
        raise Refusal(_("Whoever asked for this no longer belongs to the organisation."))
    return member_actor(membership)


class Progress:
    """How far a job is. Inside a transaction, where a row would tell nobody, the cache tells."""

    def __init__(self, job: Job) -> None:
        self.job, self.done, self.told_at = job, 0, 0.0

    def total(self, steps: int, *, lease: timedelta = LEASE) -> None:
        """Say how many steps there are, and for how long they may go on without a sign of life."""
        mine(self.job).update(total_steps=steps, lease_until=timezone.now() + lease)

    def step(self, steps: int = 1, *, inside_transaction: bool = False) -> None:
        """Say that further steps are done; told at most twice a second."""
        self.done += steps
        now = time.monotonic()
        if now - self.told_at < TELL_EVERY_SECONDS:
            return
        self.told_at = now
        if inside_transaction:
            cache.set(cache_key(self.job), self.done, LEASE.total_seconds())
        else:
            mine(self.job).update(done_steps=self.done, lease_until=timezone.now() + LEASE)

    def stop_if_asked(self) -> None:
        """End the work here if it was called off: asked between steps, and never after something was stored."""
        if mine(self.job).filter(cancel_asked_at__isnull=False).exists():
            raise Cancelled

    def finish(self) -> None:
        """Say that every step is done."""
        mine(self.job).update(done_steps=self.done)


def cache_key(job: Job) -> str:
    return f"job-steps:{job.pk}:{job.attempts}"


def with_cached_steps(job: Job) -> Job:
    """Return a job with the steps that its transaction could not yet show."""
    if job.state == JobState.RUNNING:
        job.done_steps = max(job.done_steps, cache.get(cache_key(job), 0))
    return job
