"""Hard stops of a site: what stands, what is not known, what a manager answers for."""

from datetime import date

import pytest

from projects.calc import readiness as r

TODAY = date(2026, 3, 1)
CLEAR_ANSWERS = {key: "no" if stops_on == "yes" else "yes" for key, stops_on in r.QUESTIONS.items()}
TENURE = r.Agreement("tenure", date(2020, 1, 1))
CONSENT = r.Agreement("community", date(2024, 1, 1), date(2030, 1, 1))


def states(answers=CLEAR_ANSWERS, agreements=(TENURE, CONSENT), overridden=(), today=TODAY):
    return {stop.key: stop.state for stop in r.readiness(answers, agreements, overridden, today).stops}


def test_a_site_with_every_answer_and_both_agreements_is_ready():
    assert set(states().values()) == {"clear"}
    assert r.readiness(CLEAR_ANSWERS, [TENURE, CONSENT], (), TODAY).is_ready


def test_without_an_answer_nothing_is_clear():
    assert set(states(answers={}, agreements=()).values()) == {"unknown"}
    assert not r.readiness({}, [], (), TODAY).is_ready


@pytest.mark.parametrize("key", r.QUESTIONS)
def test_each_question_stops_on_its_own_answer(key):
    stops_on = r.QUESTIONS[key]
    assert states(CLEAR_ANSWERS | {key: stops_on})[key] == "stands"
    assert states(CLEAR_ANSWERS | {key: "not_known"})[key] == "unknown"
    assert states(CLEAR_ANSWERS)[key] == "clear"


def test_unsearched_services_stop_and_searched_ones_do_not():
    assert states(CLEAR_ANSWERS | {"services_checked": "no"})["services_checked"] == "stands"
    assert states(CLEAR_ANSWERS | {"services_checked": "yes"})["services_checked"] == "clear"


@pytest.mark.parametrize(
    ("agreement", "state"),
    [
        (r.Agreement("tenure", date(2026, 3, 1)), "clear"),
        (r.Agreement("tenure", date(2026, 3, 2)), "stands"),
        (r.Agreement("tenure", date(2020, 1, 1), date(2026, 3, 1)), "clear"),
        (r.Agreement("tenure", date(2020, 1, 1), date(2026, 2, 28)), "stands"),
        (r.Agreement("tenure", date(2020, 1, 1), None, date(2026, 3, 1)), "stands"),
        (r.Agreement("tenure", date(2020, 1, 1), None, date(2026, 4, 1)), "clear"),
        (r.Agreement("permit", date(2020, 1, 1)), "unknown"),
    ],
)
def test_tenure_follows_from_the_agreements_in_force(agreement, state):
    assert states(agreements=[agreement])["tenure"] == state


@pytest.mark.parametrize("kind", ["consent", "community", "landholder"])
def test_any_agreement_with_those_who_hold_rights_is_consent_but_a_permit_is_not(kind):
    assert states(agreements=[TENURE, r.Agreement(kind, date(2024, 1, 1))])["consent"] == "clear"
    assert states(agreements=[TENURE, r.Agreement("permit", date(2024, 1, 1))])["consent"] == "unknown"


def test_one_agreement_in_force_beside_an_ended_one_is_enough():
    ended = r.Agreement("tenure", date(2010, 1, 1), date(2019, 1, 1))
    assert states(agreements=[ended, TENURE])["tenure"] == "clear"


def test_an_override_lifts_only_its_own_stop_and_is_not_shown_where_nothing_stops():
    wet = CLEAR_ANSWERS | {"wetland": "yes", "peat": "yes"}
    found = r.readiness(wet, [TENURE, CONSENT], {"wetland", "native_grassland"}, TODAY)
    by_key = {stop.key: stop.state for stop in found.stops}
    assert (by_key["wetland"], by_key["peat"], by_key["native_grassland"]) == (
        "overridden",
        "stands",
        "clear",
    )
    assert [stop.key for stop in found.blocking] == ["peat"]
    assert r.readiness(wet, [TENURE, CONSENT], {"wetland", "peat"}, TODAY).is_ready


def test_an_agreement_that_ends_within_ninety_days_is_said_to():
    def state(expires_on):
        return r.agreement_state(r.Agreement("permit", date(2020, 1, 1), expires_on), TODAY)

    assert state(date(2026, 5, 30)) == "ends_soon"  # 90 days on
    assert state(date(2026, 5, 31)) == "in_force"
    assert state(None) == "in_force"
    assert state(date(2026, 2, 28)) == "ended"
