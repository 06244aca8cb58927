"""Long work can be called off by whoever started it or a manager: at once while it waits, else at its next step."""

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse
from django.utils import timezone

from projects.access import member_actor
from projects.errors import Refusal
from projects.models import Job
from projects.services import jobs


@pytest.fixture
def bens(ben, monkeypatch):
    """A job of ben's that takes three steps; the steps that were taken."""
    taken = []

    def work(job, progress):
        progress.total(3)
        for step in range(3):
            progress.stop_if_asked()
            taken.append(step)
            if step == 1 and job.parameters.get("called_off_meanwhile"):
                jobs.cancel(actor=member_actor(ben), job=Job.objects.get(pk=job.pk))
            progress.step()
        return {"message": "Counted."}

    monkeypatch.setitem(jobs.works, "counting", work)

    def start(**parameters):
        actor = member_actor(ben)
        return jobs.start(actor=actor, kind="counting", title="Counting", link="/o/hill/", **parameters)

    start.taken = taken
    return start


def state(job):
    job.refresh_from_db()
    return job.state


def test_work_that_waits_is_off_at_once(bens, ben):
    job = jobs.cancel(actor=member_actor(ben), job=bens())
    assert state(job) == "cancelled"
    assert jobs.work_through() == 0
    assert bens.taken == []


def test_work_under_way_ends_at_its_next_step(bens):
    job = bens(called_off_meanwhile=True)
    jobs.work_through()
    assert (state(job), bens.taken, job.lease_until) == ("cancelled", [0, 1], None)
    assert job.result["message"].startswith("Called off")


def test_work_called_off_before_its_worker_died_is_not_begun_again(bens, ben):
    job = bens()
    jobs.take(job.pk)
    jobs.cancel(actor=member_actor(ben), job=job)
    assert state(job) == "running"
    Job.objects.update(lease_until=timezone.now() - timedelta(seconds=1))
    jobs.work_through()
    assert (state(job), bens.taken) == ("cancelled", [])


def test_what_is_over_cannot_be_called_off(bens, ben):
    job = bens()
    jobs.work_through()
    with pytest.raises(Refusal, match="over already"):
        jobs.cancel(actor=member_actor(ben), job=job)
    assert state(job) == "done"


def test_another_lead_may_not_a_manager_may_a_volunteer_never(bens, hill, ana, vera, olaf):
    from tests import factories

    job, carla = bens(), factories.member(hill, "field_lead")
    with pytest.raises(Refusal, match="Only whoever started"):
        jobs.cancel(actor=member_actor(carla), job=job)
    with pytest.raises(PermissionDenied):
        jobs.cancel(actor=member_actor(vera), job=job)
    with pytest.raises(Job.DoesNotExist):
        jobs.cancel(actor=member_actor(olaf), job=job)
    assert state(job) == "waiting"
    jobs.cancel(actor=member_actor(ana), job=job)
    assert state(job) == "cancelled"


def test_the_button_stands_where_it_may_be_pressed_and_says_what_came_of_it(signed_in, bens, ben, hill):
    from tests import factories

    job = bens()
    page = reverse("projects:job_detail", kwargs={"org": "hill", "uid": job.uid})
    button = reverse("projects:job_cancel", kwargs={"org": "hill", "uid": job.uid})
    assert button not in signed_in(factories.member(hill, "field_lead")).get(page).content.decode()
    desk = signed_in(ben)
    assert button in desk.get(page).content.decode()
    assert button in desk.get(page, headers={"HX-Request": "true"}).content.decode()
    assert desk.post(button).url == "/o/hill/"
    shown = desk.get(page).content.decode()
    assert "Called off. Nothing was half written." in shown
    assert button not in shown
    assert "every 2s" not in shown
    assert "over already" in desk.post(button, follow=True).content.decode()


def test_a_job_does_not_lead_outside_when_called_off(signed_in, bens, ben):
    job = bens()
    Job.objects.update(parameters={"link": "https://elsewhere.example/"})
    button = reverse("projects:job_cancel", kwargs={"org": "hill", "uid": job.uid})
    assert signed_in(ben).post(button).url == reverse(
        "projects:job_detail", kwargs={"org": "hill", "uid": job.uid}
    )


def test_a_lead_of_some_projects_reads_of_no_work_others_began(bens, hill, project, signed_in):
    from tests import factories

    limited = factories.member(hill, "field_lead", projects=[project])
    address = reverse("projects:job_detail", kwargs={"org": "hill", "uid": bens().uid})
    assert signed_in(limited).get(address).status_code == 404
