"""An upload that is called off leaves nothing half written and can be started again."""

import pytest

from monitoring.services import upload_trials
from projects.models import Job
from projects.services import jobs
from tests.uploads.conftest import csv_bytes, stored

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(("act", "stands"), [("upload_check", "read"), ("upload_import", "checked")])
def test_it_stops_between_two_batches(desk, twelve, ben, monkeypatch, act, stands):
    from projects.access import member_actor

    monkeypatch.setattr(upload_trials, "AT_ONCE", 5)
    upload = desk.check(csv_bytes(twelve.table()))
    seen = []
    name = "try_out" if act == "upload_check" else "enter"
    real = getattr(upload_trials.Bench, name)

    def called_off_at_the_first(self, some):
        seen.append(len(some))
        jobs.cancel(actor=member_actor(ben), job=Job.objects.latest("id"))
        return real(self, some)

    monkeypatch.setattr(upload_trials.Bench, name, called_off_at_the_first)
    desk.map(upload) if act == "upload_check" else desk.put_in(upload)
    upload.refresh_from_db()
    assert seen == [5]
    assert (upload.state, Job.objects.latest("id").state) == (stands, "cancelled")
    assert stored() == (0, 0, 0, 0)
    assert "Called off. Nothing of it was stored." in desk.text(upload)
    monkeypatch.undo()
    again = desk.check(csv_bytes(twelve.table()))
    assert desk.put_in(again).state == "imported"
    assert stored() == (12, 12, 18, 0)
