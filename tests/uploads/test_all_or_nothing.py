"""A file goes in whole, once, or not at all; whoever may not see it does not."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from monitoring.models import Upload, Visit
from monitoring.services import drain, entries, hints, projection, settling, upload_trials, uploads
from projects.errors import Refusal
from projects.models import Job, Submission
from projects.services import jobs
from tests import factories
from tests.uploads.conftest import DAY, csv_bytes, stored

pytestmark = pytest.mark.django_db


@pytest.fixture
def checked(desk, twelve) -> Upload:
    upload = desk.check(csv_bytes(twelve.table()))
    assert upload.state == "checked"
    return upload


def failing_at(monkeypatch, plot_name: str, times: int = 99) -> list[str]:
    """Let the settling of one plot fail a few times; the plots that were settled."""
    real, seen, left = settling.settle_plot, [], [times]

    def settle(plot):
        seen.append(plot.name)
        if plot.name == plot_name and left[0]:
            left[0] -= 1
            raise RuntimeError("a disk that is full")
        return real(plot)

    monkeypatch.setattr(projection.settling, "settle_plot", settle)
    return seen


def later():
    Job.objects.update(lease_until=timezone.now() - timedelta(seconds=1))


def test_a_failure_at_the_seventh_of_twelve_plots_leaves_nothing_and_the_next_try_puts_all_in(
    desk, checked, monkeypatch
):
    seen = failing_at(monkeypatch, "E1", times=1)
    desk.put_in(checked)
    assert seen[:7] == ["N1", "N2", "N3", "N4", "N5", "N6", "E1"]
    assert stored() == (0, 0, 0, 0)
    job = Job.objects.get(pk=checked.job_id)
    assert (checked.state, job.state, job.attempts) == ("checked", "waiting", 1)
    assert "Waiting for its turn" in desk.text(checked)
    assert jobs.work_through() == 0  # it rests before it is tried again
    later()
    assert jobs.work_through() == 1
    checked.refresh_from_db()
    assert checked.state == "imported"
    assert stored() == (12, 12, 18, 0)


def test_work_that_keeps_failing_stops_says_so_and_can_be_started_again(desk, checked, monkeypatch):
    failing_at(monkeypatch, "E1", times=jobs.MOST_ATTEMPTS)
    desk.put_in(checked)
    for _attempt in range(jobs.MOST_ATTEMPTS):
        later()
        jobs.work_through()
    assert Job.objects.get(pk=checked.job_id).state == "failed"
    assert "The work broke off 3 times. Nothing of it was stored." in desk.text(checked)
    assert stored() == (0, 0, 0, 0)
    desk.put_in(checked)
    assert checked.state == "imported"
    assert stored() == (12, 12, 18, 0)


def test_a_worker_that_died_is_replaced_when_its_lease_runs_out(desk, checked, monkeypatch):
    desk.client.post(desk.url("upload_import", checked.uid))
    job = Job.objects.latest("id")
    assert jobs.take(job.pk) is not None  # and the worker is gone
    assert jobs.work_through() == 0
    later()
    assert drain.work_through() >= 0  # the sweeper picks it up
    checked.refresh_from_db()
    assert checked.state == "imported"


def test_a_worker_that_comes_back_late_overwrites_nothing(checked, desk):
    desk.client.post(desk.url("upload_import", checked.uid))
    late = jobs.take(Job.objects.latest("id").pk)
    later()
    jobs.work_through()
    jobs.end(late, "failed", {"message": "late"})
    assert Job.objects.get(pk=late.pk).state == "done"


def test_a_job_that_kills_its_worker_every_time_is_given_up(desk, checked):
    desk.client.post(desk.url("upload_import", checked.uid))
    for _attempt in range(jobs.MOST_ATTEMPTS):
        assert jobs.take(Job.objects.latest("id").pk)
        later()
    jobs.work_through()
    assert Job.objects.latest("id").state == "failed"


def test_pressing_twice_and_importing_twice_stores_once(desk, checked):
    for _press in range(2):
        desk.client.post(desk.url("upload_import", checked.uid))
    assert Job.objects.filter(kind=uploads.IMPORT).count() == 1
    jobs.work_through()
    desk.put_in(checked)
    assert Job.objects.filter(kind=uploads.IMPORT).count() == 1
    assert stored() == (12, 12, 18, 0)
    job = Job.objects.get(kind=uploads.IMPORT)
    Job.objects.filter(pk=job.pk).update(state="waiting", lease_until=None)  # its last word was lost
    jobs.work_through()
    assert stored() == (12, 12, 18, 0)
    Upload.objects.update(state="checked")  # and even so, every record is known by its id
    Job.objects.filter(pk=job.pk).update(state="waiting", lease_until=None)
    jobs.work_through()
    assert stored() == (12, 12, 18, 0)


def test_the_same_file_again_puts_nothing_in_a_second_time(desk, checked, twelve):
    desk.put_in(checked)
    again = desk.check(csv_bytes(twelve.table()))
    assert again.state == "checked"
    assert "There is nothing new in this file." in desk.text(again)
    desk.put_in(again)
    assert stored() == (12, 12, 18, 0)


def test_a_count_that_comes_between_check_and_import_stops_the_whole_file(desk, checked, twelve, actor):
    from datetime import date

    line = {"baselines": [str(twelve.baselines[8].line)], "species": "quercus-robur", "alive": 3}
    other = {"baselines": [str(twelve.baselines[14].line)], "species": "pinus-pinaster", "alive": 3}
    entry = entries.visit_record(
        plot=twelve.plots[8],
        survey_round=twelve.survey_round,
        observed_on=date(2025, 9, 1),
        lines=[line, other],
    )
    entries.enter(actor=actor, entry=entry)
    before = stored()
    desk.put_in(checked)
    assert checked.state == "refused"
    assert [problem["plot"] for problem in checked.problems] == ["E3"]
    assert stored() == before


def test_only_a_checked_file_goes_in_and_one_that_is_in_is_not_mapped_again(desk, twelve, ben):
    from projects.access import member_actor

    desk.send(csv_bytes(twelve.table()))
    upload = Upload.objects.get()
    with pytest.raises(Refusal, match="Check it first"):
        uploads.start_import(actor=member_actor(ben), upload=upload)
    desk.map(upload)
    desk.put_in(upload)
    with pytest.raises(Refusal, match="This file is in already"):
        uploads.start_check(actor=member_actor(ben), upload=upload, columns={})


def test_rights_lost_meanwhile_stop_the_work(desk, checked, ben):
    desk.client.post(desk.url("upload_import", checked.uid))
    ben.ended_at = timezone.now()
    ben.save()
    jobs.work_through()
    job = Job.objects.latest("id")
    assert (job.state, stored()) == ("failed", (0, 0, 0, 0))
    assert "no longer belongs to the organisation" in job.result["message"]


def test_progress_survives_a_reload_and_asks_again_by_itself(desk, twelve, monkeypatch):
    monkeypatch.setattr(jobs, "TELL_EVERY_SECONDS", 0)
    monkeypatch.setattr(upload_trials, "AT_ONCE", 1)
    desk.send(csv_bytes(twelve.table()))
    upload = Upload.objects.get()
    answers = []

    def look(self, *steps, **how):
        real(self, *steps, **how)
        answers.append(desk.client.get(desk.url("upload_detail", upload.uid), headers={"HX-Request": "true"}))

    real = jobs.Progress.step
    monkeypatch.setattr(jobs.Progress, "step", look)
    desk.map(upload)
    texts = [" ".join(answer.content.decode().split()) for answer in answers]
    assert [f"{n} of 12." in text for n, text in enumerate(texts, start=1)] == [True] * 12
    assert 'hx-trigger="every 2s"' in texts[0]
    answers.clear()
    desk.put_in(upload)
    assert ["of 12." in answer.content.decode() for answer in answers] == [True] * 12
    after = desk.client.get(desk.url("upload_detail", upload.uid), headers={"HX-Request": "true"})
    assert after["HX-Refresh"] == "true"


def test_a_job_sends_one_hint_after_its_commit(
    desk, checked, monkeypatch, django_capture_on_commit_callbacks
):
    sent = []
    monkeypatch.setattr(hints, "send", sent.extend)
    with django_capture_on_commit_callbacks(execute=True):
        desk.client.post(desk.url("upload_import", checked.uid))
        assert sent == []
    job = Job.objects.latest("id")
    assert sent == [(job.organisation_id, hints.JOB, str(job.pk))]


def test_the_sweeper_hints_at_jobs_too(desk, checked, monkeypatch):
    sent = []
    monkeypatch.setattr(hints.publisher, "put", sent.extend)
    desk.client.post(desk.url("upload_import", checked.uid))
    job = Job.objects.latest("id")
    Job.objects.update(created_at=timezone.now() - timedelta(seconds=30))
    drain.hint_again()
    assert (job.organisation_id, hints.JOB, str(job.pk)) in sent


# --- who, and how much -----------------------------------------------------------------------
def test_another_organisation_meets_404_and_a_volunteer_or_funder_403(
    desk, checked, signed_in, olaf, vera, fred
):
    for name in ("upload_detail", "upload_map", "upload_import"):
        method = "get" if name == "upload_detail" else "post"
        address = desk.url(name, checked.uid)
        assert getattr(signed_in(olaf), method)(address).status_code == 404
        assert getattr(signed_in(olaf), method)(address.replace("/hill/", "/other/")).status_code == 404
        for member in (vera, fred):
            assert getattr(signed_in(member), method)(address).status_code == 403
    for name in ("upload_new", "upload_template"):
        address = desk.url(name, desk.survey_round.uid)
        assert signed_in(olaf).get(address.replace("/hill/", "/other/")).status_code == 404
        assert signed_in(vera).get(address).status_code == 403
    assert Submission.objects.count() == 0


def test_a_lead_of_another_project_cannot_see_the_upload(desk, checked, signed_in, hill):
    elsewhere = factories.project(hill, name="Elsewhere")
    lead = factories.member(hill, "field_lead", email="lea@hill.example", projects=[elsewhere])
    assert signed_in(lead).get(desk.url("upload_detail", checked.uid)).status_code == 404


def test_the_token_of_a_form_is_still_asked_for(desk, ben):
    from django.core.files.uploadedfile import SimpleUploadedFile
    from django.test import Client

    client = Client(enforce_csrf_checks=True)
    client.force_login(ben.user, backend="allauth.account.auth_backends.AuthenticationBackend")
    file = SimpleUploadedFile("counts.csv", b"plot,species,alive\nN1,oak,3\n")
    answer = client.post(desk.url("upload_new", desk.survey_round.uid), {"file": file})
    assert answer.status_code == 403
    assert not Upload.objects.exists()


def queries(desk, page: str, uid) -> int:
    with CaptureQueriesContext(connection) as seen:
        assert desk.client.get(desk.url(page, uid)).status_code == 200
    return len(seen)


def test_pages_ask_the_database_as_often_for_many_as_for_few(desk, twelve):
    few = desk.check(csv_bytes(twelve.table()[:3]))
    counts = [queries(desk, "upload_detail", few.uid), queries(desk, "upload_new", twelve.survey_round.uid)]
    for _file in range(4):
        many = desk.check(csv_bytes(twelve.table(*((n, "alive", "x") for n in range(2, 20)))))
    assert [
        queries(desk, "upload_detail", many.uid), queries(desk, "upload_new", twelve.survey_round.uid),
    ] == counts  # fmt: skip


def test_pages_do_not_read_the_bytes_of_a_file(desk, checked):
    with CaptureQueriesContext(connection) as seen:
        desk.text(checked)
        desk.client.get(desk.url("upload_new", desk.survey_round.uid))
    assert not [query for query in seen if '"content"' in query["sql"]]


def test_reading_the_rows_asks_the_database_no_more_for_more_plots(desk, twelve):
    def asked(table):
        upload = desk.check(csv_bytes(table))
        with CaptureQueriesContext(connection) as seen:
            uploads.read_sheets(Upload.objects.select_related("round__organisation").get(pk=upload.pk))
        return len(seen)

    table = twelve.table()
    assert asked([table[0], table[7], table[13]]) == asked(table)


def test_a_correction_at_the_desk_follows_a_visit_of_a_file(desk, checked, twelve, actor):
    from datetime import date

    desk.put_in(checked)
    head = Visit.objects.get(plot=twelve.plots[0], is_counting=True)
    line = {"baselines": [str(twelve.baselines[0].line)], "species": "quercus-robur", "alive": 15}
    entry = entries.visit_record(
        plot=twelve.plots[0], survey_round=twelve.survey_round, observed_on=date.fromisoformat(DAY), lines=[line],
        head=head,
    )  # fmt: skip
    entries.enter(actor=actor, entry=entry)
    assert Visit.objects.get(plot=twelve.plots[0], is_counting=True).lines.get().alive == 15
