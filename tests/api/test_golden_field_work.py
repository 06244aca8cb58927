"""Every record of field work a released phone can hold is accepted for ever, and means what it always meant.

Each file of tests/golden/handover_1, walk_1 and care_1 is one item as it travels; field_work_expects.json says
what must become of it. A file is never changed; a new form of record is a new file.
"""

import json
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest

from projects.models import CareTask, FieldPassProject, LotCheck, Paper, Submission, Walk
from projects.services import chain, log
from tests import factories
from tests.api.conftest import SECRET

pytestmark = pytest.mark.django_db

GOLDEN = Path(__file__).parent.parent / "golden"
EXPECTED = json.loads((GOLDEN / "field_work_expects.json").read_text("utf-8"))
NAMES = [f"{folder}/{name}" for folder, records in EXPECTED.items() for name in records]


def uid(number: int) -> UUID:
    return UUID(f"01990000-0000-7000-8000-{number:012d}")


def record(name: str) -> tuple[dict[str, Any], dict[str, Any]]:
    folder, _slash, stem = name.partition("/")
    return json.loads((GOLDEN / f"{name}.json").read_text("utf-8")), EXPECTED[folder][stem]


@pytest.fixture
def golden_phone(hill, project, site, oak, client, monkeypatch):
    """A phone in the world of the records, the day after the crews were out."""
    monkeypatch.setattr(log.timezone, "now", lambda: datetime(2026, 11, 26, 9, tzinfo=UTC))
    block = factories.block(hill, project, site, uid=uid(302))
    lot = factories.lot(hill, oak, uid=uid(301), code="26-014", received_on=date(2026, 11, 24))
    factories.cohort(block, lot, factories.season(hill, year=2026), planted=1, planted_on=date(2026, 11, 24))
    CareTask.objects.create(
        organisation=hill,
        block=block,
        uid=uid(303),
        kind="water",
        what="Water",
        due_by=date(2026, 11, 30),
        amount=120,
    )
    survey_round = factories.survey_round(project, [factories.plot(block)])
    field_pass = factories.field_pass(survey_round, secret=SECRET)
    FieldPassProject.objects.create(organisation=hill, field_pass=field_pass, project=project)
    client.cookies["tg_field"] = SECRET
    return client


def test_every_record_has_its_expectation():
    found = [f"{folder}/{path.stem}" for folder in EXPECTED for path in (GOLDEN / folder).glob("*.json")]
    assert sorted(found) == sorted(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_a_record_means_what_it_always_meant(golden_phone, hill, name, send):
    item, expected = record(name)
    assert item["sha256"] == chain.sha256_text(item["body"])
    (outcome,) = send(golden_phone, item)
    assert (outcome["outcome"], outcome.get("flags", [])) == (expected["outcome"], expected.get("flags", []))
    if expected["outcome"] == "rejected":
        assert [error["pointer"] for error in outcome["problem"]["errors"]] == [expected["pointer"]]
        assert Submission.objects.count() == 0
        return
    stored = Submission.objects.get()
    assert (stored.body, stored.body_sha256) == (item["body"], item["sha256"])
    hold(expected, item)
    assert send(golden_phone, item)[0]["outcome"] == "already"
    hold(expected, item)
    assert list(chain.breaks(hill)) == []


def hold(expected: dict[str, Any], item: dict[str, Any]) -> None:
    """Hold the row a record became to what is expected of it."""
    row: Any = {"handover": LotCheck, "walk": Walk, "care": CareTask}[item["kind"]].objects.get()
    found = {key: shown(getattr(row, key)) for key in expected["row"]}
    assert found == expected["row"]
    if item["kind"] == "walk":
        signs = list(row.sightings.order_by("id"))
        assert len(signs) == len(expected["signs"])
        for sign, want in zip(signs, expected["signs"], strict=True):
            assert {key: getattr(sign, key) for key in want} == want
    assert Paper.objects.count() == expected.get("pictures", 0)


def shown(value: Any) -> Any:
    return value.isoformat() if isinstance(value, date) else value
