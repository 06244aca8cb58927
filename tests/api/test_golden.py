"""Every record a released phone can hold is accepted for ever, and means what it always meant.

Each file of tests/golden/visit_1 is one item as it travels; visit_1_expects.json says what must become of it.
A file is never changed; a new form of record is a new file.
"""

import json
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest

from monitoring.models import PlotBaseline, Removal, Visit
from monitoring.services import projection
from projects.models import Submission
from projects.services import chain, log
from tests import factories
from tests.api.conftest import SECRET

pytestmark = pytest.mark.django_db

GOLDEN = Path(__file__).parent.parent / "golden"
RECORDS = {
    path.stem: json.loads(path.read_text("utf-8")) for path in sorted((GOLDEN / "visit_1").glob("*.json"))
}
EXPECTED = json.loads((GOLDEN / "visit_1_expects.json").read_text("utf-8"))
WORLD = EXPECTED.pop("world")


def uid(number: int | str) -> UUID:
    return UUID(f"01990000-0000-7000-8000-{int(number):012d}")


@pytest.fixture
def clock(monkeypatch):
    """The day after the crews were out."""
    monkeypatch.setattr(log.timezone, "now", lambda: datetime(2026, 11, 26, 9, tzinfo=UTC))


@pytest.fixture
def golden_phone(hill, project, block, client, clock):
    """Return a phone in the world of the records, with the baselines of one plot."""
    dates = {"opens_on": date(2026, 10, 1), "closes_on": date(2026, 12, 20)}
    plots = {number: factories.plot(block, f"Plot {number}", uid=uid(number)) for number in WORLD}
    survey_round = factories.survey_round(project, list(plots.values()), uid=uid(1), **dates)
    for slug in ("quercus-robur", "betula-pubescens", "quercus-suber"):
        factories.species(slug)
    factories.field_pass(survey_round, secret=SECRET)
    client.cookies["tg_field"] = SECRET

    def with_baselines_of(plot: UUID):
        for number, lines in WORLD.items():
            for line, slug, planted, unit in lines if uid(number) == plot else ():
                factories.baseline(
                    plots[number],
                    factories.species(slug),
                    planted,
                    line=uid(line),
                    unit=unit,
                    counted_on=date(2026, 3, 1),
                )
        return client

    return with_baselines_of


def post(client, item: dict[str, Any]) -> dict[str, Any]:
    response = client.post("/api/v1/field/items", {"items": [item]}, content_type="application/json")
    assert response.status_code == 200
    return response.json()["outcomes"][0]


def told(visit: Visit) -> dict[str, Any]:
    """Return what a stored visit says, in the words of the expectations."""
    lines = [{**vars(line), "species": line.species.slug} for line in visit.lines.select_related("species")]
    regeneration = [
        {**vars(row), "species": row.species.slug if row.species else None}
        for row in visit.regeneration.select_related("species")
    ]
    removals = [
        {"line": row.baseline_line, "removed_on": row.removed_on.isoformat(), "alive_removed": row.alive_removed,
         "reason": row.reason} for row in visit.removals.all()
    ]  # fmt: skip
    return {
        "status": visit.status, "reason": visit.reason, "purpose": visit.purpose, "lines": lines,
        "regeneration": regeneration, "removals": removals,
    }  # fmt: skip


def hold(expected: dict[str, Any], visit: Visit) -> None:
    """Hold a stored visit to what is expected of it."""
    found = told(visit)
    assert found["status"] == expected["status"]
    assert found["reason"] == expected.get("reason", "")
    assert found["purpose"] == expected.get("purpose", "survival")
    for part in ("lines", "regeneration", "removals"):
        wanted = expected.get(part, [])
        assert len(found[part]) == len(wanted)
        for row, want in zip(found[part], wanted, strict=True):
            want = {**want, **({"line": uid(want["line"])} if "line" in want else {})}
            assert {key: row[key] for key in want} == want
    baselines = PlotBaseline.objects.filter(submission_seq=visit.submission_seq).order_by("line")
    wanted = expected.get("baselines", [])
    assert [
        {
            "line": row.line,
            "species": row.species.slug,
            "planted": row.planted,
            "source": row.source,
            "unit": row.unit,
        }
        for row in baselines
    ] == [{**want, "line": uid(want["line"])} for want in wanted]


def test_every_record_has_its_expectation():
    assert set(RECORDS) == set(EXPECTED)
    assert len(RECORDS) >= 20


@pytest.mark.parametrize("name", RECORDS)
def test_the_digest_of_a_record_is_that_of_its_body(name):
    item = RECORDS[name]
    assert item["sha256"] == chain.sha256_text(item["body"])
    assert (item["kind"], item["schema"]) == ("visit", "visit/1")


@pytest.mark.parametrize("name", RECORDS)
def test_a_record_means_what_it_always_meant(golden_phone, hill, name):
    item, expected = RECORDS[name], EXPECTED[name]
    phone = golden_phone(UUID(json.loads(item["body"])["plot"]))
    for earlier in expected.get("before", []):
        assert post(phone, RECORDS[earlier])["outcome"].startswith("stored")
    outcome = post(phone, item)
    assert (outcome["outcome"], outcome.get("flags", [])) == (expected["outcome"], expected.get("flags", []))
    if expected["outcome"] == "rejected":
        assert expected["pointer"] in [error["pointer"] for error in outcome["problem"]["errors"]]
        assert Submission.objects.count() == 0
        return
    stored = Submission.objects.get(client_id=item["id"])
    assert (stored.body, stored.body_sha256) == (item["body"], item["sha256"])
    hold(expected, Visit.objects.get(uid=item["id"]))
    assert post(phone, item)["outcome"] == "already"
    projection.rebuild(hill)
    hold(expected, Visit.objects.get(uid=item["id"]))
    assert Visit.objects.get(is_head=True).uid == UUID(item["id"])
    assert list(chain.breaks(hill)) == []
    assert Removal.objects.count() == len(expected.get("removals", []))
