"""The file a phone saves when it cannot send: taken in whole or refused with what to do, and never twice."""

import json
from datetime import UTC, date, datetime
from pathlib import Path
from uuid import UUID

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from monitoring.models import Visit
from monitoring.services import unsent
from projects.access import member_actor
from projects.models import RefusedItem, Submission
from projects.services import log
from tests import factories
from tests.field_log.visits import item, line, visit_body

GOLDEN = Path(__file__).parent.parent / "golden"
ADDRESS = reverse("monitoring:unsent_new", kwargs={"org": "hill"})


def uid(number):
    return UUID(f"01990000-0000-7000-8000-{int(number):012d}")


def send(browser, content):
    text = content if isinstance(content, bytes) else json.dumps(content).encode()
    return browser.post(ADDRESS, {"file": SimpleUploadedFile("tallygrove-unsent.json", text)})


def saved(*items, **parts):
    records = [
        {"id": str(one.id), "kind": one.kind, "schema": one.schema, "sha256": one.sha256, "body": one.body,
         "personal": one.personal} for one in items
    ]  # fmt: skip
    held = {"format": "tallygrove-unsent/1", "pass": {"uid": "x", "label": "old phone"}, "drafts": []}
    return held | {"saved_at": "2025-10-01T17:40:00.000Z", "items": records} | parts


@pytest.fixture
def golden_world(hill, project, block, monkeypatch):
    """The made-up world of the golden records."""
    monkeypatch.setattr(log.timezone, "now", lambda: datetime(2026, 11, 26, 9, tzinfo=UTC))
    world = json.loads((GOLDEN / "visit_1_expects.json").read_text("utf-8"))["world"]
    plots = {number: factories.plot(block, f"Plot {number}", uid=uid(number)) for number in world}
    for line_number, slug, planted, unit in world["11"]:
        factories.baseline(
            plots["11"], factories.species(slug), planted, line=uid(line_number), unit=unit,
            counted_on=date(2026, 3, 1),
        )  # fmt: skip
    dates = {"opens_on": date(2026, 10, 1), "closes_on": date(2026, 12, 20)}
    return factories.survey_round(project, list(plots.values()), uid=uid(1), **dates)


def test_the_file_a_released_phone_saved_is_taken_in_for_ever(signed_in, ben, golden_world):
    content = (GOLDEN / "unsent_1" / "four_counts_and_a_draft.json").read_bytes()
    page = send(signed_in(ben), content).content.decode()
    assert Submission.objects.filter(source="file").count() == 3
    assert "3 counts were stored now." in page
    assert "1 was refused." in page
    assert "and flagged: more alive than were planted" in page
    assert "1 count in the file was not finished on the phone" in page
    assert "old phone, saved on 25 November 2026" in page
    stored = json.loads(content)["items"]
    assert Submission.objects.get(seq=1).body == stored[0]["body"]
    assert Visit.objects.get(uid=stored[1]["id"]).is_counting
    again = send(signed_in(ben), content).content.decode()
    assert "0 counts were stored now." in again
    assert "3 were already here." in again
    assert Submission.objects.count() == 3
    assert RefusedItem.objects.count() == 1


def test_a_count_the_phone_sends_later_after_all_is_not_stored_twice(
    signed_in, ben, plots, baselines, survey_round
):
    count = item(visit_body(plots[0], survey_round, [line(baselines[0], 18)]))
    send(signed_in(ben), saved(count))
    assert [told.outcome for told in log.append_items(member_actor(ben), [count])] == ["already"]


def test_each_count_is_named_by_its_plot_and_day_with_what_became_of_it(
    signed_in, ben, plots, baselines, survey_round
):
    good = item(visit_body(plots[0], survey_round, [line(baselines[0], 18)]))
    unknown = item({**visit_body(plots[1], survey_round), "plot": str(uid(9999))})
    page = send(signed_in(ben), saved(good, unknown)).content.decode()
    assert "1. Plot N1, North slope, 14 September 2025" in " ".join(page.split())
    assert "2. a plot we do not know, 14 September 2025" in " ".join(page.split())
    assert "This plot is not one you may count." in page
    assert RefusedItem.objects.get().source == "file"


def test_what_is_no_record_is_refused_by_itself_and_the_others_are_stored(
    signed_in, ben, plots, baselines, survey_round
):
    good = item(visit_body(plots[0], survey_round, [line(baselines[0], 18)]))
    odd = ["text", 7, None, {"id": "x"}, {"id": str(good.id), "kind": 3}, {"id": {"a": 1}}]
    file = saved(good)
    file["items"] += odd
    page = send(signed_in(ben), file).content.decode()
    assert "1 count was stored now." in page
    assert "6 were refused." in page


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "The file is empty"),
        (b"  \n", "The file is empty"),
        (b"plot,species,alive\nN1,oak,3", "cannot be read"),
        (b'{"format": "tallygrove-unsent/1", "items": [', "cannot be read"),
        (b"\xff\xfe{}", "cannot be read"),
        (b"[" * 100_000, "cannot be read"),
        (b"[]", "not saved by the phone form"),
        (b'{"type": "FeatureCollection"}', "not saved by the phone form"),
        (b'{"format": {"a": 1}}', "not saved by the phone form"),
        (b'{"format": "tallygrove-unsent/2", "items": []}', "newer phone form"),
        (b'{"format": "tallygrove-unsent/1"}', "no list of counts"),
        (b'{"format": "tallygrove-unsent/1", "items": {"a": 1}}', "no list of counts"),
    ],
)
def test_another_file_is_refused_with_what_to_do_and_nothing_is_stored(signed_in, ben, content, words):
    answer = send(signed_in(ben), content)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not Submission.objects.exists()
    assert not RefusedItem.objects.exists()


def test_no_file_and_too_many_or_too_much_are_refused(signed_in, ben, monkeypatch, plots, survey_round):
    browser = signed_in(ben)
    assert "Choose the file the phone saved" in browser.post(ADDRESS, {}).content.decode()
    monkeypatch.setattr(unsent, "MOST_RECORDS", 1)
    two = saved(item(visit_body(plots[0], survey_round)), item(visit_body(plots[1], survey_round)))
    assert "holds 2 counts; at most 1" in send(browser, two).content.decode()
    large = json.dumps(saved(note="x" * unsent.MOST_BYTES)).encode()
    answer = send(browser, large)
    assert answer.status_code == 422
    assert "larger than the 4 MB" in answer.content.decode()
    assert send(browser, b" " * (unsent.MOST_BYTES + 100_000)).status_code == 413
    assert not Submission.objects.exists()


def test_a_file_without_counts_says_so(signed_in, ben):
    assert "The file holds no unsent count" in send(signed_in(ben), saved()).content.decode()


@pytest.mark.parametrize(
    "parts",
    [
        {"pass": {"label": "<b>\ud800</b>"}, "saved_at": "\ud800", "drafts": "many"},
        {"pass": None, "saved_at": 7, "drafts": None},
        {"pass": {"label": {"a": 1}}, "saved_at": "2025-13-45T99:00:00Z"},
    ],
)
def test_what_the_file_says_of_itself_may_be_anything(signed_in, ben, parts):
    answer = send(signed_in(ben), saved(**parts))
    assert answer.status_code == 200
    assert "<b>" not in answer.content.decode()


def test_a_lead_limited_to_projects_takes_in_only_their_counts(
    signed_in, hill, plots, survey_round, project, site
):
    elsewhere = factories.project(hill)
    lead = factories.member(hill, "field_lead", projects=[elsewhere])
    page = send(signed_in(lead), saved(item(visit_body(plots[0], survey_round)))).content.decode()
    assert "This plot is not one you may count." in page
    assert "North slope" not in page
    assert not Submission.objects.exists()


def test_counts_are_taken_in_batches_and_named_with_few_queries(
    signed_in, ben, plots, survey_round, monkeypatch
):
    sizes = []
    real = unsent.append_entries
    monkeypatch.setattr(
        unsent, "append_entries", lambda actor, batch, **more: sizes.append(len(batch)) or real(actor, batch, **more)
    )  # fmt: skip
    records = [item({**visit_body(plots[0], survey_round), "plot": "nowhere"}) for _ in range(103)]
    send(signed_in(ben), saved(*records))
    assert sizes == [50, 50, 3]
