"""Reading files and cells, without a database."""

import doctest
import importlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitoring.calc.count_headings import FIELDS, WORDS, guessed
from monitoring.calc.count_table_file import Unreadable, read_csv
from monitoring.calc.spreadsheet_cells import as_meant, harmless, is_formula
from monitoring.upload_words import MEANINGS, STATUS_WORDS, plot_status
from tests.uploads.conftest import csv_bytes

MODULES = ("calc.spreadsheet_cells", "calc.count_table_file", "calc.count_headings", "upload_words")


@pytest.mark.parametrize("name", MODULES)
def test_examples_in_docstrings_are_true(name):
    found = doctest.testmod(importlib.import_module(f"monitoring.{name}"))
    assert found.attempted > 0
    assert found.failed == 0


@given(st.text(max_size=20))
def test_a_text_made_harmless_is_no_formula_and_comes_back_as_it_was(text):
    assert not is_formula(harmless(text))
    assert as_meant(harmless(text)) == text


CELLS = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=8)


@given(st.lists(st.tuples(CELLS, CELLS, CELLS), min_size=1, max_size=8), st.sampled_from(",;\t"))
def test_a_table_written_by_the_csv_library_is_read_as_it_was(rows, separator):
    table = [["plot", "species", "alive"], *[list(row) for row in rows]]
    for encoding in ("utf-8", "utf-8-sig", "utf-16"):
        file = read_csv(csv_bytes(table, delimiter=separator, encoding=encoding))
        assert [list(row.cells) for row in file.rows] == table[1:]
        assert [row.line for row in file.rows] == list(range(2, len(table) + 1))


@given(st.binary(max_size=300))
def test_whatever_bytes_arrive_they_are_read_or_refused_by_name(content):
    try:
        assert len(read_csv(content).columns) > 1
    except Unreadable as problem:
        assert problem.code


def test_a_cell_over_several_lines_does_not_shift_the_lines_after_it():
    file = read_csv(b'plot,note\nN1,"first\nsecond"\nN2,x\n')
    assert [(row.line, row.cells[0]) for row in file.rows] == [(2, "N1"), (4, "N2")]


def test_a_separator_line_of_a_spreadsheet_is_understood():
    file = read_csv(b"sep=|\r\nplot|alive\r\nN1|3\r\n")
    assert (file.columns, file.rows[0].line) == (("plot", "alive"), 3)


def test_no_heading_word_stands_for_two_meanings():
    words = [word for meaning in FIELDS for word in {meaning.replace("_", " "), *WORDS[meaning]}]
    assert sorted({word for word in words if words.count(word) > 1}) == []
    assert set(MEANINGS) == set(FIELDS)


@pytest.mark.parametrize(
    ("headings", "meanings"),
    [
        (
            ["Parcela", "Especie", "Vivos", "Muertos", "No encontrados", "Fecha"],
            "plot species alive dead not_found observed_on",
        ),
        (
            ["Placette", "Essence", "Vivants", "Tiges mortes", "Emplacements vides", "Date"],
            "plot species alive dead_stem empty_spot observed_on",
        ),
        (
            ["Kitalu", "Kipande", "Spishi", "Hai", "Zilizokufa", "Tarehe"],
            "block plot species alive dead observed_on",
        ),
        (
            ["block", "plot", "species", "planted", "alive", "dead_stem", "empty_spot", "not_found"],
            "block plot species planted alive dead_stem empty_spot not_found",
        ),
    ],
)
def test_headings_in_each_language_are_understood(headings, meanings):
    assert list(guessed(headings)) == meanings.split()


def test_every_status_is_known_by_its_own_code_and_nonsense_by_none():
    for code in STATUS_WORDS:
        whole, _colon, part = code.partition(":")
        assert plot_status(code) == plot_status(whole, part) == (whole, part)
    assert plot_status("windy") is None
    assert plot_status("missing") is None
    assert plot_status("destruída", "ardida") == ("destroyed", "burnt")
