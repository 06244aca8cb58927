"""The table as a file: what goes out comes back unchanged, and what is wrong in it is named by line and column."""

import csv
import io
import json
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from projects.models import HistoryEntry
from projects.services import own_species, species_table
from projects.services.own_species import Stated
from species.access import own_ranges, own_traits
from species.fact_table import COLUMNS, BadTable, FactRow, read_table, schema, write_table
from species.models import RangeStatus, SpeciesTrait
from species.selectors.table import fact_rows
from species.traits import FROM_MEMORY
from tests import factories

HEAD = ",".join(COLUMNS)
RAIN = {
    "rain_lowest_mm": 400,
    "rain_optimum_from_mm": 600,
    "rain_optimum_to_mm": 1200,
    "rain_highest_mm": 2000,
}
ODD = (
    "",
    "oak",
    "=1+1",
    "+x",
    "-5",
    "-5.25",
    "-x",
    "@a",
    "'tis",
    "''",
    "'=1",
    "'-2",
    'say "so"',
    "a;b",
    "a,b",
    "é −3",
    "|",
)
cells = st.sampled_from(ODD)


@given(
    st.lists(st.builds(FactRow, *[cells] * 9).filter(lambda row: any(vars_of(row))), min_size=1, max_size=5)
)
def test_any_text_comes_back_as_it_went_out_and_no_cell_is_a_formula(rows):
    text = write_table(rows)
    for line in csv.reader(io.StringIO(text)):
        assert not any(cell.startswith(("=", "+", "@")) for cell in line)
        assert all(not cell.startswith("-") or cell[1:].replace(".", "").isdigit() for cell in line)
    back, problems = read_table(text.encode())
    assert [row for _line, row in back] == rows
    assert problems == []


def vars_of(row):
    return [getattr(row, name) for name in COLUMNS]


@pytest.mark.parametrize(
    ("content", "line", "words"),
    [
        (b"", 0, "empty"),
        (b"PK\x03\x04abc", 0, "workbook"),
        (HEAD.encode(), 0, "no rows below"),
        (f"{HEAD}\na,b,\xe9".encode("latin-1"), 2, "not UTF-8"),
        (b"\x00\x01\x02", 0, "not a table"),
        (f"{HEAD},colour\nx".encode(), 1, "“colour” is no column"),
        (f"{HEAD},value\nx".encode(), 1, "“value” stands twice"),
        (b"species,trait,value,source\nx", 1, "The heading whose is missing"),
        (b"trait,value,source,whose\nx", 1, "The heading species is missing"),
        (f'{HEAD}\na,b,c,,1,,"open\n'.encode(), 2, "quotation mark"),
    ],
)
def test_a_file_that_is_no_table_is_refused_with_the_line(content, line, words):
    with pytest.raises(BadTable, match=words) as caught:
        read_table(content)
    assert caught.value.problem.line == line


def test_formulas_and_extra_cells_are_named():
    text = f"{HEAD}\nq,Q,uses,,=1+1,,s,literature,own\nq,Q,uses,,soil,,a, b,literature,own,x\n"
    _rows, problems = read_table(text.encode())
    assert [(problem.line, problem.column) for problem in problems] == [(2, "value"), (3, "")]


def test_the_schema_describes_the_columns_in_their_order():
    told = schema()
    assert [field["name"] for field in told["fields"]] == list(COLUMNS)
    assert set(told["primaryKey"]) <= set(COLUMNS)
    assert "soil_ph_lowest: 2.5..10.5 pH" in told["fields"][4]["description"]
    json.dumps(told)


@pytest.fixture
def rainy(oak):
    for trait, value in RAIN.items():
        SpeciesTrait.objects.create(
            species=oak,
            trait=trait,
            value_number=value,
            unit="mm/year",
            source=FROM_MEMORY,
            basis="from_memory",
        )
    RangeStatus.objects.create(species=oak, country_code="PT", status="native", source="=a list; n.º 5")
    return oak


@pytest.fixture
def own(actor, rainy):
    stated = {
        "rain_lowest_mm": Stated(Decimal("450.125"), "Flora, “p. 3”", "measured"),
        "uses": Stated(("soil", "timber"), "+walk", "literature"),
    }
    own_species.state_each(actor=actor, species=rainy, stated=stated)
    own_species.state_status(
        actor=actor, species=rainy, country_code="PT", region="PT-30", status="introduced", source="list"
    )
    return rainy


def row(trait="rain_lowest_mm", value="450", whose="own", **more):
    values = {
        "species": "quercus-robur", "scientific_name": "", "trait": trait, "place": "", "value": value,
        "unit": "", "source": "Flora", "basis": "literature", "whose": whose,
    } | more  # fmt: skip
    return FactRow(**values)


def written(*rows):
    return write_table(rows).encode()


@pytest.mark.django_db
@pytest.mark.parametrize("form", ["as it is", "with a byte mark", "semicolons", "columns turned round"])
def test_what_was_taken_out_changes_nothing_when_it_is_brought_back(actor, own, hill, form):
    text = write_table(fact_rows(hill.uid))
    if form == "with a byte mark":
        text = "\ufeff" + text
    if form in ("semicolons", "columns turned round"):
        out = io.StringIO(newline="")
        turn = -1 if form == "columns turned round" else 1
        csv.writer(out, delimiter=";").writerows(line[::turn] for line in csv.reader(io.StringIO(text)))
        text = out.getvalue()
    found = species_table.put_in(actor=actor, content=text.encode())
    assert (found.changes, found.problems, found.unchanged) == ([], [], 7)
    assert HistoryEntry.objects.filter(subject_kind="species").count() == 2


@pytest.mark.django_db
def test_own_rows_are_added_changed_and_taken_back_and_shared_ones_stay(actor, own, hill):
    content = written(
        row(value="500,5"), row("uses", ""), row("roles", "main hedge", source="", basis="from_memory"),
        row("status", "invasive", place="KE", basis="", source="National list"),
        row("status", "", place="PT/PT-30", basis="", source=""),
        row("rain_highest_mm", "2000", "shared", source=FROM_MEMORY),
    )  # fmt: skip
    before = species_table.read(actor=actor, content=content)
    assert own_traits(hill.uid).count() == 2
    assert before.acts() == {"added": 2, "changed": 1, "taken_back": 2}
    species_table.put_in(actor=actor, content=content)
    told = {trait.trait: trait.value_text or float(trait.value_number) for trait in own_traits(hill.uid)}
    assert told == {"rain_lowest_mm": 500.5, "roles": "main hedge"}
    assert [(place.country_code, place.status) for place in own_ranges(hill.uid)] == [("KE", "invasive")]
    assert SpeciesTrait.objects.get(trait="rain_lowest_mm", owner_organisation_uid=None).value_number == 400
    assert species_table.read(actor=actor, content=content).changes == []


WRONG = [
    (row(species="quercus-nova"), "species", "No species is called “quercus-nova” here"),
    (row(species="", scientific_name="Nusquam arbor"), "scientific_name", "Add it first"),
    (row(scientific_name="Fagus test"), "scientific_name", "not Fagus test"),
    (row("beauty"), "trait", "not a trait we know"),
    (row(whose="mine"), "whose", "Write own"),
    (row(place="PT"), "place", "only of a status"),
    (row("status", "native", place="XX", basis=""), "place", "two capitals"),
    (row("status", "lovely", place="PT", basis=""), "value", "Write one of: native"),
    (row("status", "native", place="PT"), "basis", "neither unit nor basis"),
    (row("status", "native", place="PT", basis="", source=""), "source", "list or authority"),
    (row("soil_ph_lowest", "19"), "value", "pH 19: write a number from 2.5 to 10.5."),
    (row(value="1,000"), "value", "without signs for thousands"),
    (row(value="4 or 5"), "value", "Write a number"),
    (row(unit="inches"), "unit", "must be mm/year"),
    (row(source=""), "source", "Write where the value comes from"),
    (row(basis=""), "basis", "rests on"),
    (row("uses", "gold"), "value", "Use one or more of"),
    (row(value="700"), "value", "must not lie above “Rain in a year, optimum from” (600 mm/year)"),
    (row(value="401", whose="shared", source=FROM_MEMORY), "value", "The shared reference says 400"),
    (row(value="400", whose="shared", source="me"), "source", "write own in the column whose"),
    (row("light", "shade", whose="shared"), "whose", "says nothing here"),
]


@pytest.mark.django_db
@pytest.mark.parametrize(("bad", "column", "words"), WRONG)
def test_one_problem_is_named_by_line_and_column_and_nothing_is_put_in(
    actor, rainy, hill, bad, column, words
):
    factories.species("fagus-test")
    content = written(row("roles", "main"), bad)
    with pytest.raises(species_table.BadFile) as caught:
        species_table.put_in(actor=actor, content=content)
    (problem,) = caught.value.problems
    assert (problem.line, problem.column) == (3, column)
    assert words in problem.words
    assert not own_traits(hill.uid).exists()
    assert not own_ranges(hill.uid).exists()


@pytest.mark.django_db
@pytest.mark.parametrize("place", ["PT", "PT/PT-30"])
def test_a_file_lifts_no_invasive_status_from_memory(actor, rainy, place):
    RangeStatus.objects.update(status="invasive")
    told = row("status", "native", place=place, basis="", source=FROM_MEMORY)
    (problem,) = species_table.read(actor=actor, content=written(told)).problems
    assert (problem.line, problem.column) == (2, "source")
    assert "n.º 5" in problem.words


@pytest.mark.django_db
def test_every_problem_is_listed_at_once_and_a_row_given_twice_names_the_first(actor, rainy):
    content = written(
        *(bad for bad, _column, _words in WRONG[:10]), row("roles", "main"), row("roles", "hedge")
    )
    found = species_table.read(actor=actor, content=content)
    assert [problem.line for problem in found.problems] == [*range(2, 12), 13]
    assert "Line 12 says this already" in found.problems[-1].words


def test_rows_with_too_many_cells_count_as_rows():
    with pytest.raises(BadTable, match="Split it"):
        read_table((HEAD + "\n" + ",,,,,,,,,x\n" * 20_001).encode())


@pytest.mark.django_db
def test_a_page_holds_only_so_many_problems_and_says_how_many_more(signed_in, ana, rainy):
    content = written(*(row("no_such_trait", str(number)) for number in range(600)))
    sent = {"file": SimpleUploadedFile("facts.csv", content)}
    answer = signed_in(ana).post(reverse("projects:species_import", kwargs={"org": "hill"}), sent)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert page.count("is not a trait we know") == 500
    assert "600 problems" in page and "and 100 more like these" in page


@pytest.mark.django_db
def test_points_that_rise_together_may_come_in_any_order_and_from_two_sources(actor, rainy, hill):
    content = written(row(value="900"), row("rain_optimum_from_mm", "1000", source="Other flora"))
    assert species_table.put_in(actor=actor, content=content).acts()["added"] == 2
    back = written(row("rain_optimum_from_mm", ""))
    (problem,) = species_table.read(actor=actor, content=back).problems
    assert (problem.line, problem.column) == (2, "value")


@pytest.mark.django_db
def test_a_stranger_sees_no_own_row_and_changes_none(actor, own, other, olaf, signed_in):
    text = signed_in(olaf).get("/o/other/species/table.csv").content.decode()
    assert "walk" not in text
    assert ",own" not in text
    assert text.count("quercus-robur") == 5


@pytest.mark.django_db
def test_the_page_shows_what_would_change_before_it_is_put_in(signed_in, ana, rainy, hill):
    browser, place = signed_in(ana), reverse("projects:species_import", args=["hill"])
    table = browser.get("/o/hill/species/table.csv")
    assert table["Link"].startswith("</o/hill/species/table-schema.json>")
    same = browser.post(place, {"file": SimpleUploadedFile("t.csv", table.content)})
    assert "nothing to put in" in same.content.decode()
    shown = browser.post(place, {"file": SimpleUploadedFile("t.csv", written(row(value="=1")))})
    assert shown.status_code == 422
    shown = browser.post(
        place, {"file": SimpleUploadedFile("t.csv", written(row(), row("uses", "soil", source="=x")))}
    )
    assert shown.status_code == 200
    assert not own_traits(hill.uid).exists()
    done = browser.post(place, {"seen": shown.context["confirm"]})
    assert done["Location"] == "/o/hill/species/"
    assert {trait.source for trait in own_traits(hill.uid)} == {"Flora", "=x"}
    assert browser.post(place, {}).status_code == 422
    assert browser.post(place, {"seen": "rubbish"}).status_code == 422


@pytest.mark.django_db
def test_reading_asks_as_often_for_many_rows_as_for_two(actor, rainy, django_assert_max_num_queries):
    for number in range(20):
        factories.species(f"betula-n{number}")
    many = [row("uses", "soil", species=f"betula-n{number}") for number in range(20)]
    with django_assert_max_num_queries(9) as few:
        species_table.read(actor=actor, content=written(row("uses", "soil"), row("roles", "main")))
    with django_assert_max_num_queries(9) as more:
        species_table.read(actor=actor, content=written(*many))
    assert len(few) == len(more)
