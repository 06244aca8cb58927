"""Promises of `load_species`: repeatable, all or nothing, and exact about what is wrong."""

import uuid

import pytest
from django.core.management import CommandError, call_command

from species.errors import ReferenceDataError
from species.models import RangeStatus, Species, SpeciesName, SpeciesSynonym, SpeciesTrait
from species.services.reference import load_reference
from tests import factories

pytestmark = pytest.mark.django_db
MODELS = (Species, SpeciesName, SpeciesSynonym, SpeciesTrait, RangeStatus)


def everything() -> list:
    return [list(model.objects.order_by("pk").values()) for model in MODELS]


def test_loading_twice_changes_nothing_the_second_time(reference):
    before = everything()
    again = load_reference()
    assert everything() == before
    for name, counts in again.files.items():
        assert (counts.added, counts.changed, counts.removed, counts.kept) == (0, 0, 0, 0), name
        assert counts.unchanged == reference.files[name].added > 0


def test_the_command_says_what_became_of_the_rows(files, capsys):
    call_command("load_species", folder=files())
    assert "species.csv: 2 added, 0 changed, 0 unchanged" in capsys.readouterr().out
    changed = files({
        "species.csv": {3: None},
        "species_traits.csv": {2: "alnus-test,rain_lowest_mm,650,,mm/year,Test flora 3,literature", 3: None},
    })  # fmt: skip
    call_command("load_species", folder=changed)
    out = capsys.readouterr().out
    assert "species.csv: 0 added, 0 changed, 1 unchanged, 1 not in the file but kept" in out
    assert "species_traits.csv: 0 added, 1 changed, 0 unchanged, 1 removed" in out
    assert SpeciesTrait.objects.get().value_number == 650


def test_a_species_that_leaves_the_file_stays_in_the_table(files):
    load_reference(folder=files())
    load_reference(folder=files({"species.csv": {3: None}}))
    assert Species.objects.filter(slug="betula-test").exists()


def test_the_main_name_can_move_to_another_name(files):
    load_reference(folder=files())
    load_reference(folder=files({
        "species_names.csv": {
            2: "alnus-test,en,test alder,no,Test flora 1", 3: "alnus-test,en,water alder,yes,Test flora 1",
        },
    }))  # fmt: skip
    assert SpeciesName.objects.get(is_main=True).name == "water alder"


def test_a_changed_scientific_name_is_found_by_its_new_spelling(files):
    load_reference(folder=files())
    load_reference(
        folder=files({"species.csv": {3: "betula-test,Betula nova,L.,Betula,Betulaceae,tree,,,,Test"}})
    )
    assert Species.objects.get(slug="betula-test").folded == "betula nova"


def test_the_file_can_supersede_a_species_by_one_further_down(files):
    line = "alnus-test,Alnus test,L.,Alnus,Betulaceae,tree,yes,light_demander,betula-test,Test flora 1"
    load_reference(folder=files({"species.csv": {2: line}}))
    assert Species.objects.get(slug="alnus-test").superseded_by.slug == "betula-test"
    assert load_reference(folder=files({"species.csv": {2: line}})).files["species.csv"].unchanged == 2


def test_species_that_supersede_each_other_are_refused(files):
    lines = {
        2: "alnus-test,Alnus test,L.,Alnus,Betulaceae,tree,,,betula-test,Test",
        3: "betula-test,Betula test,L.,Betula,Betulaceae,tree,,,alnus-test,Test",
    }
    with pytest.raises(ReferenceDataError, match=r"species.csv, line 2, column superseded_by: .*circle"):
        load_reference(folder=files({"species.csv": lines}))


def test_an_organisations_own_species_and_facts_are_left_alone(files):
    own = factories.species("alnus-own", owner_organisation_uid=uuid.uuid4())
    SpeciesSynonym.objects.create(species=own, scientific_name="Alnus mine", source="our notes")
    report = load_reference(folder=files())
    assert own.synonyms.count() == 1
    assert report.files["species.csv"].kept == 0


ALDER = "alnus-test,Alnus test,L.,Alnus,Betulaceae,tree,yes,light_demander,,Test flora 1"
WRONG = [
    # (file, line, the line as it should not be, column named, words of the reason)
    ("species.csv", 1, "slug,name", "scientific_name", "the heading must be"),
    ("species.csv", 2, ALDER + ",more", "source", "11 cells"),
    ("species.csv", 2, ALDER.rsplit(",", 2)[0], "superseded_by", "8 cells"),
    ("species.csv", 2, ALDER.replace(",tree,", ",weed,"), "growth_form", "weed"),
    ("species.csv", 2, ALDER.replace(",yes,", ",perhaps,"), "is_nitrogen_fixer", "perhaps"),
    ("species.csv", 2, ALDER.replace("alnus-test", "Alnus test"), "slug", "slug"),
    ("species.csv", 2, ALDER.replace("Test flora 1", ""), "source", "blank"),
    ("species.csv", 2, ALDER.replace(",Alnus,", ",Betula,"), "genus", "begin with the genus"),
    ("species.csv", 2, ALDER.replace(",,Test", ",nobody,Test"), "superseded_by", "nobody"),
    ("species.csv", 2, ALDER.replace(",,Test", ",alnus-test,Test"), "superseded_by", "itself"),
    ("species.csv", 4, ALDER, "slug", "already given on line 2"),
    ("species.csv", 4, ALDER.replace("alnus-test", "alnus-two"), "scientific_name", "already has this name"),
    ("species.csv", 2, '"alnus-test', "slug", "quotation marks"),
    ("species_names.csv", 2, "nobody,en,x,yes,Test", "species", "nobody"),
    ("species_names.csv", 2, "alnus-test,English,x,yes,Test", "language", "BCP 47"),
    ("species_names.csv", 2, "alnus-test,en,x,,Test", "is_main", "yes or no"),
    ("species_names.csv", 3, "alnus-test,en,x,yes,Test", "is_main", "stands on line 2"),
    ("species_synonyms.csv", 2, "alnus-test,,Test", "scientific_name", "blank"),
    ("species_traits.csv", 2, "alnus-test,beauty,1,,mm/year,Test,literature", "trait", "beauty"),
    (
        "species_traits.csv",
        2,
        "alnus-test,rain_lowest_mm,much,,mm/year,Test,literature",
        "value_number",
        "much",
    ),
    (
        "species_traits.csv",
        2,
        "alnus-test,rain_lowest_mm,NaN,,mm/year,Test,literature",
        "value_number",
        "NaN",
    ),
    (
        "species_traits.csv",
        2,
        "alnus-test,rain_lowest_mm,-5,,mm/year,Test,literature",
        "value_number",
        "between",
    ),
    ("species_traits.csv", 2, "alnus-test,rain_lowest_mm,5,,inch,Test,literature", "unit", "mm/year"),
    (
        "species_traits.csv",
        2,
        "alnus-test,rain_lowest_mm,,wet,mm/year,Test,literature",
        "value_text",
        "number",
    ),
    (
        "species_traits.csv",
        2,
        "alnus-test,rain_lowest_mm,,,mm/year,Test,literature",
        "value_number",
        "Give a number",
    ),
    (
        "species_traits.csv",
        2,
        "alnus-test,rain_lowest_mm,5,,mm/year,Test,from_memory",
        "source",
        "Cite a source",
    ),
    ("species_traits.csv", 2, "alnus-test,rain_lowest_mm,5,,mm/year,Test,hearsay", "basis", "hearsay"),
    ("species_traits.csv", 3, "alnus-test,light,,dusk,,Test,literature", "value_text", "full_sun"),
    ("species_traits.csv", 3, "alnus-test,light,3,shade,,Test,literature", "value_number", "words"),
    ("range_status.csv", 2, "alnus-test,pt,,native,Test", "country_code", "two capitals"),
    ("range_status.csv", 2, "alnus-test,PT,,at home,Test", "status", "at home"),
]


@pytest.mark.parametrize(("file", "line", "text", "column", "words"), WRONG)
def test_a_malformed_row_is_named_by_file_line_and_column(files, file, line, text, column, words):
    with pytest.raises(ReferenceDataError) as caught:
        load_reference(folder=files({file: {line: text}}))
    wrong = caught.value
    assert (wrong.file, wrong.column) == (file, column)
    assert (
        wrong.line == line or words == "quotation marks"
    )  # an open quotation runs on to the end of the file
    assert words in wrong.reason
    assert f"{file}, line {wrong.line}, column {column}: " in str(wrong)


def test_a_malformed_row_in_the_last_file_leaves_everything_as_it_was(files):
    load_reference(folder=files())
    before = everything()
    changes = {
        "species.csv": {4: "salix-test,Salix test,L.,Salix,Salicaceae,tree,,,,Test"},
        "range_status.csv": {2: "alnus-test,PT,,at home,Test"},
    }
    with pytest.raises(CommandError, match=r"Nothing was loaded. range_status.csv, line 2, column status"):
        call_command("load_species", folder=files(changes))
    assert everything() == before


def test_a_slug_that_an_organisation_uses_is_refused(files):
    factories.species("alnus-test", owner_organisation_uid=uuid.uuid4())
    with pytest.raises(ReferenceDataError, match=r"species.csv, line 2, column slug"):
        load_reference(folder=files())


def test_giving_a_stored_species_a_new_slug_is_refused(files):
    load_reference(folder=files())
    with pytest.raises(ReferenceDataError, match="keep that one"):
        load_reference(
            folder=files({"species.csv": {3: "betula-new,Betula test,L.,Betula,Betulaceae,tree,,,,Test"}})
        )


def test_a_missing_file_is_named(files):
    folder = files()
    (folder / "range_status.csv").unlink()
    with pytest.raises(ReferenceDataError, match=r"range_status.csv.*missing"):
        load_reference(folder=folder)


def test_text_that_is_not_utf_8_is_named_by_its_line(files):
    folder = files()
    (folder / "species_names.csv").write_bytes(
        b"species,language,name,is_main,source\nalnus-test,pt,\xe1lamo,yes,Test\n"
    )
    with pytest.raises(ReferenceDataError, match=r"species_names.csv, line 2.*UTF-8"):
        load_reference(folder=folder)


def test_one_wrong_value_in_the_shipped_files_is_found(shipped_copy):
    path = shipped_copy / "species_traits.csv"
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    lines[1500] = lines[1500].replace(",from_memory", ",literature")
    path.write_text("".join(lines), encoding="utf-8")
    with pytest.raises(ReferenceDataError, match=r"species_traits.csv, line 1501, column source"):
        load_reference(folder=shipped_copy)
