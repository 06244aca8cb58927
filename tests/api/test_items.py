"""Posting field items: each has its own outcome, nothing is lost, nothing doubled, nothing overwritten."""

import json
from datetime import date

import pytest

from monitoring.models import Case, CountLine, Visit
from projects.identifiers import uuid7
from projects.models import RefusedItem, Submission, SubmissionPersonal
from projects.services import chain
from tests import factories
from tests.api.conftest import problem
from tests.api.wire import visit_body, wire
from tests.field_log.visits import correction, line

pytestmark = pytest.mark.django_db
ITEMS = "/api/v1/field/items"


@pytest.fixture
def visit(plots, baselines, survey_round):
    """Return a maker of a good record of the first plot."""
    return lambda alive=14, **fields: {
        **visit_body(plots[0], survey_round, [line(baselines[0], alive)]),
        **fields,
    }


# --- idempotency ----------------------------------------------------------------------------
def test_a_visit_is_stored_and_numbered(phone, send, visit, hill):
    body = visit()
    assert send(phone, wire(body, personal='{"author":"a volunteer"}')) == [
        {"id": body["visit"], "outcome": "stored", "seq": 1}
    ]
    kept = Submission.objects.get()
    assert (kept.body, kept.source) == (json.dumps(body, default=str), "phone")
    assert SubmissionPersonal.objects.get().personal == '{"author":"a volunteer"}'
    assert CountLine.objects.get().alive == 14
    assert list(chain.breaks(hill)) == []


def test_the_same_item_again_is_answered_already_with_its_number(phone, send, visit):
    item = wire(visit())
    first = send(phone, item)
    assert send(phone, item, item) == [
        {"id": item["id"], "outcome": "already", "seq": first[0]["seq"]},
        {"id": item["id"], "outcome": "already", "seq": first[0]["seq"]},
    ]
    assert (Submission.objects.count(), Visit.objects.count()) == (1, 1)


def test_an_id_used_for_other_bytes_is_told_and_the_first_stays(phone, send, visit):
    body = visit(14)
    send(phone, wire(body))
    (outcome,) = send(phone, wire({**body, "lines": [{**body["lines"][0], "alive": 3}]}))
    assert outcome["outcome"] == "id_reused"
    assert (outcome["problem"]["status"], outcome["problem"]["code"]) == (409, "id_reused")
    assert CountLine.objects.get().alive == 14


def test_one_poison_item_among_fifty_leaves_the_other_forty_nine(phone, send, hill, oak, block, project):
    plots = [factories.plot(block) for _ in range(50)]
    survey_round = factories.survey_round(project, plots)
    factories.m.FieldPassRound.objects.create(
        organisation=hill, field_pass=factories.p.FieldPass.objects.get(), round=survey_round
    )
    bodies = [visit_body(plot, survey_round, [line(factories.baseline(plot, oak), 9)]) for plot in plots]
    bodies[23]["lines"][0]["alive"] = "nine"
    outcomes = send(phone, *(wire(body) for body in bodies))
    assert [one["outcome"] for one in outcomes].count("stored") == 49
    assert outcomes[23]["outcome"] == "rejected"
    assert outcomes[23]["problem"]["errors"][0]["pointer"] == "/lines/0/alive"
    assert Submission.objects.count() == 49
    assert list(chain.breaks(hill)) == []


def test_a_fault_of_ours_in_one_item_keeps_the_others_and_asks_for_a_retry(
    phone, send, visit, plots, monkeypatch
):
    from monitoring.services import projection

    real = projection.write_visit

    def broken_for_the_second_plot(submission, parsed):
        if parsed.plot == plots[1]:
            raise KeyError("a fault of ours")
        return real(submission, parsed)

    monkeypatch.setattr(projection, "write_visit", broken_for_the_second_plot)
    poison = visit(plot=str(plots[1].uid))
    outcomes = send(phone, wire(poison), wire(visit()))
    assert [one["outcome"] for one in outcomes] == ["retry", "stored"]
    assert outcomes[0]["after_s"] > 0
    assert [one.client_id for one in Submission.objects.all()] == [Visit.objects.get().uid]


# --- what is refused ------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("key", "value"),
    [("alive", -1), ("alive", 3.5), ("alive", "12"), ("alive", True), ("alive", 10**30), ("alive", 1e300),
     ("dead_stem", -2), ("not_found", "two"), ("heights_cm", [-1]), ("heights_cm", "tall"),
     ("signs", {"eaten": 1}), ("signs", {"bitten": -1}), ("unit", "forest"), ("spots", [{"status": "gone"}])],
)  # fmt: skip
def test_a_value_that_is_no_count_is_refused_by_its_place_and_kept(phone, send, visit, key, value):
    body = visit()
    body["lines"][0][key] = value
    (outcome,) = send(phone, wire(body))
    assert outcome["outcome"] == "rejected"
    assert outcome["problem"]["code"] == "body_invalid"
    assert outcome["problem"]["errors"][0]["pointer"].startswith(f"/lines/0/{key}")
    kept = RefusedItem.objects.get()
    assert (kept.client_id, json.loads(kept.body)) == (body["visit"], json.loads(json.dumps(body)))
    assert (Submission.objects.count(), Visit.objects.count()) == (0, 0)


def test_the_same_refused_bytes_are_kept_once(phone, send, visit):
    item = wire({**visit(), "status": "lost"})
    assert [send(phone, item)[0]["outcome"] for _ in range(3)] == ["rejected"] * 3
    assert RefusedItem.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "code", "pointer"),
    [
        ({"plot": str(uuid7())}, "plot_unknown", "/plot"),
        ({"round": str(uuid7())}, "round_unknown", "/round"),
        ({"observed_on": "yesterday"}, "body_invalid", "/observed_on"),
        ({"status": "asleep"}, "body_invalid", "/status"),
        ({"parents": "none"}, "body_invalid", "/parents"),
    ],
)
def test_what_cannot_be_attributed_is_refused(phone, send, visit, changes, code, pointer):
    (outcome,) = send(phone, wire(visit(**changes)))
    assert (outcome["outcome"], outcome["problem"]["code"]) == ("rejected", code)
    assert outcome["problem"]["errors"][0]["pointer"].startswith(pointer)


def test_an_unknown_species_is_refused_by_its_name(phone, send, visit):
    body = visit()
    body["lines"][0]["species"] = "quercus-imaginaria"
    (outcome,) = send(phone, wire(body))
    assert outcome["problem"]["code"] == "species_unknown"
    assert outcome["problem"]["errors"] == [
        {"pointer": "/lines/0/species", "detail": outcome["problem"]["errors"][0]["detail"]}
    ]
    assert "quercus-imaginaria" in outcome["problem"]["detail"]


@pytest.mark.parametrize("text", ["", "{", "[]", "null", "7", '"text"', "{}", '{"visit": NaN}', "[" * 5000])
def test_a_body_that_is_no_record_is_refused_and_kept(phone, send, text):
    item = wire(text, id=uuid7())
    (outcome,) = send(phone, item)
    assert outcome["outcome"] == "rejected"
    assert RefusedItem.objects.get().body == text


@pytest.mark.parametrize(
    ("changes", "code"),
    [({"sha256": "0" * 64}, "digest_differs"), ({"sha256": "x"}, "digest_differs"),
     ({"kind": "photo"}, "kind_unknown"), ({"schema": "visit/9"}, "schema_unknown"),
     ({"kind": "v" * 500}, "kind_unknown")],
)  # fmt: skip
def test_a_damaged_or_unknown_record_is_refused_and_kept(phone, send, visit, changes, code):
    (outcome,) = send(phone, wire(visit(), **changes))
    assert (outcome["outcome"], outcome["problem"]["code"]) == ("rejected", code)
    assert RefusedItem.objects.count() == 1


# --- envelopes ------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("changes", "pointer"),
    [({"id": "7"}, "/id"), ({"id": 7}, "/id"), ({"id": {"a": 1}}, "/id"), ({"id": "\ud800"}, "/id"),
     ({"body": {"visit": 1}}, "/body"), ({"body": None}, "/body"), ({"body": "a\x00b"}, "/body"),
     ({"body": "half \ud83d"}, "/body"), ({"kind": 3}, "/kind"), ({"schema": None}, "/schema"),
     ({"sha256": []}, "/sha256"), ({"personal": {"author": "x"}}, "/personal"), ({"personal": "\x00"}, "/personal")],
)  # fmt: skip
def test_a_bad_envelope_is_that_items_outcome_and_is_kept(
    phone, visit, plots, survey_round, changes, pointer
):
    bad, good = {**wire(visit()), **changes}, wire(visit_body(plots[1], survey_round))
    response = phone.post(ITEMS, json.dumps({"items": [bad, good]}), content_type="application/json")
    refused, stored = response.json()["outcomes"]
    assert (refused["outcome"], refused["problem"]["code"]) == ("rejected", "envelope_invalid")
    assert pointer in [error["pointer"] for error in refused["problem"]["errors"]]
    assert stored["outcome"].startswith("stored")
    assert RefusedItem.objects.count() == 1


@pytest.mark.parametrize("entry", [None, 3, "text", [], {}, {"body": "{}"}])
def test_an_item_without_any_id_is_refused_without_one(phone, entry):
    response = phone.post(ITEMS, {"items": [entry]}, content_type="application/json")
    (outcome,) = response.json()["outcomes"]
    assert (outcome["id"], outcome["outcome"]) == (None, "rejected")
    assert RefusedItem.objects.count() == 0


def test_a_missing_key_is_named_and_the_body_is_kept(phone, send, visit):
    item = wire(visit())
    del item["sha256"]
    (outcome,) = send(phone, item)
    assert outcome["problem"]["errors"][0]["pointer"] == "/sha256"
    assert RefusedItem.objects.get().body == item["body"]


@pytest.mark.parametrize("content", [{}, [], {"items": {}}, {"items": "many"}, "items", 5, None])
def test_a_body_without_a_list_of_items_is_refused_whole(phone, content):
    response = phone.post(ITEMS, json.dumps(content), content_type="application/json")
    assert problem(response, 400, "items_missing")["errors"][0]["pointer"] == "/items"


def test_no_items_is_an_empty_answer(phone, send):
    assert send(phone) == []


def test_fifty_one_items_are_too_many_and_none_is_stored(phone, visit):
    response = phone.post(
        ITEMS, {"items": [wire(visit()) for _ in range(51)]}, content_type="application/json"
    )
    problem(response, 413, "too_many_items")
    assert Submission.objects.count() == 0


def test_256_kib_is_the_limit_to_the_byte(phone, visit):
    frame = len(json.dumps({"items": [wire(visit(), personal="")]}))
    limit = 256 * 1024
    fits = json.dumps({"items": [wire(visit(), personal="p" * (limit - frame))]})
    assert len(fits) == limit
    assert (
        phone.post(ITEMS, fits, content_type="application/json").json()["outcomes"][0]["outcome"] == "stored"
    )
    problem(phone.post(ITEMS, fits + " ", content_type="application/json"), 413, "too_large")


# --- what is stored and flagged -------------------------------------------------------------
@pytest.mark.parametrize(
    ("alive", "changes", "flag"),
    [(21, {}, "over_baseline"), (14, {"observed_on": "2199-01-01"}, "future_date"),
     (14, {"observed_on": "2023-01-01"}, "before_planting"), (14, {"observed_on": "2025-11-30"}, "late"),
     (14, {"clock_offset_ms": 10**9}, "clock_skew")],
)  # fmt: skip
def test_what_is_odd_is_stored_and_flagged_with_a_case(phone, send, visit, alive, changes, flag):
    (outcome,) = send(phone, wire(visit(alive, **changes)))
    assert (outcome["outcome"], outcome["flags"]) == ("stored_flagged", [flag])
    assert list(Case.objects.values_list("kind", flat=True)) == [flag]
    assert Visit.objects.get().is_counting


def test_a_sum_that_does_not_close_is_flagged(phone, send, plots, baselines, survey_round):
    body = visit_body(plots[0], survey_round, [line(baselines[0], 14, dead_stem=2, not_found=1)])
    assert send(phone, wire(body))[0]["flags"] == ["sum_open"]


def test_a_line_of_an_unknown_baseline_is_flagged(phone, send, visit):
    body = visit()
    body["lines"][0]["baselines"] = [str(uuid7())]
    assert send(phone, wire(body))[0]["flags"] == ["unknown_baseline"]


def test_a_plot_that_was_not_drawn_is_flagged(phone, send, block, oak, survey_round):
    plot = factories.plot(block, "extra")
    body = visit_body(plot, survey_round, [line(factories.baseline(plot, oak), 9)])
    assert send(phone, wire(body))[0]["flags"] == ["not_on_this_round"]


def test_two_people_on_one_plot_are_both_kept_and_flagged(phone, send, visit):
    send(phone, wire(visit(14)))
    assert "second_root" in send(phone, wire(visit(15)))[0]["flags"]
    assert Visit.objects.filter(is_counting=True).count() == 1
    assert Submission.objects.count() == 2


def test_a_correction_replaces_what_counts_and_keeps_what_was_said(phone, send, visit):
    body = visit(14)
    changed, revision = correction(body)
    changed["lines"] = [{**body["lines"][0], "alive": 12}]
    send(phone, wire(body))
    assert send(phone, wire(changed, id=revision))[0]["outcome"] == "stored"
    assert Visit.objects.get(is_counting=True).lines.get().alive == 12
    assert Submission.objects.count() == 2


def test_a_correction_that_arrives_first_is_kept_as_an_orphan_and_joined_later(phone, send, visit):
    body = visit(14)
    changed, revision = correction(body)
    assert "orphan" in send(phone, wire(changed, id=revision))[0]["flags"]
    send(phone, wire(body))
    assert (Visit.objects.get(is_counting=True).uid, Visit.objects.get(is_counting=True).flags) == (
        revision,
        [],
    )


# --- who may --------------------------------------------------------------------------------
def test_another_organisations_plot_is_refused(phone, send, survey_round, other):
    theirs = factories.plot(factories.block(other, factories.project(other), factories.site(other)))
    (outcome,) = send(phone, wire(visit_body(theirs, survey_round)))
    assert (outcome["outcome"], outcome["problem"]["code"]) == ("rejected", "plot_unknown")


def test_a_plot_of_a_project_without_any_right_is_refused(phone, send, hill, site):
    project = factories.project(hill)
    plot = factories.plot(factories.block(hill, project, site))
    (outcome,) = send(phone, wire(visit_body(plot, factories.survey_round(project, [plot]))))
    assert (outcome["outcome"], outcome["problem"]["code"]) == ("rejected", "plot_unknown")


def test_a_round_that_the_pass_does_not_name_is_refused(phone, send, project, plots):
    unnamed = factories.survey_round(project, plots)
    (outcome,) = send(phone, wire(visit_body(plots[0], unnamed)))
    assert outcome["problem"]["code"] == "round_unknown"


def test_a_member_sends_from_the_desk_within_granted_projects(signed_in, vera, send, visit, hill, site):
    assert send(signed_in(vera), wire(visit()))[0]["outcome"] == "stored"
    assert Submission.objects.get().source == "desk"
    ungranted = factories.project(hill)
    plot = factories.plot(factories.block(hill, ungranted, site))
    (outcome,) = send(signed_in(vera), wire(visit_body(plot, factories.survey_round(ungranted, [plot]))))
    assert outcome["problem"]["code"] == "plot_unknown"


def test_a_funder_may_not_send(signed_in, fred, visit):
    response = signed_in(fred).post(ITEMS, {"items": [wire(visit())]}, content_type="application/json")
    problem(response, 403, "forbidden")


def test_the_day_is_judged_by_the_clock_of_the_site(phone, send, visit, site, monkeypatch):
    from datetime import UTC, datetime

    from projects.services import log

    site.time_zone = "Pacific/Auckland"
    site.save()
    monkeypatch.setattr(log.timezone, "now", lambda: datetime(2025, 9, 13, 20, tzinfo=UTC))
    assert date(2025, 9, 14).isoformat() == visit()["observed_on"]
    assert send(phone, wire(visit()))[0]["outcome"] == "stored"
