"""What the tables refuse, whoever writes to them, and how a species leaves the list of choices."""

import uuid

import pytest
from django.db import IntegrityError, models, transaction

from species.errors import SlugIsPermanent, SpeciesNeverDeleted, SupersedingRefused
from species.models import RangeStatus, Species, SpeciesName, SpeciesSynonym, SpeciesTrait
from species.selectors.finding import current
from species.services.superseding import supersede
from species.traits import FROM_MEMORY
from tests import factories

pytestmark = pytest.mark.django_db


def refused(constraint: str, make) -> None:
    """Run `make` and expect the database itself to refuse it by that constraint or its columns."""
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        make()
    assert constraint in str(caught.value)


SPECIES_BREACHES = [
    ("a_species_has_a_slug", {"slug": ""}),
    ("a_species_has_a_scientific_name", {"scientific_name": ""}),
    ("a_species_has_a_genus_and_a_family", {"genus": ""}),
    ("a_species_has_a_genus_and_a_family", {"family": ""}),
    ("a_species_has_a_source", {"source": ""}),
    ("a_growth_form_is_a_known_one", {"growth_form": "weed"}),
    ("a_shade_class_is_a_known_one", {"shade_class": "dim"}),
]


@pytest.mark.parametrize(("constraint", "fields"), SPECIES_BREACHES)
def test_the_species_table_refuses(constraint, fields):
    values = {
        "slug": "ulmus-test", "scientific_name": "Ulmus test", "genus": "Ulmus", "family": "Ulmaceae",
        "growth_form": "tree", "source": "Test flora",
    }  # fmt: skip
    refused(constraint, lambda: Species.objects.create(**values | fields))
    assert Species.objects.create(**values).pk


TRAIT_BREACHES = [
    ("a_trait_is_either_a_number_or_words", {"value_text": "shade"}),
    ("a_trait_is_either_a_number_or_words", {"value_number": None}),
    ("a_number_has_a_unit", {"unit": ""}),
    ("a_trait_has_a_source", {"source": ""}),
    ("what_is_from_memory_says_so_and_the_rest_cites", {"source": FROM_MEMORY}),
    ("what_is_from_memory_says_so_and_the_rest_cites", {"basis": "from_memory"}),
    ("what_is_from_memory_says_so_and_the_rest_cites", {"basis": "hearsay"}),
]


@pytest.mark.parametrize(("constraint", "fields"), TRAIT_BREACHES)
def test_the_trait_table_refuses(ash, constraint, fields):
    values = {
        "species": ash, "trait": "rain_lowest_mm", "value_number": 500, "unit": "mm/year",
        "source": "Test flora", "basis": "literature",
    }  # fmt: skip
    refused(constraint, lambda: SpeciesTrait.objects.create(**values | fields))
    assert SpeciesTrait.objects.create(**values).pk


@pytest.mark.parametrize(
    ("constraint", "fields"),
    [
        ("a_country_is_two_capitals", {"country_code": "pt"}),
        ("a_country_is_two_capitals", {"country_code": "P"}),
        ("a_range_status_is_a_known_one", {"status": "welcome"}),
        ("a_range_status_has_a_source", {"source": ""}),
    ],
)
def test_the_range_table_refuses(ash, constraint, fields):
    values = {"species": ash, "country_code": "PT", "status": "native", "source": "Test flora"}
    refused(constraint, lambda: RangeStatus.objects.create(**values | fields))
    assert RangeStatus.objects.create(**values).pk


@pytest.mark.parametrize(
    ("constraint", "model", "fields"),
    [
        ("a_name_has_a_text_and_a_language", SpeciesName, {"language": "en", "name": "", "source": "Test"}),
        ("a_name_has_a_text_and_a_language", SpeciesName, {"language": "", "name": "ash", "source": "Test"}),
        ("a_name_has_a_source", SpeciesName, {"language": "en", "name": "ash", "source": ""}),
        ("a_synonym_has_a_scientific_name", SpeciesSynonym, {"scientific_name": "", "source": "Test"}),
        ("a_synonym_has_a_source", SpeciesSynonym, {"scientific_name": "Fraxinus old", "source": ""}),
    ],
)
def test_the_name_tables_refuse(ash, constraint, model, fields):
    refused(constraint, lambda: model.objects.create(species=ash, **fields))


@pytest.mark.parametrize(
    ("model", "first", "second"),
    [
        (SpeciesName, {"language": "en", "name": "ash"}, {}),
        (SpeciesName, {"language": "en", "name": "ash", "is_main": True}, {"name": "test ash"}),
        (SpeciesSynonym, {"scientific_name": "Fraxinus old"}, {}),
        (RangeStatus, {"country_code": "PT", "status": "native"}, {"status": "invasive"}),
        (
            SpeciesTrait,
            {"trait": "seeds_per_kg", "value_number": 9, "unit": "seeds/kg", "basis": "measured"},
            {"value_number": 10},
        ),
    ],
)
def test_a_fact_is_given_once(ash, model, first, second):
    model.objects.create(species=ash, source="Test flora", **first)
    with pytest.raises(IntegrityError, match=r"(?i)unique"), transaction.atomic():
        model.objects.create(species=ash, source="Another flora", **first | second)
    assert model.objects.filter(species=ash).count() == 1


def test_scientific_names_are_unique_among_shared_species_and_within_an_organisation(ash):
    mine, yours = uuid.uuid4(), uuid.uuid4()
    factories.species("ash-of-mine", scientific_name=ash.scientific_name, owner_organisation_uid=mine)
    factories.species("ash-of-yours", scientific_name=ash.scientific_name, owner_organisation_uid=yours)
    for owner in (None, mine):
        with pytest.raises(IntegrityError), transaction.atomic():
            factories.species(
                f"again-{owner}", scientific_name=ash.scientific_name, owner_organisation_uid=owner
            )


def test_a_slug_is_unique_and_never_changes(ash):
    with pytest.raises(IntegrityError), transaction.atomic():
        Species.objects.create(
            slug=ash.slug, scientific_name="Other", genus="O", family="F", growth_form="tree", source="Test"
        )
    stored = Species.objects.get(pk=ash.pk)
    stored.slug = "another"
    with pytest.raises(SlugIsPermanent):
        stored.save()
    with pytest.raises(SlugIsPermanent):
        Species.objects.filter(pk=ash.pk).update(slug="another")
    assert Species.objects.get(pk=ash.pk).slug == ash.slug


def test_a_species_is_never_deleted(ash):
    for delete in (ash.delete, Species.objects.all().delete, Species.objects.filter(pk=ash.pk).delete):
        with pytest.raises(SpeciesNeverDeleted):
            delete()
    assert Species.objects.filter(pk=ash.pk).exists()


def test_facts_are_protected_from_a_deletion_that_goes_round_the_guard(ash):
    SpeciesSynonym.objects.create(species=ash, scientific_name="Fraxinus old", source="Test")
    with pytest.raises(models.ProtectedError):
        models.Model.delete(ash)


def test_a_superseded_species_keeps_its_row_and_leaves_the_choices(ash):
    new = factories.species("fraxinus-nova")
    supersede(species=ash, by=new)
    stored = Species.objects.get(pk=ash.pk)
    assert stored.superseded_by == new
    assert list(Species.objects.current()) == [new]
    assert current(stored) == new


def test_a_line_of_successors_leads_to_its_end_and_never_in_a_circle(ash):
    second, third = factories.species("fraxinus-secunda"), factories.species("fraxinus-tertia")
    supersede(species=ash, by=second)
    supersede(species=second, by=third)
    assert current(Species.objects.get(pk=ash.pk)) == third
    for old, new in ((third, ash), (third, second), (ash, ash)):
        with pytest.raises(SupersedingRefused):
            supersede(species=old, by=new)
    assert Species.objects.get(pk=third.pk).superseded_by is None


def test_the_table_refuses_a_species_superseded_by_itself(ash):
    refused(
        "a_species_is_not_superseded_by_itself",
        lambda: Species.objects.filter(pk=ash.pk).update(superseded_by=ash),
    )


def test_a_shared_species_is_not_superseded_by_one_that_others_cannot_see(ash):
    mine = uuid.uuid4()
    own = factories.species("fraxinus-mea", owner_organisation_uid=mine)
    with pytest.raises(SupersedingRefused):
        supersede(species=ash, by=own)
    supersede(species=own, by=ash)
    assert Species.objects.get(pk=own.pk).superseded_by == ash
