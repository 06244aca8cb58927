"""Walk as a volunteer's phone does: open the form, enrol with the code, fetch the round's plots."""

import json

from deploy.scripts.browse import Page, Visitor
from deploy.scripts.tally import Tally


def walk(tally: Tally, phone: Visitor, code: str) -> None:
    """Enrol and look at what the phone is given; nothing is counted, so the demo stays as it is."""
    page = phone.get("/field/")
    tally.note(page.status == 200, f"a phone: the form answers {page.status}")
    session = read_json(phone.get("/api/v1/session"))
    tally.note(session.get("authenticated") is False, "a phone: nobody is enrolled before the code is typed")
    refused = enrol(phone, "AAAA-AAAA-AA", session)
    tally.note(refused.status == 400, f"a phone: a wrong code is refused ({refused.status})")
    answer = enrol(phone, code, session)
    tally.note(answer.status == 200, f"a phone: the code enrols it ({answer.status})")
    rounds = read_json(phone.get("/api/v1/field/pack")).get("rounds", [])
    plots = [plot for each in rounds for plot in each["plots"]]
    tally.note(bool(plots), f"a phone: is given {len(plots)} plots in {len(rounds)} rounds")
    again = enrol(Visitor(phone.address), code, {})
    tally.note(
        again.status in {400, 403}, f"a phone: the code does not serve a second phone ({again.status})"
    )


def enrol(phone: Visitor, code: str, session: dict[str, str]) -> Page:
    """Send the code."""
    headers = {"X-CSRFToken": session.get("csrf_token", "")}
    return phone.post_json("/api/v1/field/enrol", {"code": code, "device": "deploy/demo --check"}, headers)


def read_json(page: Page) -> dict:
    """Return what a JSON answer holds, or nothing."""
    try:
        return dict(json.loads(page.body))
    except ValueError:
        return {}
