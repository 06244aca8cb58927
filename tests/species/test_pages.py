"""The species pages as a member of an organisation meets them."""

import pytest

from species.models import SpeciesTrait
from species.services.superseding import supersede
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def browser(reference, ana, signed_in):
    return signed_in(ana)


def test_the_list_shows_species_with_their_standing(browser):
    page = browser.get("/o/hill/species/")
    assert page.status_code == 200
    assert b"Acacia mearnsii" in page.content
    assert b"invasive in Kenya" in page.content
    assert b'href="?after=' in page.content


def test_the_list_can_be_searched_and_filtered_and_read_on(browser):
    page = browser.get("/o/hill/species/", {"q": "vidoeiro", "country": "PT", "status": "native"})
    assert b"Betula celtiberica" in page.content
    assert b"Quercus" not in page.content
    first = browser.get("/o/hill/species/", {"country": "PT"})
    onward = browser.get("/o/hill/species/" + first.context["next_url"])
    assert onward.context["page"].rows[0] not in first.context["page"].rows
    assert "country=PT" in first.context["next_url"]
    assert onward.context["first_url"] == "?country=PT"


def test_a_search_without_result_says_what_to_try(browser):
    page = browser.get("/o/hill/species/", {"q": "no such tree"})
    assert b"Try part of the name" in page.content


@pytest.mark.parametrize(
    ("query", "status"),
    [
        ({"country": "XX"}, 422),
        ({"status": "welcome"}, 422),
        ({"q": "a" * 500}, 422),
        ({"after": "no-such-slug"}, 200),
        ({"after": "\x00"}, 200),
        ({"q": "'; drop table --"}, 200),
        ({"q": "\x00"}, 422),
    ],
)
def test_odd_input_is_answered_on_the_page(browser, query, status):
    page = browser.get("/o/hill/species/", query)
    assert page.status_code == status
    assert (b"needs your attention" in page.content) == (status == 422)


def test_one_species_shows_every_fact_with_its_source_and_says_what_is_not_known(browser):
    page = browser.get("/o/hill/species/prunus-africana/")
    text = page.content.decode()
    assert "Seed Leaflet No. 74, Prunus africana, May 2003" in text
    assert "from memory, check locally" in text
    assert "3\u202f000 m" in text
    assert ">Swahili<" in text or ">English<" in text
    assert "Pygeum africanum" in text
    assert "muiri" in text
    assert "Not known, and not guessed: Seedlings emerge, from month" in text
    facts = SpeciesTrait.objects.filter(species__slug="prunus-africana").count()
    assert sum(len(group.facts) for group in page.context["groups"]) == facts


def test_a_superseded_species_says_which_stands_for_it(browser, ash):
    supersede(species=ash, by=factories.species("fraxinus-nova"))
    page = browser.get(f"/o/hill/species/{ash.slug}/")
    assert b"/o/hill/species/fraxinus-nova/" in page.content


def test_another_organisations_species_is_not_there(browser, other, hill):
    theirs = factories.species("fraxinus-tua", owner_organisation_uid=other.uid)
    own = factories.species("fraxinus-mea", owner_organisation_uid=hill.uid)
    assert browser.get(f"/o/hill/species/{theirs.slug}/").status_code == 404
    assert browser.get(f"/o/hill/species/{own.slug}/").status_code == 200
    assert b"Fraxinus tua" not in browser.get("/o/hill/species/", {"q": "fraxinus"}).content
    assert b"Fraxinus mea" in browser.get("/o/hill/species/", {"q": "fraxinus"}).content


@pytest.mark.parametrize("path", ["", "quercus-robur/"])
def test_outsiders_find_nothing_and_strangers_are_asked_to_sign_in(
    reference, hill, olaf, signed_in, client, path
):
    assert signed_in(olaf).get(f"/o/hill/species/{path}").status_code == 404
    answer = client.get(f"/o/hill/species/{path}")
    assert answer.status_code == 302
    assert "/accounts/login/" in answer["Location"]


@pytest.mark.parametrize("path", ["", "quercus-robur/"])
def test_the_pages_only_read(browser, path):
    assert browser.post(f"/o/hill/species/{path}").status_code == 405


def test_the_pages_ask_the_database_a_constant_number_of_times(browser, django_assert_max_num_queries):
    """Session, user, membership, grants, countries, species, statuses, names."""
    for path in ("?q=suber", "", "quercus-robur/", "prunus-africana/"):
        with django_assert_max_num_queries(12):
            assert browser.get(f"/o/hill/species/{path}").status_code == 200
