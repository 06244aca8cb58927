"""Walk the demo's pages as each of its people and say of each whether it shows what it must.

What must be seen comes from `manage.py demo_facts --json --code`, which reads it from the database: `people`,
`figures` (name -> as a page writes it), `beats` of the story (person, path, expect) and `phone_code`; `share` is
the funder's address that loading printed.
"""

import re
import urllib.parse
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from deploy.scripts import walk_phone
from deploy.scripts.browse import Page, Visitor, tidy
from deploy.scripts.tally import Tally

SLOW_S = 1.0
PAGES_A_PERSON = 150
ALIKE = 3  # pages of one kind that are opened
SHARED_PAGE_SAYS = ("Serra Clara Commons", "River Edge", "{survival_south_bank_strip}", "South bank strip")
IDENTIFIER = re.compile(r"[0-9a-f]{8}-[0-9a-f-]{27}|\d+")


@dataclass(frozen=True)
class Stop:
    """One thing to look at: who goes, where from, through which links, and what must be read there."""

    person: str
    start: str
    follow: tuple[str, ...] = ()
    expect: tuple[str, ...] = ()


# How people find their way: `{slug}` is the person's organisation, `{name}` a figure of demo_facts.
HOME, MANAGER, FUNDER = "/o/{slug}/", "serra_manager", "serra_funder"
STOPS = (
    Stop(MANAGER, HOME, (), ("What needs deciding", "Vale do Sabugal Velho")),
    Stop(
        MANAGER, HOME, ("Sites", "Ribeira da Moita", "North bank strip"),
        ("{survival_north_bank_strip}", "falls short"),
    ),
    Stop(MANAGER, HOME, ("Rounds", "River Edge, autumn 2026"), ("{survival_ash_meadow}", "meets target")),
    Stop(MANAGER, HOME, ("Stock", "QP-23-A"), ("Quercus pyrenaica",)),
    Stop(MANAGER, "/o/{slug}/species/?q=pyrenaica", ("Quercus pyrenaica",), ("from memory, check locally",)),
    Stop(MANAGER, HOME, ("Summaries", "Autumn 2026"), ("{survival_south_bank_strip}",)),
    Stop(MANAGER, HOME, ("People",), ("Field lead, north",)),
    Stop("serra_lead", HOME, ("Rounds", "Terraces to Oak, autumn 2026"), ("Lower terraces",)),
    Stop("serra_volunteer", HOME, ("Rounds", "Terraces to Oak, autumn 2026"), ("Lower terraces",)),
    Stop(FUNDER, HOME, ("Summaries", "Autumn 2026"), ("{survival_south_bank_strip}",)),
    Stop("kimbaru_manager", HOME, ("Sites",), ("Kimbaru",)),
)  # fmt: skip


def walk(address: str, facts: dict[str, Any]) -> int:
    """Walk as everybody; return 0 when everything was as it must be."""
    tally = Tally()
    strangers_wait_outside(tally, address)
    for person in facts["people"]:
        visitor = Visitor(address)
        if front_door(tally, visitor, person):
            other_organisation_stays_hidden(tally, visitor, person, facts)
            for stop in STOPS:
                if stop.person == person["key"]:
                    look(tally, visitor, stop, words(person, facts))
            for beat in facts["beats"]:
                if beat["person"] == person["key"]:
                    read_beat(tally, visitor, beat)
            links_lead_somewhere(tally, visitor, person)
    funder_without_sign_in(tally, Visitor(address), facts)
    walk_phone.walk(tally, Visitor(address), facts["phone_code"])
    print(f"{tally.good} passed, {tally.bad} failed", flush=True)
    return 1 if tally.bad else 0


def strangers_wait_outside(tally: Tally, address: str) -> None:
    """Nobody sees a page without signing in, and a wrong password does not help."""
    stranger = Visitor(address)
    page = stranger.get("/")
    tally.note(
        page.status == 200 and page.path == "/accounts/login/", "a stranger is led to the sign-in page"
    )
    policy = page.headers.get("Content-Security-Policy", "")
    tally.note(
        "unsafe-inline" not in policy and "'self'" in policy, "the sign-in page carries the strict policy"
    )
    page = stranger.sign_in("nobody@nowhere.example", "not a password")
    tally.note(page.path == "/accounts/login/", "a wrong password leads back to the sign-in page")


def front_door(tally: Tally, visitor: Visitor, person: dict[str, str]) -> bool:
    """The person signs in and arrives at the home page of their organisation."""
    page = visitor.sign_in(person["email"], person["password"])
    arrived = page.status == 200 and page.path == f"/o/{person['slug']}/"
    tally.note(arrived, f"{person['who']}: signs in and arrives at {page.path} ({page.status})")
    named = person["organisation"] in page.text
    return tally.note(named, f"{person['who']}: the home page names {person['organisation']}") and arrived


def other_organisation_stays_hidden(
    tally: Tally, visitor: Visitor, person: dict[str, str], facts: dict[str, Any]
) -> None:
    """Another organisation's address answers 404, as if nothing were there."""
    for slug in sorted({other["slug"] for other in facts["people"]} - {person["slug"]}):
        page = visitor.get(f"/o/{slug}/")
        tally.note(page.status == 404, f"{person['who']}: /o/{slug}/ is not theirs ({page.status})")


def funder_without_sign_in(tally: Tally, visitor: Visitor, facts: dict[str, Any]) -> None:
    """A share link opens its one page, and a wrong one opens nothing."""
    page = visitor.get(facts["share"])
    tally.note(page.status == 200, f"a funder with the link: {page.path} answers {page.status}")
    for text in (said.format_map(facts["figures"]) for said in SHARED_PAGE_SAYS):
        tally.note(tidy(text) in page.text, f"a funder with the link: the page says “{text}”")
    page = visitor.get(facts["share"].rstrip("/") + "x/")
    tally.note(page.status == 404, f"a wrong link answers {page.status}")


def words(person: dict[str, str], facts: dict[str, Any]) -> dict[str, str]:
    """Return what placeholders in the table stand for."""
    return {**facts.get("figures", {}), "slug": person["slug"]}


def look(tally: Tally, visitor: Visitor, stop: Stop, known: dict[str, str]) -> None:
    """Go to one stop and read."""
    name = " → ".join((stop.start.format_map(known), *stop.follow))
    try:
        page = visitor.get(stop.start.format_map(known))
        for link in stop.follow:
            page = visitor.get(urllib.parse.urljoin(page.url, link_named(page, link.format_map(known))))
        expected = [text.format_map(known) for text in stop.expect]
    except LookupError as problem:
        tally.note(False, f"{stop.person}: {name}: {problem}")
        return
    tally.note(page.status == 200, f"{stop.person}: {name} answers {page.status}")
    for text in expected:
        tally.note(tidy(text) in page.text, f"{stop.person}: {name} shows “{text}”")


def read_beat(tally: Tally, visitor: Visitor, beat: dict[str, Any]) -> None:
    """Open the page of one beat of the demo's story and read the words it must show."""
    page = visitor.get(beat["path"])
    missing = [text for text in beat["expect"] if tidy(text) not in page.text]
    told = f"{beat['person']}: {beat['key']} is told on {page.path} ({page.status})"
    tally.note(page.status == 200 and not missing, told + (f", without {missing}" if missing else ""))


def link_named(page: Page, wanted: str) -> str:
    """Return the address of the first link whose words contain the wanted ones."""
    for text, address in page.links:
        if wanted.casefold() in text.casefold():
            return address
    raise LookupError(f"no link “{wanted}” on {page.path}")


def links_lead_somewhere(tally: Tally, visitor: Visitor, person: dict[str, str]) -> None:
    """Follow every link a person is offered, a few of each kind: each opens, in time, under the policy."""
    pages = list(reachable(visitor, f"/o/{person['slug']}/"))
    for page in pages:
        if page.status != 200:
            tally.note(
                False, f"{person['who']}: {page.path} answers {page.status}, offered on {page.offered_on}"
            )
        elif "Content-Security-Policy" not in page.headers:
            tally.note(False, f"{person['who']}: {page.path} carries no content policy")
        elif page.seconds > SLOW_S:
            tally.note(False, f"{person['who']}: {page.path} took {page.seconds:.1f} s")
    slowest = max(pages, key=lambda page: page.seconds)
    tally.note(
        True, f"{person['who']}: opened {len(pages)} pages; slowest {slowest.path} {slowest.seconds:.2f} s"
    )


def reachable(visitor: Visitor, start: str) -> Iterator[Page]:
    """Yield pages breadth first, at most a few whose addresses differ only in an identifier."""
    waiting, seen, kinds = [start], {start: "sign-in"}, Counter[str]()
    while waiting and len(seen) - len(waiting) < PAGES_A_PERSON:
        path = waiting.pop(0)
        page = visitor.get(path)
        page.offered_on = seen[path]
        yield page
        for _, href in page.links:
            url = urllib.parse.urlsplit(urllib.parse.urljoin(page.url, href))
            target = urllib.parse.urlunsplit(("", "", url.path, url.query, ""))
            kind = IDENTIFIER.sub("…", target)
            ours = url.scheme == "http" and url.netloc == urllib.parse.urlsplit(visitor.address).netloc
            if ours and target not in seen and kinds[kind] < ALIKE:
                kinds[kind] += 1
                seen[target] = path
                waiting.append(target)
