"""From a file to counts: the whole way, in every shape a file comes in."""

import csv
import io

import pytest

from monitoring.models import CountLine, DirtyKey, Upload, Visit
from projects.models import HistoryEntry, Submission
from tests.uploads.conftest import csv_bytes, stored, xlsx_bytes

pytestmark = pytest.mark.django_db


def test_a_csv_is_read_mapped_checked_shown_and_put_in(desk, twelve):
    answer = desk.send(csv_bytes(twelve.table()))
    upload = Upload.objects.get()
    assert answer.url == desk.url("upload_detail", upload.uid)
    assert "N1 · N2 · N3" in desk.text(upload)
    desk.map(upload)
    upload.refresh_from_db()
    assert (upload.state, upload.problems, upload.n_rows) == ("checked", [], 18)
    assert stored() == (0, 0, 0, 0)
    text = desk.text(upload)
    assert "18 rows for 12 plots; 18 can go in" in text
    assert "Put all 12 plots in" in text
    desk.put_in(upload)
    assert upload.state == "imported"
    assert stored() == (12, 12, 18, 0)
    assert set(Submission.objects.values_list("source", flat=True)) == {"file"}
    lines = CountLine.objects.filter(visit__is_counting=True)
    assert set(lines.values_list("alive", "dead_stem", "not_found", "planted")) == {(14, 2, 4, 20)}
    assert not lines.filter(baseline=None).exists()
    assert HistoryEntry.objects.filter(verb="upload.imported").count() == 1
    assert DirtyKey.objects.filter(kind="round_block").count() == 2
    assert "Go to the round" in desk.text(upload)


def test_an_xlsx_goes_the_same_way(desk, twelve):
    from datetime import datetime

    table = twelve.table()
    for row in table[1:]:
        row[4] = datetime(2025, 9, 14)
    upload = desk.check(xlsx_bytes(table), "counts.xlsx")
    assert (upload.state, upload.problems) == ("checked", [])
    desk.put_in(upload)
    assert stored() == (12, 12, 18, 0)
    assert str(Visit.objects.latest("id").observed_on) == "2025-09-14"


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_any_usual_encoding_and_separator_is_read(desk, twelve, delimiter, encoding):
    table = twelve.table()
    table[0] = ["parcela", "espécie", "vivas", "Caules mortos", "Data da visita"]
    upload = desk.check(csv_bytes(table, delimiter=delimiter, encoding=encoding))
    assert (upload.state, upload.problems) == ("checked", [])
    assert upload.columns[1]["heading"] == "espécie"


def test_portuguese_headings_are_understood_and_unknown_ones_are_not_used(desk, twelve):
    table = [[*row, "azul"] for row in twelve.table()]
    table[0] = ["Nº da parcela", "Espécie", "Vivas", "Não encontradas", "Data", "Cor da fita"]
    desk.send(csv_bytes(table))
    upload = Upload.objects.get()
    understood = {upload.columns[n]["heading"]: meaning for meaning, n in upload.mapping["columns"].items()}
    assert understood == {
        "Espécie": "species", "Vivas": "alive", "Não encontradas": "not_found", "Data": "observed_on",
        "Nº da parcela": "plot",
    }  # fmt: skip
    assert desk.text(upload).count('<option value="" selected>– not used –</option>') == 1


def test_a_day_for_all_rows_stands_in_for_a_missing_column(desk, twelve):
    table = [row[:4] for row in twelve.table()]
    desk.send(csv_bytes(table))
    upload = Upload.objects.get()
    answer = desk.map(upload)
    assert answer.status_code == 422
    assert "No column holds the day of the visit. Write it here." in answer.content.decode()
    upload = desk.check(csv_bytes(table), observed_on="2025-09-20")
    desk.put_in(upload)
    assert {str(day) for day in Visit.objects.values_list("observed_on", flat=True)} == {"2025-09-20"}


def test_a_meaning_is_given_once_and_the_needed_ones_are_asked_for(desk, twelve):
    desk.send(csv_bytes(twelve.table()))
    upload = Upload.objects.get()
    answer = desk.map(upload, dead_stem="alive")
    assert answer.status_code == 422
    assert "“Alive” is chosen twice" in answer.content.decode()
    answer = desk.map(upload, species="")
    assert "Say which column holds “Species”." in answer.content.decode()
    assert Upload.objects.get().job is None


def test_a_plot_that_could_not_be_visited_and_a_dead_total_go_in_as_such(desk, twelve):
    table = [["plot", "species", "alive", "dead", "observed_on", "status", "note"]]
    table += [[name, species, alive, dead, day, "", ""] for name, species, alive, dead, day in twelve.rows()]
    table[1] = ["N1", "", "", "", "2025-09-14", "Unsafe, not visited", "rockfall"]
    upload = desk.check(csv_bytes(table))
    assert (upload.state, upload.problems) == ("checked", [])
    desk.put_in(upload)
    visit = Visit.objects.get(plot=twelve.plots[0])
    assert (visit.status, visit.reason, visit.lines.count()) == ("missing", "unsafe", 0)
    assert Visit.objects.get(plot=twelve.plots[1]).lines.get().dead_stem == 2
    assert "rockfall" in Submission.objects.get(client_id=visit.uid).personal_part.personal


def test_the_table_to_fill_in_comes_back_as_it_went_out(desk, twelve, block, oak):
    from tests import factories

    odd = factories.plot(block, "=N7+1")
    baseline = factories.baseline(odd, oak, 9)
    factories.m.RoundPlot.objects.create(organisation=odd.organisation, round=twelve.survey_round, plot=odd)
    answer = desk.client.get(desk.url("upload_template", twelve.survey_round.uid))
    assert answer["Content-Disposition"] == 'attachment; filename="second-season-to-fill-in.csv"'
    text = answer.content.decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == 19
    assert "'=N7+1" in text
    assert ",=N7+1" not in text
    for row in rows:
        row |= {"alive": "7", "observed_on": "2025-09-14"} if row["plot"] not in ("N1", "E2") else {}
    file = io.StringIO()
    writer = csv.DictWriter(file, rows[0])
    writer.writeheader()
    writer.writerows(rows)
    upload = desk.check(file.getvalue().encode("utf-8-sig"))
    assert (upload.state, upload.problems) == ("checked", [])
    assert "2 plots have no entry in the file and are left out: N1, E2." in desk.text(upload).replace(
        "E2, N1", "N1, E2"
    )
    desk.put_in(upload)
    assert Visit.objects.get(plot=odd).lines.get().baseline == baseline
    assert Visit.objects.count() == 11


def test_a_lot_tells_two_plantings_of_one_species_apart(desk, twelve, block, oak, hill, cohort):
    from tests import factories

    second = factories.cohort(
        block, factories.lot(hill, oak, code="25-009"), factories.season(hill, year=2025)
    )
    plot = twelve.plots[0]
    extra = factories.baseline(plot, oak, 6, cohort=second)
    rows = [["plot", "species", "lot", "alive", "observed_on"]]
    rows += [
        ["N1", "Quercus robur", "24-117", 12, "2025-09-14"],
        ["N1", "Quercus robur", "25-009", 5, "2025-09-14"],
    ]
    desk.put_in(desk.check(csv_bytes(rows)))
    assert dict(CountLine.objects.values_list("baseline", "alive")) == {
        twelve.baselines[0].pk: 12,
        extra.pk: 5,
    }


def test_a_row_without_a_lot_counts_every_planting_of_its_species(desk, twelve, block, oak, hill):
    from tests import factories

    second = factories.cohort(
        block, factories.lot(hill, oak, code="25-009"), factories.season(hill, year=2025)
    )
    extra = factories.baseline(twelve.plots[0], oak, 6, cohort=second)
    rows = [["plot", "species", "alive", "observed_on"], ["N1", "quercus-robur", 24, "14/09/2025"]]
    desk.put_in(desk.check(csv_bytes(rows)))
    line = CountLine.objects.get()
    assert set(line.baseline_lines) == {str(twelve.baselines[0].line), str(extra.line)}
    assert (line.planted, line.not_found) == (26, 2)
