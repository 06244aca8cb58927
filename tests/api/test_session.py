"""Phones signing in and off, and what a session is told."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from api.rate_limit import MOST_WRONG_CODES
from monitoring.services import passes
from projects.models import FieldPass, HistoryEntry
from tests import factories
from tests.api.conftest import SECRET, problem

pytestmark = pytest.mark.django_db
SESSION, ENROL, LEAVE = "/api/v1/session", "/api/v1/field/enrol", "/api/v1/field/leave"


@pytest.fixture
def issued(actor, survey_round) -> passes.Issued:
    return passes.issue(actor=actor, rounds=[survey_round], person_name="A volunteer", label="blue phone")


def enrol(client: Client, code: str, **fields):
    return client.post(ENROL, {"code": code, **fields}, content_type="application/json")


def wary_client() -> tuple[Client, str]:
    """Return a client that checks CSRF as a real one is checked, with its token."""
    client = Client(enforce_csrf_checks=True)
    return client, client.get(SESSION).json()["csrf_token"]


# --- session --------------------------------------------------------------------------------
def test_a_stranger_is_told_so_and_gets_a_token():
    response = Client().get(SESSION)
    told = response.json()
    assert (told["authenticated"], told["organisation"], told["pass"]) == (False, None, None)
    assert told["csrf_token"] and told["server_time"]
    assert response["Cache-Control"] == "no-store"


def test_a_phone_is_told_its_pass(phone, field_pass, hill):
    told = phone.get(SESSION).json()
    assert told["authenticated"]
    assert told["organisation"] == {"slug": "hill", "name": hill.name}
    assert told["pass"]["uid"] == str(field_pass.uid)
    assert set(told["pass"]) == {"uid", "label", "expires_at"}


def test_a_member_is_told_the_organisation(signed_in, ana):
    told = signed_in(ana).get(SESSION).json()
    assert (told["authenticated"], told["organisation"]["slug"], told["pass"]) == (True, "hill", None)


def test_a_member_of_two_organisations_says_which(signed_in, ana, other):
    factories.p.Membership.objects.create(
        organisation=other, user=ana.user, role="volunteer",
        person=factories.p.Person.objects.create(organisation=other, user=ana.user),
    )  # fmt: skip
    client = signed_in(ana)
    assert client.get(SESSION).json()["organisation"] is None
    problem(client.get("/api/v1/field/pack"), 400, "organisation_needed")
    assert client.get("/api/v1/field/pack?organisation=hill").json()["organisation"]["slug"] == "hill"
    problem(client.get("/api/v1/field/pack?organisation=elsewhere"), 404, "not_found")


# --- enrolling ------------------------------------------------------------------------------
def test_a_code_becomes_a_cookie_that_scripts_cannot_read(issued):
    client = Client()
    response = enrol(client, issued.code, device="A phone")
    assert response.json()["pass"]["label"] == "blue phone"
    cookie = response.cookies["tg_field"]
    assert (cookie["httponly"], cookie["samesite"], cookie["path"], cookie["secure"]) == (
        True,
        "Lax",
        "/",
        "",
    )
    assert len(cookie.value) >= 22  # 128 bits take 22 characters of base64
    assert client.get(SESSION).json()["authenticated"]
    assert cookie.value not in response.content.decode()


def test_the_cookie_is_secure_off_loopback(issued, settings):
    settings.ON_LOOPBACK = False
    assert enrol(Client(), issued.code).cookies["tg_field"]["secure"]


def test_only_hashes_are_kept(issued):
    cookie = enrol(Client(), issued.code).cookies["tg_field"].value
    stored = str(FieldPass.objects.values().get())
    assert cookie not in stored
    assert issued.code not in stored and issued.code.replace("-", "") not in stored


def test_a_code_may_be_typed_carelessly(issued):
    assert enrol(Client(), f" {issued.code.lower().replace('-', ' ').replace('0', 'o')} ").status_code == 200


def test_a_code_works_once(issued):
    assert enrol(Client(), issued.code).status_code == 200
    told = problem(enrol(Client(), issued.code), 400, "code_unknown")
    assert "ask your field lead" in told["detail"]
    assert told["errors"][0]["pointer"] == "/code"


def test_a_code_expires(issued):
    FieldPass.objects.update(code_expires_at=timezone.now() - timedelta(seconds=1))
    problem(enrol(Client(), issued.code), 400, "code_expired")


def test_a_code_of_a_pass_that_is_over_has_expired(issued):
    FieldPass.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    problem(enrol(Client(), issued.code), 400, "code_expired")


def test_a_code_of_a_revoked_pass_is_not_known(issued, actor):
    passes.revoke(actor=actor, field_pass=issued.field_pass)
    problem(enrol(Client(), issued.code), 400, "code_unknown")


@pytest.mark.parametrize("code", ["", "-", "A", "ABCDEFGHJK" * 5, "\x00", "ÄÖÜ", "          "])
def test_a_code_that_cannot_be_one_is_refused_in_words(issued, code):
    assert enrol(Client(), code).status_code == 400


@pytest.mark.parametrize(
    "content", [{}, {"code": None}, {"code": 7.5, "device": {}}, {"code": ["x"]}, [], '"x"', None]
)
def test_an_enrolment_without_a_code_names_it(content, issued):
    response = Client().post(ENROL, content, content_type="application/json")
    assert problem(response, 400, "invalid")["errors"]


def test_a_pass_without_a_code_is_never_found_by_an_empty_one(field_pass):
    assert field_pass.code_hash == ""
    assert enrol(Client(), "-").status_code == 400


def test_a_new_enrolment_signs_the_old_phone_off(issued, actor):
    old = Client()
    enrol(old, issued.code)
    again = passes.renew_code(actor=actor, field_pass=issued.field_pass)
    assert old.get(SESSION).json()["authenticated"]
    enrol(Client(), again.code)
    assert not old.get(SESSION).json()["authenticated"]
    problem(old.get("/api/v1/field/pack"), 401, "pass_unknown")


# --- passes that ended ----------------------------------------------------------------------
def test_a_revoked_pass_is_told_in_words_and_keeps_the_counts(phone, field_pass, actor):
    passes.revoke(actor=actor, field_pass=field_pass, reason="Phone was lost")
    response = phone.post("/api/v1/field/items", {"items": []}, content_type="application/json")
    told = problem(response, 401, "pass_revoked")
    assert "your counts stay on this phone" in told["detail"]
    assert response["WWW-Authenticate"].startswith("Cookie")


def test_an_expired_pass_is_told_so(phone, field_pass):
    FieldPass.objects.update(expires_at=timezone.now())
    problem(phone.get("/api/v1/field/pack"), 401, "pass_expired")


def test_an_unknown_cookie_is_told_so():
    client = Client()
    client.cookies["tg_field"] = "made up"
    problem(client.get("/api/v1/field/pack"), 401, "pass_unknown")


def test_a_worn_out_cookie_does_not_stand_in_a_members_way(signed_in, ana, survey_round):
    client = signed_in(ana)
    client.cookies["tg_field"] = "worn out"
    assert client.get("/api/v1/field/pack").status_code == 200


def test_a_phone_reads_no_more_than_its_pack(phone):
    problem(phone.get("/api/v1/o/hill/projects/"), 401, "not_signed_in")


# --- leaving --------------------------------------------------------------------------------
def test_leaving_ends_the_credential_and_clears_the_cookie(phone, field_pass):
    response = phone.post(LEAVE, {}, content_type="application/json")
    assert (response.status_code, response.cookies["tg_field"].value) == (204, "")
    copy = Client()
    copy.cookies["tg_field"] = SECRET
    problem(copy.get("/api/v1/field/pack"), 401, "pass_unknown")
    assert HistoryEntry.objects.get().verb == "field_pass.left"


def test_leaving_twice_is_harmless():
    assert Client().post(LEAVE).status_code == 204


# --- CSRF -----------------------------------------------------------------------------------
@pytest.mark.parametrize("address", [ENROL, LEAVE, "/api/v1/field/items"])
def test_a_change_without_the_token_is_refused(address, field_pass):
    client, _token = wary_client()
    client.cookies["tg_field"] = SECRET
    problem(client.post(address, {}, content_type="application/json"), 403, "csrf_failed")


def test_a_change_from_another_site_is_refused(field_pass):
    client, token = wary_client()
    client.cookies["tg_field"] = SECRET
    headers = {"X-CSRFToken": token, "Origin": "https://elsewhere.example"}
    problem(client.post(LEAVE, {}, content_type="application/json", headers=headers), 403, "csrf_failed")


def test_a_member_needs_the_token_too(ana):
    client, _token = wary_client()
    client.force_login(ana.user, backend="allauth.account.auth_backends.AuthenticationBackend")
    response = client.post("/api/v1/field/items", {"items": []}, content_type="application/json")
    problem(response, 403, "csrf_failed")


def test_with_the_token_of_the_session_a_phone_enrols_and_sends(issued):
    client, token = wary_client()
    headers = {"X-CSRFToken": token}
    response = client.post(ENROL, {"code": issued.code}, content_type="application/json", headers=headers)
    headers = {"X-CSRFToken": response.json()["csrf_token"]}
    sent = client.post("/api/v1/field/items", {"items": []}, content_type="application/json", headers=headers)
    assert sent.json()["outcomes"] == []


# --- guessing -------------------------------------------------------------------------------
def test_guessing_is_slowed_down_and_says_when_to_go_on(issued):
    for _ in range(MOST_WRONG_CODES):
        problem(enrol(Client(), "ABCD-EFGH-JK"), 400, "code_unknown")
    response = enrol(Client(), issued.code)
    problem(response, 429, "too_many_tries")
    assert response["Retry-After"] == "600"
    assert enrol(Client(REMOTE_ADDR="192.0.2.7"), issued.code).status_code == 200


def test_an_address_cannot_be_made_up(issued):
    for number in range(MOST_WRONG_CODES + 1):
        response = Client().post(
            ENROL, {"code": "ABCD-EFGH-JK"}, content_type="application/json",
            headers={"X-Forwarded-For": f"192.0.2.{number}"},
        )  # fmt: skip
    problem(response, 429, "too_many_tries")


def test_a_crew_enrols_behind_one_address(actor, survey_round):
    for _ in range(MOST_WRONG_CODES + 5):
        one = passes.issue(actor=actor, rounds=[survey_round], person_name="A volunteer")
        assert enrol(Client(), one.code).status_code == 200


def test_parallel_tries_are_each_counted():
    from concurrent.futures import ThreadPoolExecutor

    from api.rate_limit import tried

    with ThreadPoolExecutor(8) as pool:
        counts = sorted(pool.map(lambda _number: tried("field-code-tries:test"), range(100)))
    assert counts == list(range(1, 101))
