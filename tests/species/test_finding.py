"""Finding species by any name, and only those that the organisation may see."""

import uuid

import pytest
from django.http import Http404
from django.utils import translation

from species.access import species_for, visible_species
from species.models import Species, SpeciesName, SpeciesSynonym
from species.selectors.facts import range_statuses, traits_of, vernacular_names
from species.selectors.finding import find_exactly, matching
from species.selectors.pages import PAGE_SIZE, species_page
from species.services.superseding import supersede
from tests import factories

pytestmark = pytest.mark.django_db
MINE, YOURS = uuid.uuid4(), uuid.uuid4()


def found(text: str) -> set[str]:
    return {species.slug for species in matching(Species.objects.all(), text)}


@pytest.mark.parametrize(
    ("text", "slug"),
    [
        ("Quercus pyrenaica", "quercus-pyrenaica"),
        ("QUERCUS PYR", "quercus-pyrenaica"),
        ("carvalho-negral", "quercus-pyrenaica"),
        ("carvalho negral", "quercus-pyrenaica"),
        ("lodao", "celtis-australis"),
        ("chene-liege", "quercus-suber"),
        ("MKUYU", "ficus-sycomorus"),
        ("Alnus glutinosa", "alnus-lusitanica"),
        ("Podocarpus gracilior", "afrocarpus-falcatus"),
        ("Acacia albida", "faidherbia-albida"),
    ],
)
def test_a_species_is_found_by_scientific_name_vernacular_and_synonym(reference, text, slug):
    assert slug in found(text)


def test_a_search_for_nothing_shows_everything_and_for_nonsense_nothing(reference):
    assert len(found("  ")) == Species.objects.count()
    assert found("zzz % _") == set()


def test_every_synonym_resolves_to_its_species(reference):
    for row in SpeciesSynonym.objects.select_related("species"):
        assert find_exactly(None, row.scientific_name) == [row.species]


def test_every_slug_and_scientific_name_resolves_to_itself(reference):
    for species in Species.objects.all():
        assert find_exactly(None, species.slug) == [species]
        assert find_exactly(None, species.scientific_name.upper()) == [species]


def test_a_name_that_several_species_bear_gives_all_of_them(reference):
    slugs = [species.slug for species in find_exactly(None, "mkaratusi")]
    assert slugs == ["eucalyptus-globulus", "eucalyptus-grandis", "eucalyptus-saligna"]
    assert find_exactly(None, "no such tree") == find_exactly(None, " ") == []


def test_an_old_name_leads_to_the_species_that_stands_for_it(ash):
    new = factories.species("fraxinus-nova")
    supersede(species=ash, by=new)
    assert find_exactly(None, ash.scientific_name) == [new]
    assert [row.species for row in species_page(organisation_uid=None, search="fraxinus test").rows] == [new]


def test_an_organisation_sees_shared_species_and_its_own_only(ash):
    own = factories.species("fraxinus-mea", owner_organisation_uid=MINE)
    theirs = factories.species("fraxinus-tua", owner_organisation_uid=YOURS)
    SpeciesName.objects.create(species=theirs, language="en", name="hidden ash", source="their notes")
    assert set(visible_species(MINE)) == {ash, own}
    assert set(visible_species(None)) == {ash}
    assert species_for(MINE, own.slug) == own
    assert find_exactly(MINE, "hidden ash") == []
    for slug in (theirs.slug, "no-such-species"):
        with pytest.raises(Http404):
            species_for(MINE, slug)


def test_the_list_is_read_in_stretches_that_together_hold_every_species_once(reference):
    seen, after = [], ""
    while True:
        page = species_page(organisation_uid=None, after=after)
        assert 0 < len(page.rows) <= PAGE_SIZE
        seen += [row.species.scientific_name for row in page.rows]
        if not (after := page.after):
            break
    assert seen == sorted(seen, key=str.lower)
    assert len(seen) == len(set(seen)) == Species.objects.count() > PAGE_SIZE


def test_the_list_can_show_the_natives_of_a_country(reference):
    shown = species_page(organisation_uid=None, search="acacia", country_code="KE", status="invasive").rows
    assert [row.species.slug for row in shown] == ["acacia-mearnsii"]
    natives = species_page(organisation_uid=None, search="quercus", country_code="PT").rows
    assert len(natives) == 6
    assert species_page(organisation_uid=None, search="quercus", country_code="KE").rows == []


def test_the_list_asks_the_database_as_often_for_two_species_as_for_forty(
    reference, django_assert_num_queries
):
    with django_assert_num_queries(3):
        assert len(species_page(organisation_uid=None, search="sycomorus").rows) == 1
    with django_assert_num_queries(3):
        assert len(species_page(organisation_uid=None).rows) == PAGE_SIZE


def test_a_name_is_given_in_the_readers_language_else_in_english(reference):
    oak, birch = (Species.objects.get(slug=slug).pk for slug in ("quercus-suber", "polyscias-fulva"))
    with translation.override("pt"):
        assert vernacular_names([oak, birch]) == {oak: "sobreiro", birch: "parasol tree"}
    with translation.override("en-gb"):
        assert vernacular_names([oak]) == {oak: "cork oak"}


def test_the_status_of_a_region_outranks_its_country_and_no_row_means_unknown(reference):
    chestnut, hagenia = (
        Species.objects.get(slug=slug).pk for slug in ("castanea-sativa", "hagenia-abyssinica")
    )
    assert range_statuses([chestnut, hagenia], "PT", organisation_uid=None) == {
        chestnut: "native",
        hagenia: "unknown",
    }
    assert range_statuses([chestnut], "PT", "PT-30", organisation_uid=None) == {chestnut: "introduced"}
    assert range_statuses([chestnut], "PT", "PT-99", organisation_uid=None) == {chestnut: "native"}


def test_traits_come_as_numbers_and_words_and_a_missing_one_is_absent(reference):
    willow = Species.objects.get(slug="salix-salviifolia").pk
    facts = traits_of([willow], ["rain_lowest_mm", "soil_drainage", "seeds_per_kg"], organisation_uid=None)
    assert facts == {
        willow: {"rain_lowest_mm": 400, "soil_drainage": ("free", "moderate", "poor", "flooded")}
    }
