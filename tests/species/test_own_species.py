"""A species, a value, a status of one's own: stated with its source, refused in words, taken back, remembered."""

import pytest
from django.urls import reverse

from monitoring.models import DirtyKey
from projects import announcements
from projects.models import HistoryEntry
from projects.services import own_species
from species.access import own_ranges, own_traits
from species.models import RangeStatus, Species, SpeciesTrait
from species.selectors.facts import range_statuses, traits_of
from species.traits import FROM_MEMORY
from tests import factories

pytestmark = pytest.mark.django_db
RAIN = ("rain_lowest_mm", "rain_optimum_from_mm", "rain_optimum_to_mm", "rain_highest_mm")
BOOK = {"basis": "literature", "source": "Forest flora, p. 12"}


@pytest.fixture
def browser(signed_in, ana):
    return signed_in(ana)


@pytest.fixture
def rainy(oak):
    for trait, value in zip(RAIN, (400, 600, 1200, 2000), strict=True):
        SpeciesTrait.objects.create(
            species=oak,
            trait=trait,
            value_number=value,
            unit="mm/year",
            source=FROM_MEMORY,
            basis="from_memory",
        )
    return oak


def address(name, *args):
    return reverse(f"projects:{name}", args=["hill", *args])


def verbs():
    return list(
        HistoryEntry.objects.filter(subject_kind="species").order_by("id").values_list("verb", flat=True)
    )


def held(species, hill):
    return traits_of([species.pk], organisation_uid=hill.uid).get(species.pk, {})


NEW = {
    "scientific_name": "Sorbus latifolia", "family": "Rosaceae", "growth_form": "tree", "is_nitrogen_fixer": "no",
    "shade_class": "intermediate", "source": "Flora of the hill",
}  # fmt: skip


def test_a_species_is_added_for_one_organisation_and_changed(browser, hill, other):
    answer = browser.post(address("species_new"), NEW)
    species = Species.objects.get(scientific_name="Sorbus latifolia")
    assert answer["Location"] == address("own_values", species.slug)
    assert (species.owner_organisation_uid, species.genus, species.is_nitrogen_fixer) == (
        hill.uid,
        "Sorbus",
        False,
    )
    assert species not in Species.objects.shared_or_owned_by(other.uid)
    slug = species.slug
    browser.post(address("own_species_edit", slug), NEW | {"family": "Malaceae", "is_nitrogen_fixer": ""})
    species.refresh_from_db()
    assert (species.family, species.is_nitrogen_fixer, species.slug) == ("Malaceae", None, slug)
    assert verbs() == ["species.added", "species.edited"]


@pytest.mark.parametrize(
    ("change", "field", "words"),
    [
        ({"scientific_name": "sorbus latifolia"}, "scientific_name", "such as Quercus robur"),
        ({"scientific_name": "Sorbus"}, "scientific_name", "such as Quercus robur"),
        (
            {"scientific_name": "Quercus  ROBUR".title().replace("Robur", "robur")},
            "scientific_name",
            "shared reference",
        ),
        ({"genus": "Pyrus"}, "genus", "must begin with the genus"),
        ({"family": ""}, "family", "required"),
        ({"source": " "}, "source", "required"),
        ({"growth_form": "moss"}, "growth_form", "moss"),
    ],
)
def test_a_species_that_cannot_be_is_refused_and_what_was_typed_stays(browser, oak, change, field, words):
    answer = browser.post(address("species_new"), NEW | change)
    assert answer.status_code == 422
    assert words in " ".join(answer.context["form"].errors[field])
    assert Species.objects.count() == 1
    assert b"Flora of the hill" in answer.content or field == "source"


def test_a_name_of_another_organisations_species_is_free(browser, other):
    factories.species("sorbus-latifolia", owner_organisation_uid=other.uid)
    assert browser.post(address("species_new"), NEW).status_code == 302
    again = browser.post(address("species_new"), NEW)
    assert "You have added Sorbus latifolia already." in again.context["form"].errors["scientific_name"][0]


def test_a_shared_species_keeps_its_name(browser, oak):
    answer = browser.post(address("own_species_edit", oak.slug), NEW)
    assert answer["Location"] == address("own_values", oak.slug)
    oak.refresh_from_db()
    assert oak.scientific_name == "Quercus robur"


def test_values_are_stated_changed_and_taken_back(browser, rainy, hill):
    place = address("own_facts", rainy.slug, "rain")
    browser.post(place, BOOK | {"rain_lowest_mm": "450,5", "rain_optimum_from_mm": ""})
    assert float(held(rainy, hill)["rain_lowest_mm"]) == 450.5
    assert held(rainy, hill)["rain_optimum_from_mm"] == 600
    assert own_traits(hill.uid).get().source == "Forest flora, p. 12"
    browser.post(place, BOOK | {"rain_lowest_mm": "450.5"})
    assert verbs() == ["species.values_stated"]
    browser.post(place, {"basis": "from_memory", "source": "", "rain_lowest_mm": "470"})
    assert own_traits(hill.uid).get().source == FROM_MEMORY
    assert browser.get(place).context["form"]["rain_lowest_mm"].value() == "470"
    browser.post(address("own_facts_remove", rainy.slug, "rain"))
    assert held(rainy, hill)["rain_lowest_mm"] == 400
    assert not own_traits(hill.uid).exists()
    assert verbs() == ["species.values_stated"] * 2 + ["species.values_taken_back"]
    text = browser.get(address("own_values", rainy.slug)).content.decode()
    assert "own values taken back" in text
    assert "Rain in a year, lowest" in text


@pytest.mark.parametrize(
    ("fact", "typed", "field", "words"),
    [
        ("soil_ph", {"soil_ph_lowest": "19"}, "soil_ph_lowest", "pH 19: write a number from 2.5 to 10.5."),
        ("rain", {"rain_highest_mm": "wet"}, "rain_highest_mm", "Write a number such as 5.5"),
        ("rain", {"rain_highest_mm": "1,000"}, "rain_highest_mm", "without signs for thousands"),
        ("rain", {"rain_lowest_mm": "-1"}, "rain_lowest_mm", "-1 mm/year: write a number from 0 to"),
        ("rain", {"rain_lowest_mm": "1.00001"}, "rain_lowest_mm", "finer than three decimal places"),
        ("rain", {"rain_lowest_mm": "450", "source": ""}, "source", "Write where the value comes from"),
        ("rain", {"rain_lowest_mm": "450", "source": FROM_MEMORY}, "source", "Write where the value comes from"),
        ("rain", {"rain_lowest_mm": "450", "basis": "from_memory"}, "source", "has no source: leave this empty"),
        ("rain", {"rain_lowest_mm": "450", "basis": "gossip"}, "basis", "gossip"),
        ("rain", {"rain_lowest_mm": "700"}, "rain_lowest_mm",
         "“Rain in a year, lowest” (700 mm/year) must not lie above “Rain in a year, optimum from” (600 mm/year)."),
        ("rain", {"rain_optimum_to_mm": "900", "rain_highest_mm": "800"}, "rain_optimum_to_mm", "(800 mm/year)"),
        ("uses", {"uses": "gold"}, "uses", "gold"),
        ("emergence", {"emergence_from_month": "13"}, "emergence_from_month", "13"),
    ],
)  # fmt: skip
def test_a_value_that_cannot_be_meant_is_refused_in_words(browser, rainy, hill, fact, typed, field, words):
    answer = browser.post(address("own_facts", rainy.slug, fact), BOOK | typed)
    assert answer.status_code == 422
    assert words in " ".join(answer.context["form"].errors[field])
    assert not own_traits(hill.uid).exists()
    assert not verbs()


def test_taking_a_point_back_may_not_leave_a_tolerance_out_of_order(browser, rainy, hill, actor):
    place = address("own_facts", rainy.slug, "rain")
    browser.post(place, BOOK | {"rain_lowest_mm": "700", "rain_optimum_from_mm": "800"})
    answer = browser.post(place, BOOK | {"rain_lowest_mm": "700"})
    assert "must not lie above" in answer.context["form"].errors["rain_lowest_mm"][0]
    assert own_traits(hill.uid).count() == 2


def test_words_are_stated(browser, oak, hill):
    browser.post(address("own_facts", oak.slug, "uses"), BOOK | {"uses": ["timber", "fruit"]})
    assert held(oak, hill)["uses"] == ("timber", "fruit")


def test_a_status_is_stated_and_taken_back_and_figures_are_told(browser, oak, hill, monkeypatch):
    heard = []
    monkeypatch.setattr(announcements, "listeners", {"status_changed": [heard.append]})
    place = {"country_code": "PT", "region": "PT-30", "status": "invasive", "source": "Regional list 2024"}
    browser.post(address("own_status_new", oak.slug), place)
    browser.post(address("own_status_new", oak.slug), place)
    assert range_statuses([oak.pk], "PT", "PT-30", organisation_uid=hill.uid) == {oak.pk: "invasive"}
    assert range_statuses([oak.pk], "PT", organisation_uid=hill.uid) == {oak.pk: "unknown"}
    browser.post(address("own_status_remove", oak.slug), {"country_code": "PT", "region": "PT-30"})
    browser.post(address("own_status_remove", oak.slug), {"country_code": "PT", "region": "PT-30"})
    assert not own_ranges(hill.uid).exists()
    assert verbs() == ["species.status_stated", "species.status_taken_back"]
    assert heard == [(hill, "PT")] * 2


@pytest.mark.parametrize(
    ("region", "source", "lifted"),
    [
        ("", FROM_MEMORY, False), ("", "I say so from memory", False), ("PT-30", "From memory", False),
        ("", "Decree 7/2026, annex II", True),
    ],
)  # fmt: skip
def test_an_invasive_species_stays_refused_until_a_list_is_cited(browser, oak, hill, region, source, lifted):
    RangeStatus.objects.create(species=oak, country_code="PT", status="invasive", source="National list 2019")
    typed = {"country_code": "PT", "region": region, "status": "introduced", "source": source}
    answer = browser.post(address("own_status_new", oak.slug), typed)
    assert own_ranges(hill.uid).exists() is lifted
    if not lifted:
        assert "National list 2019" in answer.context["form"].errors["source"][0]


@pytest.mark.parametrize(("field", "value"), [("country_code", "XX"), ("status", "lovely"), ("source", "")])
def test_a_status_that_cannot_be_is_refused(browser, oak, hill, field, value):
    typed = {"country_code": "PT", "region": "", "status": "native", "source": "a list"} | {field: value}
    answer = browser.post(address("own_status_new", oak.slug), typed)
    assert answer.status_code == 422
    assert field in answer.context["form"].errors


def test_another_organisations_species_is_not_there_and_its_rows_are_not_touched(browser, actor, other, oak):
    theirs = factories.species("fraxinus-tua", owner_organisation_uid=other.uid)
    row = SpeciesTrait.objects.create(
        species=oak, trait="uses", value_text="soil", owner_organisation_uid=other.uid, **BOOK
    )
    for name in ("own_values", "own_species_edit"):
        assert browser.get(address(name, theirs.slug)).status_code == 404
    with pytest.raises(own_species.Refusal, match="another organisation"):
        own_species.state_facts(actor=actor, species=theirs, values={}, **BOOK)
    browser.post(address("own_facts", oak.slug, "uses"), BOOK | {"uses": ["timber"]})
    browser.post(address("own_facts_remove", oak.slug, "uses"))
    row.refresh_from_db()
    assert row.value_text == "soil"


def test_an_address_of_no_fact_is_not_there(browser, oak):
    assert browser.get(address("own_facts", oak.slug, "beauty")).status_code == 404


def test_the_page_of_own_values_asks_as_often_for_many_values_as_for_none(
    browser, rainy, hill, django_assert_max_num_queries
):
    browser.get(address("own_values", rainy.slug))
    with django_assert_max_num_queries(14) as few:
        browser.get(address("own_values", rainy.slug))
    for trait, value in zip(RAIN, (410, 610, 1210, 2010), strict=True):
        SpeciesTrait.objects.create(
            species=rainy,
            trait=trait,
            value_number=value,
            unit="mm/year",
            owner_organisation_uid=hill.uid,
            **BOOK,
        )
    for number in range(10):
        RangeStatus.objects.create(
            species=rainy, country_code="PT", region=f"R{number}", status="native", source="x",
            owner_organisation_uid=hill.uid,
        )  # fmt: skip
    with django_assert_max_num_queries(14) as many:
        browser.get(address("own_values", rainy.slug))
    assert len(many) == len(few)


def test_a_changed_status_puts_the_blocks_of_that_country_on_the_work_list(actor, oak, survey_round, hill):
    for country, marked in (("KE", False), ("PT", True)):
        own_species.state_status(
            actor=actor, species=oak, country_code=country, status="invasive", source="National list"
        )
        assert DirtyKey.objects.filter(organisation=hill, kind="round_block").exists() is marked
