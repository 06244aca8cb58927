"""Whatever arrives: an answer in JSON, one outcome for each item, and either all of a record's rows or none."""

import json
import os

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitoring.models import CountLine, PlotBaseline, RegenerationLine, Removal, Visit
from projects.identifiers import uuid7
from projects.models import RefusedItem, Submission
from projects.services import chain
from tests.api.wire import visit_body, wire
from tests.field_log.visits import line

pytestmark = pytest.mark.django_db
ITEMS = "/api/v1/field/items"
WORDS = ["", "counted", "destroyed", "missing", "unsafe", "tree", "seed_spot", "quercus-robur", "2025-09-14", "alive",
         "0", "\x00", "\ud800", "½", "0000-00-00", "9999-12-31", "at_planting", "lower"]  # fmt: skip
KEYS = [
    "visit", "parents", "plot", "round", "purpose", "observed_on", "status", "reason", "baselines", "lines",
    "removals", "regeneration", "clock_offset_ms", "uid", "species", "cohort", "planted", "unit", "source",
    "counted_on", "alive", "dead_stem", "not_found", "not_assessed", "resprout", "signs", "heights_cm",
    "spots", "spot", "bitten", "baseline", "removed_on", "alive_removed", "height_class", "count", "capped",
    "subplot_area_m2", "name", "seedlings",
]  # fmt: skip
scalars = st.one_of(
    st.none(), st.booleans(), st.integers(-3, 30), st.integers(), st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from(WORDS), st.text(max_size=12), st.uuids().map(str),
)  # fmt: skip
anything = st.recursive(
    scalars,
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.sampled_from(KEYS) | st.text(max_size=5), inner, max_size=5)
    ),
    max_leaves=12,
)
relaxed = settings(
    max_examples=int(os.environ.get("TALLYGROVE_FUZZ_EXAMPLES", "60")),
    deadline=None,
    derandomize="TALLYGROVE_FUZZ_EXAMPLES" not in os.environ,  # the short form is the same each time
    suppress_health_check=[
        HealthCheck.function_scoped_fixture,
        HealthCheck.too_slow,
        HealthCheck.data_too_large,
    ],
)


def post(phone, content: str) -> dict:
    response = phone.generic(
        "POST", ITEMS, content.encode("utf-8", "replace"), content_type="application/json"
    )
    assert response.status_code in (200, 400, 413)
    return response.json()


def hold_whole(hill) -> None:
    """Nothing is half written: the chain holds, and rows exist for stored records only."""
    stored = set(Submission.objects.values_list("client_id", flat=True))
    assert set(Visit.objects.values_list("uid", flat=True)) == stored
    for rows in (CountLine, RegenerationLine, Removal):
        assert set(rows.objects.values_list("visit__uid", flat=True)) <= stored
    seqs = set(Submission.objects.values_list("seq", flat=True))
    assert (
        set(PlotBaseline.objects.exclude(submission_seq=None).values_list("submission_seq", flat=True))
        <= seqs
    )
    assert list(chain.breaks(hill)) == []


def paths_of(value, path=()):
    """Yield the place of every value inside a record."""
    children = (
        value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    )
    for key, child in children:
        yield (*path, key)
        yield from paths_of(child, (*path, key))


def changed(body: dict, path: tuple, value) -> dict:
    """Return a copy of a record with one value put in another's place."""
    copy = json.loads(json.dumps(body))
    place = copy
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    return copy


@pytest.fixture
def whole_body(plots, baselines, survey_round):
    """A record with something in every part."""
    full = line(
        baselines[0], 9, dead_stem=2, resprout=1, signs={"bitten": 1}, heights_cm=[40], unit="tree",
        not_found=None, spots=[{"spot": "A1", "status": "alive"}],
    )  # fmt: skip
    new = {"uid": str(uuid7()), "species": "quercus-robur", "cohort": None, "planted": 5, "unit": "tree",
           "source": "later", "counted_on": "2025-09-14"}  # fmt: skip
    young = {
        "species": "quercus-robur",
        "name": "",
        "height_class": "lower",
        "count": 3,
        "capped": False,
        "subplot_area_m2": 4,
    }
    gone = {
        "baseline": str(baselines[0].line),
        "removed_on": "2025-09-01",
        "alive_removed": 1,
        "reason": "other",
    }
    body = visit_body(plots[0], survey_round, [full], baselines=[new], regeneration=[young], removals=[gone])
    return json.loads(json.dumps(body))


def test_one_value_of_a_record_replaced_by_anything(phone, hill, whole_body):
    places, seen = list(paths_of(whole_body)), set()

    @relaxed
    @given(st.sampled_from(places), anything)
    def check(path, value):
        body = changed(whole_body, path, value)
        sent = wire(body, id=uuid7())
        (outcome,) = post(phone, json.dumps({"items": [sent]}))["outcomes"]
        assert outcome["outcome"] in ("stored", "stored_flagged", "rejected")
        seen.add(outcome["outcome"])
        if outcome["outcome"] == "rejected":
            assert outcome["problem"]["errors"]
            assert RefusedItem.objects.filter(client_id=sent["id"]).exists()

    check()
    assert seen >= {"stored_flagged", "rejected"}
    hold_whole(hill)


def test_a_body_of_anything(phone, hill, whole_body):
    @relaxed
    @given(st.dictionaries(st.sampled_from(KEYS), anything, max_size=14))
    def check(parts):
        sent = wire(whole_body | parts, id=uuid7())
        (outcome,) = post(phone, json.dumps({"items": [sent]}))["outcomes"]
        assert outcome["outcome"] in ("stored", "stored_flagged", "rejected")

    check()
    hold_whole(hill)


def test_an_envelope_of_anything(phone, hill, whole_body):
    good = wire(whole_body)

    @relaxed
    @given(
        st.dictionaries(st.sampled_from(sorted(good)), anything, max_size=4),
        st.sets(st.sampled_from(sorted(good))),
    )
    def check(parts, missing):
        sent = {key: value for key, value in {**good, **parts}.items() if key not in missing}
        (outcome,) = post(phone, json.dumps({"items": [sent]}))["outcomes"]
        assert outcome["outcome"] in ("stored", "stored_flagged", "already", "id_reused", "rejected")

    check()
    hold_whole(hill)


def test_a_request_of_anything(phone, hill):
    @relaxed
    @given(
        st.one_of(
            anything.map(json.dumps), st.text(), st.fixed_dictionaries({"items": anything}).map(json.dumps)
        )
    )
    def check(content):
        told = post(phone, content)
        assert "outcomes" in told or told["code"]

    check()
    hold_whole(hill)


def test_any_text_as_a_body(phone, hill):
    @relaxed
    @given(st.text(max_size=60))
    def check(text):
        storable = text.encode("utf-8", "replace").decode()
        (outcome,) = post(phone, json.dumps({"items": [wire(storable, id=uuid7())]}))["outcomes"]
        assert outcome["outcome"] == "rejected"

    check()
    hold_whole(hill)
