"""What is refused: each row with its line, its cell and what to do; and nothing of the file is stored."""

import io
import zipfile

import pytest

from monitoring.models import Upload
from monitoring.services import entries
from tests.uploads.conftest import DAY, HEADINGS, csv_bytes, stored, xlsx_bytes

pytestmark = pytest.mark.django_db

# (line, heading, what is written there, words of the refusal)
CELLS = [
    (3, "plot", "N99", "“N99” is not in this round; plots here are E1, E2"),
    (3, "plot", "", "Write which plot this row belongs to."),
    (4, "species", "Quercus rubor", "Did you mean Quercus robur?"),
    (4, "species", "Zzyzx", "Planted in this plot by its baseline: Quercus robur."),
    (4, "species", "Pinus pinaster", "No Pinus pinaster was planted in plot N3 by its baseline"),
    (5, "alive", "a dozen", "Write a whole number in digits, such as 14."),
    (5, "alive", "12,5", "Write a whole number in digits"),
    (5, "alive", "1,000", "Write a whole number in digits"),
    (5, "alive", "-3", "A count cannot be below 0."),
    (5, "alive", "", "Write how many are alive, 0 if none."),
    (5, "alive", "=B2+3", "This cell holds a formula."),
    (5, "alive", "9999999", "No plot holds that many."),
    (5, "alive", "21", "20 were planted. More are alive than were planted."),
    (6, "observed_on", "2099-01-01", "The date lies in the future."),
    (6, "observed_on", "09/14/2025", "Write the day as year-month-day"),
    (6, "observed_on", "2023-09-14", "The date lies before the trees were planted."),
    (6, "observed_on", "", "Write the day of the visit"),
    (6, "observed_on", "2025-12-24", "The date lies after the round closed."),
]


@pytest.mark.parametrize(("line", "heading", "value", "words"), CELLS)
def test_a_row_is_refused_with_its_line_its_column_and_what_to_do(desk, twelve, line, heading, value, words):
    upload = desk.check(csv_bytes(twelve.table((line, heading, value))))
    assert upload.state == "refused"
    found = [problem for problem in upload.problems if words in problem["detail"]]
    assert [(p["line"], p["column"], p["value"]) for p in found] == [(line, heading, value)], upload.problems
    assert len(upload.problems) == 1
    assert stored() == (0, 0, 0, 0)
    text = desk.text(upload)
    assert words in text
    assert "Upload a corrected file" in text
    assert "plots in</button>" not in text


def test_every_fault_of_a_file_is_told_at_once_in_the_order_of_its_lines(desk, twelve):
    changes = [(9, "alive", "x"), (3, "plot", "N99"), (15, "alive", 21), (11, "observed_on", "2099-01-01")]
    upload = desk.check(csv_bytes(twelve.table(*changes)))
    told = [(problem["line"], problem["column"]) for problem in upload.problems]
    assert told == [
        (3, "plot"),
        (9, "alive"),
        (11, "observed_on"),  # in the future
        (15, "alive"),  # told although line 9, of the same plot, is faulty too
        (17, "observed_on"),  # not the day of line 11, which is of the same plot
    ]
    assert "need attention" in desk.text(upload)
    assert stored() == (0, 0, 0, 0)


def test_a_row_that_adds_up_to_more_than_was_planted_is_refused_with_both_numbers(desk, twelve):
    (problem,) = desk.check(csv_bytes(twelve.table((5, "dead_stem", "7")))).problems
    assert (problem["line"], problem["column"], problem["value"]) == (5, "alive", "14")
    assert problem["detail"].startswith("20 were planted and the row adds up to 21. The line does not add up")
    assert stored() == (0, 0, 0, 0)


def test_a_line_number_is_that_of_the_file_also_after_blank_rows_and_broken_cells(desk, twelve):
    table = twelve.table((6, "alive", "x"))
    content = csv_bytes(table[:2]) + b"\r\n,,,,\r\n" + csv_bytes(table[2:])
    assert [problem["line"] for problem in desk.check(content).problems] == [8]


def test_the_same_species_of_a_plot_twice_is_refused(desk, twelve):
    table = [*twelve.table(), ["N1", "Quercus robur", 3, 0, DAY]]
    (problem,) = desk.check(csv_bytes(table)).problems
    assert (problem["line"], problem["column"]) == (20, "species")
    assert "Line 2 already counts this species in plot N1." in problem["detail"]


def test_a_plot_that_leaves_out_something_planted_is_refused(desk, twelve):
    table = twelve.table()
    del table[13]  # the pines of E1
    (problem,) = desk.check(csv_bytes(table)).problems
    assert (problem["line"], problem["plot"]) == (8, "E1")
    assert "Also planted in plot E1: Pinus pinaster (20)." in problem["detail"]


def test_a_plot_name_of_two_blocks_asks_for_the_block(desk, twelve, block):
    twelve.plots[6].name = "N1"
    twelve.plots[6].save()
    rows = [["plot", "block", "species", "alive", "observed_on"], ["N1", "", "Quercus robur", 3, DAY]]
    (problem,) = desk.check(csv_bytes(rows)).problems
    assert (
        "Several plots are called “N1”: in East slope (Upper site), North slope (Upper site)."
        in problem["detail"]
    )
    rows[1][1] = "north SLOPE"
    assert desk.check(csv_bytes(rows)).state == "checked"
    rows[1][1] = "West slope"
    (problem,) = desk.check(csv_bytes(rows)).problems
    assert (problem["column"], problem["value"]) == ("block", "West slope")


def test_a_planted_number_other_than_the_baseline_is_refused(desk, twelve):
    rows = [["plot", "species", "planted", "alive", "observed_on"], ["N1", "Quercus robur", 25, 3, DAY]]
    (problem,) = desk.check(csv_bytes(rows)).problems
    assert problem["detail"] == "The baseline of plot N1 says 20. Correct the row, or the baseline first."


def test_a_plot_that_was_not_counted_carries_no_counts(desk, twelve):
    rows = [["plot", "species", "alive", "observed_on", "status"], ["N1", "Quercus robur", 3, DAY, "unsafe"]]
    rows += [["N2", "Quercus robur", 3, DAY, "windy"]]
    first, second = desk.check(csv_bytes(rows)).problems
    assert "A plot that was not counted carries no counts." in first["detail"]
    assert second["detail"].startswith("Write counted, unsafe, refused")


def test_a_row_with_more_cells_than_headings_is_refused(desk, twelve):
    table = twelve.table()
    table[3] = [*table[3], "a note, with a comma"]
    (problem,) = desk.check(csv_bytes(table)).problems
    assert (problem["line"], problem["value"]) == (4, "a note, with a comma")


def test_a_plot_somebody_counted_otherwise_is_refused_and_the_same_count_is_left_as_it_is(
    desk, twelve, actor
):
    for plot, baseline, alive in zip(twelve.plots[:2], twelve.baselines[:2], (14, 13), strict=True):
        line = {"baselines": [str(baseline.line)], "species": "quercus-robur", "alive": alive, "dead_stem": 2}
        from datetime import date

        entry = entries.visit_record(
            plot=plot, survey_round=twelve.survey_round, observed_on=date(2025, 9, 14), lines=[line]
        )
        entries.enter(actor=actor, entry=entry)
    before = stored()
    upload = desk.check(csv_bytes(twelve.table()))
    (problem,) = upload.problems
    assert (problem["line"], problem["column"], problem["value"]) == (3, "plot", "N2")
    assert "counted in this round already, on 2025-09-14" in problem["detail"]
    assert "Plot N1 is in already with the same numbers and stays as it is." in desk.text(upload)
    assert stored() == before
    upload = desk.check(csv_bytes(twelve.table((3, "alive", 13))))
    assert upload.state == "checked"
    assert "2 plots are in already" in desk.text(upload)
    assert "Put all 10 plots in" in desk.text(upload)


def broken(**parts: bytes) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as package:
        for name, content in parts.items():
            package.writestr(name.replace("__", "/"), content)
    return file.getvalue()


CONTENT = {"[Content_Types].xml": b"<Types/>"}
BOMB = broken(**CONTENT, **{"xl__worksheets__sheet1.xml": b"0" * 70_000_000})
ENTITIES = broken(**CONTENT, **{"xl__workbook.xml": b'<!DOCTYPE a [<!ENTITY b "c">]><a/>'})
FILES = {
    "empty": (b"", "The file is empty."),
    "only blanks": (b" \n\n", "The file is empty."),
    "no rows": (b"plot,species,alive\n", "holds headings but no rows"),
    "no headings": (b"1,2,3\n4,5,6\n", "The first row holds no headings."),
    "one column": (b"plot\nN1\n", "Only one column was found."),
    "a heading twice": (b"plot,Alive,alive\nN1,2,3\n", "The heading “alive” stands twice."),
    "an open quote": (b'plot,species,alive\nN1,"oak,3\nN2,oak,4\n', "From line 2 on"),
    "junk": (bytes(range(256)) * 20, "This is not a table."),
    "a picture": (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "This is not a table."),
    "a locked or old workbook": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\x00" * 600, "protected by a password"),
    "a cut-off workbook": (xlsx_bytes([HEADINGS])[:900], "The workbook is damaged"),
    "a zip of something": (broken(**{"readme.txt": b"hello"}), "not an XLSX workbook"),
    "a workbook without parts": (broken(**CONTENT, **{"xl__workbook.xml": b"<a/>"}), "The workbook is damaged"),
    "a workbook with entities": (ENTITIES, "The workbook is damaged"),
    "a bomb": (BOMB, "unpacks to far more than a table of counts"),
    "an empty workbook": (xlsx_bytes([]), "The file is empty."),
    "too many columns": (",".join(f"c{n}" for n in range(300)).encode() + b"\n1", "more than 200 columns"),
}  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_a_file_that_cannot_be_read_is_refused_in_words_at_its_field(desk, name):
    content, words = FILES[name]
    answer = desk.send(content, f"{name}.xlsx")
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not Upload.objects.exists()


def test_no_file_is_asked_for(desk):
    answer = desk.client.post(desk.url("upload_new", desk.survey_round.uid), {})
    assert answer.status_code == 422
    assert "Choose the file with the counts." in answer.content.decode()


def test_a_file_of_20_megabytes_is_refused_before_it_is_taken_apart(desk, monkeypatch):
    from django.http import HttpRequest

    monkeypatch.setattr(HttpRequest, "_load_post_and_files", lambda self: pytest.fail("the body was parsed"))
    answer = desk.send(b"plot,species,alive\n" + b"N1,oak,3\n" * 2_300_000)
    assert answer.status_code == 413
    assert "Send a file of at most 10.0\xa0MB" in answer.content.decode()
    assert not Upload.objects.exists()


def test_a_file_a_little_too_large_is_refused_at_its_field(desk, settings):
    settings.COUNT_FILE_MAX_BYTES = 2000
    answer = desk.send(b"plot,species,alive\n" + b"N1,oak,3\n" * 400)
    assert answer.status_code == 422
    assert "The file is larger than 2.0\xa0KB." in answer.content.decode()


def test_more_rows_than_can_be_taken_are_refused_when_the_file_is_checked(desk):
    content = b"plot,species,alive,observed_on\n" + b"N1,Quercus robur,3,2025-09-14\n" * 20_001
    upload = desk.check(content)
    assert [(p["line"], p["detail"][:40]) for p in upload.problems] == [
        (0, "The file holds more than 20000 rows. Spl")
    ]
    assert "whole file" in desk.text(upload)


def test_more_plots_than_one_transaction_takes_are_refused(desk, twelve, monkeypatch):
    from monitoring.services import uploads

    monkeypatch.setattr(uploads, "MOST_PLOTS", 11)
    (problem,) = desk.check(csv_bytes(twelve.table())).problems
    assert problem["detail"].startswith("The file holds counts of more than 11 plots.")
    assert stored() == (0, 0, 0, 0)


def test_a_formula_of_a_workbook_is_refused_at_its_cell(desk, twelve):
    table = twelve.table((4, "alive", "=10+4"))
    (problem,) = desk.check(xlsx_bytes(table), "counts.xlsx").problems
    assert (problem["line"], problem["column"], problem["value"]) == (4, "alive", "=10+4")


def test_a_file_without_any_entry_says_so(desk, twelve):
    (problem,) = desk.check(csv_bytes([HEADINGS, ["N1", "Quercus robur", "", "", ""]])).problems
    assert problem["detail"].startswith("No row holds a count.")


def test_what_a_cell_says_is_shown_as_text(desk, twelve):
    upload = desk.check(csv_bytes(twelve.table((5, "alive", "<b>14</b>"))), "<i>counts.csv")
    text = desk.text(upload)
    assert "&lt;b&gt;14&lt;/b&gt;" in text
    assert "<b>14</b>" not in text
    assert "<i>counts" not in text
