"""Promises of the shipped reference: its breadth, its sources, and that its values make sense together."""

import csv
import re
from collections import defaultdict
from decimal import Decimal

import pytest

from species.models import RangeStatus, Species, SpeciesName, SpeciesSynonym, SpeciesTrait
from species.models.names import is_language_tag
from species.reference_files import DATA_FOLDER, FILES
from species.traits import CATALOGUE, FROM_MEMORY

pytestmark = pytest.mark.django_db
RISING = [
    *[
        [stem.format(point) for point in ("lowest", "optimum_from", "optimum_to", "highest")]
        for stem in ("rain_{}_mm", "altitude_{}_m", "soil_ph_{}")
    ],
    ["coldest_month_lowest_c", "coldest_month_optimum_from_c"],
    ["hottest_month_optimum_to_c", "hottest_month_highest_c"],
    ["dry_months_optimum_to", "dry_months_highest"],
    ["soil_depth_lowest_cm", "soil_depth_optimum_from_cm"],
    ["salinity_optimum_to_ds_per_m", "salinity_highest_ds_per_m"],
]
SITE_TRAITS = [key for keys in RISING for key in keys] + ["soil_textures", "soil_drainage", "light"]


def test_at_least_sixty_species_are_shipped(reference):
    assert Species.objects.filter(owner_organisation_uid=None).current().count() >= 60


@pytest.mark.parametrize("country", ["PT", "KE"])
def test_each_demo_country_has_natives_to_choose_and_invasives_to_refuse(reference, country):
    status = RangeStatus.objects.filter(country_code=country, region="")
    assert status.filter(status="native").count() >= 30
    assert status.filter(status="invasive").count() >= 5
    assert status.filter(status="introduced").count() >= 2


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_every_row_of_every_file_names_its_source(file):
    with (DATA_FOLDER / file.name).open(newline="", encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    assert rows
    for row in rows:
        assert row["source"].strip(), row
        if "memory" in row["source"]:
            assert row["source"] == FROM_MEMORY


def test_what_is_from_memory_is_never_told_as_literature(reference):
    said = {(row.basis == "from_memory", row.source == FROM_MEMORY) for row in SpeciesTrait.objects.all()}
    assert said == {(True, True), (False, False)}


def test_every_native_of_the_demo_countries_has_every_trait_that_suitability_needs(reference):
    known = defaultdict(set)
    for row in SpeciesTrait.objects.all():
        known[row.species_id].add(row.trait)
    natives = RangeStatus.objects.filter(status="native", region="").values_list("species_id", flat=True)
    lacking = {pk: set(SITE_TRAITS) - known[pk] for pk in natives if set(SITE_TRAITS) - known[pk]}
    assert lacking == {}


def test_what_may_be_planted_in_the_demo_countries_says_what_it_is_good_for_and_its_role(reference):
    """From memory; weeds that are refused in both countries stay unknown rather than be praised."""
    plantable = RangeStatus.objects.filter(status__in=["native", "introduced"], region="")
    for trait in ("uses", "roles"):
        told = SpeciesTrait.objects.filter(trait=trait)
        assert set(plantable.values_list("species_id", flat=True)) <= {row.species_id for row in told}
        for row in told:
            assert list(row.words) == [word for word in CATALOGUE[trait].words if word in row.words], row


@pytest.mark.parametrize(
    ("slug", "use"),
    [
        ("quercus-suber", "other_products"), ("castanea-sativa", "fruit"), ("pinus-pinea", "fruit"),
        ("alnus-lusitanica", "water"), ("faidherbia-albida", "fodder"), ("prunus-africana", "other_products"),
        ("calliandra-calothyrsus", "fodder"), ("arbutus-unedo", "honey"),
    ],
)  # fmt: skip
def test_uses_everybody_knows_are_told(reference, slug, use):
    assert use in SpeciesTrait.objects.get(species__slug=slug, trait="uses").words


def test_the_ends_of_every_tolerance_come_in_order(reference):
    values = defaultdict(dict)
    for row in SpeciesTrait.objects.exclude(value_number=None):
        values[row.species_id][row.trait] = row.value_number
    for facts in values.values():
        for keys in RISING:
            given = [facts[key] for key in keys if key in facts]
            assert given == sorted(given), (facts, keys)


def test_an_unknown_trait_is_a_missing_row(reference):
    assert not SpeciesTrait.objects.filter(species__slug="salix-salviifolia", trait="seeds_per_kg").exists()


def test_emergence_and_leafless_seasons_have_both_ends(reference):
    for stem in ("emergence", "leafless"):
        ends = [
            set(SpeciesTrait.objects.filter(trait=f"{stem}_{end}_month").values_list("species_id", flat=True))
            for end in ("from", "to")
        ]
        assert ends[0] and ends[0] == ends[1]


def test_every_stored_trait_is_in_the_catalogue_and_in_its_unit(reference):
    for row in SpeciesTrait.objects.all():
        assert row.unit == CATALOGUE[row.trait].unit
        row.clean()


def test_scientific_names_are_well_formed_and_their_slugs_follow(reference):
    form = re.compile(r"^[A-Z][a-z]+ [a-z-]+( (subsp|var)\. [a-z-]+)?$")
    for species in Species.objects.all():
        assert form.match(species.scientific_name), species.scientific_name
        assert species.slug == re.sub(r"[^a-z]+", "-", species.scientific_name.lower())
        assert species.family.endswith("aceae")
        assert species.authority


def test_vernacular_names_have_a_language_tag_and_every_species_has_one_in_english(reference):
    for row in SpeciesName.objects.all():
        is_language_tag(row.language)
        assert row.name == row.name.strip() != ""
    named = SpeciesName.objects.filter(language="en", is_main=True).values_list("species_id", flat=True)
    assert set(Species.objects.values_list("pk", flat=True)) == set(named)


def test_synonyms_are_no_species_in_use_and_lead_to_one_species_each(reference):
    synonyms = list(SpeciesSynonym.objects.values_list("folded", flat=True))
    assert len(synonyms) == len(set(synonyms))
    assert not Species.objects.filter(folded__in=synonyms).exists()


@pytest.mark.parametrize(
    ("slug", "country", "status"),
    [
        ("quercus-pyrenaica", "PT", "native"),
        ("arbutus-unedo", "PT", "native"),
        ("acacia-dealbata", "PT", "invasive"),
        ("prunus-africana", "KE", "native"),
        ("acacia-mearnsii", "KE", "invasive"),
        ("grevillea-robusta", "KE", "introduced"),
    ],
)
def test_the_scenario_finds_its_species_with_their_standing(reference, slug, country, status):
    assert RangeStatus.objects.get(species__slug=slug, country_code=country, region="").status == status


def test_cited_numbers_are_those_of_their_source(reference):
    """Seed Leaflet No. 74 (May 2003): Prunus africana grows between 900 and 3,000 m."""
    rows = SpeciesTrait.objects.filter(species__slug="prunus-africana", basis="literature")
    assert {row.trait: row.value_number for row in rows} == {
        "altitude_lowest_m": Decimal(900),
        "altitude_highest_m": Decimal(3000),
    }
