"""Pages by key: every row once, in order, whatever is added between two pages."""

import pytest
from django.test import RequestFactory

from projects.models import Nursery
from projects.paging import page


def ask(address="", key=("name", "id"), size=3):
    return page(Nursery.objects.all(), RequestFactory().get(f"/{address}"), key, size)


def make(hill, *names):
    for name in names:
        Nursery.objects.create(organisation=hill, name=name)


def walk(key, size=3):
    """All rows from the first page to the last, page by page."""
    pages, found = [], ask("", key, size)
    while True:
        pages.append([row.name for row in found.rows])
        if not found.next_url:
            return pages, found
        found = ask(found.next_url, key, size)


@pytest.mark.parametrize(
    "key", [("name", "id"), ("-name", "id"), ("lead_time_weeks", "-name", "id"), ("-id",)]
)
def test_every_row_is_shown_once_and_in_order(hill, key):
    make(hill, *"bdacedbba")
    pages, _last = walk(key)
    wanted = list(Nursery.objects.order_by(*key).values_list("name", flat=True))
    assert [name for each in pages for name in each] == wanted


def test_the_way_back_shows_the_same_pages(hill):
    make(hill, *"abcdefgh")
    pages, last = walk(("name", "id"))
    back = [[row.name for row in last.rows]]
    while last.previous_url:
        last = ask(last.previous_url)
        back.append([row.name for row in last.rows])
    assert sorted(name for each in back for name in each) == list("abcdefgh")
    assert back[0] == pages[-1]
    assert not last.previous_url


def test_a_row_added_meanwhile_is_neither_skipped_nor_shown_twice(hill):
    make(hill, *"bdfhj")
    first = ask()
    make(hill, "a", "g")
    second = ask(first.next_url)
    assert [row.name for row in first.rows] == ["b", "d", "f"]
    assert [row.name for row in second.rows] == ["g", "h", "j"]


def test_one_page_has_no_neighbours(hill):
    make(hill, "a")
    found = ask()
    assert (found.next_url, found.previous_url) == ("", "")


def test_other_parts_of_the_address_are_kept(hill):
    make(hill, *"abcd")
    assert "away=1" in ask("?away=1").next_url


@pytest.mark.parametrize(
    "address", ["?at=x", "?at=W10", "?at=eyJhIjoxfQ", "?at=WyI-IiwiYVx1MDAwMCIsMV0", "?at=WyI-Il0", "?at=%00"]
)
def test_an_address_that_makes_no_sense_leads_to_the_first_page(hill, address):
    make(hill, "a", "b")
    assert [row.name for row in ask(address).rows] == ["a", "b"]
