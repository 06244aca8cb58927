"""History is read by those who may see its subject; a job's progress survives a reload."""

import pytest
from django.urls import reverse

from projects.models import HistoryEntry, Job
from projects.services import nurseries, projects, sites


def address(name, uid):
    return reverse(f"projects:{name}", kwargs={"org": "hill", "uid": uid})


def test_the_whole_history_of_a_site_reads_like_sentences(signed_in, ana, actor, site):
    sites.edit_site(actor=actor, site=site, elevation_m=1050)
    page = signed_in(ana).get(address("history", site.uid)).content.decode()
    assert "Site Upper site: changed" in page
    assert "<ins>1050</ins>" in page


def test_history_follows_its_subject_through_the_same_door(signed_in, actor, hill, project, ben, fred, olaf):
    from projects.models import ProjectGrant
    from tests import factories

    other = factories.project(hill, name="Elsewhere")
    ProjectGrant.objects.create(organisation=hill, membership=ben, project=project)  # limits ben to it
    for row in (project, other):
        projects.edit_project(actor=actor, project=row, purpose="more oaks")
    assert signed_in(ben).get(address("history", project.uid)).status_code == 200
    assert signed_in(ben).get(address("history", other.uid)).status_code == 404
    assert signed_in(fred).get(address("history", project.uid)).status_code == 403
    assert signed_in(olaf).get(address("history", project.uid)).status_code == 404


def test_the_history_of_members_is_for_managers(signed_in, ben, ana, actor):
    from projects.services import people

    people.edit_member(actor=actor, membership=ben, role="field_lead", projects=[], name="Ben of the hill")
    assert signed_in(ben).get(address("history", ben.uid)).status_code == 403
    assert signed_in(ana).get(address("history", ben.uid)).status_code == 200


def test_a_long_history_is_read_page_by_page(signed_in, ana, actor):
    nursery = nurseries.make_nursery(actor=actor, name="Alto")
    for weeks in range(11, 75):
        nurseries.edit_nursery(actor=actor, nursery=nursery, lead_time_weeks=weeks)
    browser = signed_in(ana)
    first = browser.get(address("history", nursery.uid))
    second = browser.get(address("history", nursery.uid) + first.context["page"].next_url)
    shown = [entry.pk for answer in (first, second) for entry in answer.context["page"].rows]
    assert shown == list(HistoryEntry.objects.order_by("-id").values_list("pk", flat=True))


@pytest.fixture
def job(hill):
    return Job.objects.create(
        organisation=hill,
        kind="import",
        title="Import of counts.csv",
        state="running",
        done_steps=40,
        total_steps=120,
    )


def test_progress_is_on_the_page_and_asks_again_by_itself_until_it_ends(signed_in, ana, job):
    browser, url = signed_in(ana), address("job_detail", job.uid)
    page = browser.get(url).content.decode()
    assert 'value="40"' in page
    assert "every 2s" in page
    Job.objects.update(
        state="done", done_steps=120, result={"link": "/o/hill/round/", "message": "120 rows."}
    )
    piece = browser.get(url, headers={"HX-Request": "true"}).content.decode()
    assert "<h1>" not in piece
    assert "every 2s" not in piece
    assert 'href="/o/hill/round/"' in piece


def test_a_job_leads_only_inside_its_organisation(signed_in, ana, job):
    Job.objects.update(state="done", result={"link": "https://elsewhere.example/"})
    assert "elsewhere" not in signed_in(ana).get(address("job_detail", job.uid)).content.decode()


def test_a_job_that_stopped_says_why_and_that_nothing_is_half_written(signed_in, ana, job):
    Job.objects.update(state="failed", result={"message": "Row 7 names no plot."})
    page = signed_in(ana).get(address("job_detail", job.uid)).content.decode()
    assert "Row 7 names no plot." in page
    assert "Nothing was half written" in page
