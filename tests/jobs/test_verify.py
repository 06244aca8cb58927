"""`manage.py verify`: an edited row is named, and the exit code says so."""

import pytest
from django.core.management import call_command
from django.db import connection

from monitoring.models import Estimate, Visit
from projects import append_only
from projects.models import RefusedItem, Submission
from projects.services import log
from tests.field_log.visits import item, line, visit_body
from tests.jobs.conftest import ALIVE

pytestmark = pytest.mark.django_db


@pytest.fixture
def verify(capsys):
    def run() -> tuple[int, str]:
        try:
            call_command("verify")
        except SystemExit as end:
            return end.code, capsys.readouterr().out
        return 0, capsys.readouterr().out

    return run


@pytest.fixture
def forged(slopes, work):
    """Edit rows the way only somebody with the database in hand could."""
    slopes.send(ALIVE)
    work()
    with connection.cursor() as cursor:
        for statement in append_only.dropping(connection.vendor):
            cursor.execute(statement)
    return Submission.objects.order_by("seq")


def test_a_whole_log_passes(slopes, work, verify):
    slopes.send(ALIVE)
    work()
    assert verify() == (0, "hill: 12 records, all as written.\n")


def test_an_edited_body_is_named_by_number_and_row(forged, verify):
    row = forged[4]
    Submission.objects.filter(pk=row.pk).update(body=row.body.replace('"alive": 17', '"alive": 19'))
    code, out = verify()
    assert code == 1
    assert f"projects_submission, log number 5, row {row.pk}: its body was edited" in out


def test_a_deleted_row_is_missed(forged, verify):
    Submission.objects.filter(pk=forged[6].pk).delete()
    code, out = verify()
    assert code == 1
    assert "log number 7" in out


def test_refused_bytes_that_were_edited_are_named(slopes, verify):
    broken = visit_body(slopes.plots[0], slopes.survey_round, [line(slopes.baselines[0], -1)])
    log.append_items(slopes.actor, [item(broken)])
    assert verify()[0] == 0
    RefusedItem.objects.update(body="{}")
    code, out = verify()
    assert (code, "its body was edited" in out) == (1, True)


def test_rows_without_a_record_and_records_without_a_row_are_named(slopes, work, verify):
    slopes.send(ALIVE)
    visit = Visit.objects.order_by("id").first()
    Visit.objects.filter(pk=visit.pk).update(submission_seq=99)
    code, out = verify()
    assert code == 1
    assert f"monitoring_visit, {visit.uid}: no record of the log speaks of it" in out
    Visit.objects.filter(pk=visit.pk).delete()
    assert "it stands in the log but not among the visits" in verify()[1]


def test_a_point_without_its_interval_is_named(slopes, work, verify):
    slopes.send(ALIVE)
    work()
    row = Estimate.objects.filter(is_headline=True, value__isnull=False).first()
    Estimate.objects.filter(pk=row.pk).update(lower=None)
    code, out = verify()
    assert (code, str(row.uid) in out) == (1, True)
