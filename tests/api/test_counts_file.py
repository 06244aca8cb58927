"""The counts of a round as a file that anybody can compute from again."""

import csv
import io

import pytest
from django.test import Client

from api.tables import harmless
from monitoring.estimators.count_file import read_counts
from monitoring.estimators.round_estimates import round_estimates
from monitoring.selectors.round_counts import round_counts
from tests import factories
from tests.api.conftest import problem
from tests.api.wire import visit_body, wire
from tests.field_log.visits import line

pytestmark = pytest.mark.django_db


@pytest.fixture
def counted(phone, send, plots, baselines, survey_round):
    """Three plots: counted, destroyed, unsafe."""
    send(
        phone,
        wire(visit_body(plots[0], survey_round, [line(baselines[0], 14, dead_stem=3, empty_spot=1)])),
        wire(
            visit_body(
                plots[1],
                survey_round,
                [line(baselines[1], 0, empty_spot=20)],
                status="destroyed",
                reason="slid",
            )
        ),
        wire(visit_body(plots[2], survey_round, status="missing", reason="unsafe")),
    )
    return survey_round


def counts_of(client: Client, survey_round) -> tuple[str, list[dict[str, str]]]:
    response = client.get(f"/api/v1/o/hill/rounds/{survey_round.uid}/counts.csv")
    assert response.status_code == 200
    text = b"".join(response.streaming_content).decode("utf-8")
    return text, list(csv.DictReader(io.StringIO(text)))


def test_the_file_holds_each_counted_line_with_names(signed_in, ana, counted, cohort, plots):
    _text, rows = counts_of(signed_in(ana), counted)
    assert [(row["block"], row["plot"], row["species"]) for row in rows] == [
        ("North slope", "N1", "quercus-robur"), ("North slope", "N2", "quercus-robur"),
    ]  # fmt: skip
    first = rows[0]
    counts = ("planted", "alive", "dead_stem", "empty_spot", "not_found", "not_assessed", "removed")
    assert [first[name] for name in counts] == ["20", "14", "3", "1", "2", "0", "0"]
    assert (first["cohort"], first["lot"], first["unit"]) == (cohort.label, "24-117", "tree")
    assert (first["observed_on"], first["block_planted"], first["plot_uid"]) == (
        "2025-09-14",
        "500",
        str(plots[0].uid),
    )


def test_figures_computed_from_the_file_equal_those_of_the_round(signed_in, ana, counted):
    text, _rows = counts_of(signed_in(ana), counted)

    def figures(table):
        return [
            (row.measure, row.method, row.value, row.se, row.lower, row.upper)
            for row in round_estimates(table) if row.scope == "block"
        ]  # fmt: skip

    from_file = figures(read_counts(text).rounds[0].table)
    assert from_file == figures(round_counts(counted).table)
    assert any(measure == "survival" and value is not None for measure, _method, value, *_ in from_file)


def test_the_file_is_streamed_and_named(signed_in, ana, counted):
    response = signed_in(ana).get(f"/api/v1/o/hill/rounds/{counted.uid}/counts.csv")
    assert response.streaming
    assert response["Content-Type"] == "text/csv; charset=utf-8; header=present"
    assert response["Content-Disposition"] == 'attachment; filename="second-season-counts.csv"'
    assert f'/rounds/{counted.uid}/counts.schema.json>; rel="describedby"' in response["Link"]


def test_the_schema_beside_it_names_the_same_columns(signed_in, ana, counted):
    schema = signed_in(ana).get(f"/api/v1/o/hill/rounds/{counted.uid}/counts.schema.json").json()
    text, _rows = counts_of(signed_in(ana), counted)
    assert [field["name"] for field in schema["fields"]] == text.splitlines()[0].split(",")
    types = {field["name"]: field["type"] for field in schema["fields"]}
    assert (types["alive"], types["observed_on"], types["species"]) == ("integer", "date", "string")
    assert all(field["description"] for field in schema["fields"])


def test_a_round_without_counts_is_a_header(signed_in, ana, survey_round):
    text, rows = counts_of(signed_in(ana), survey_round)
    assert rows == [] and text.startswith("block,plot,species,planted,alive")


def test_two_blocks_of_one_name_stay_apart(
    phone, send, signed_in, ana, hill, project, block, oak, survey_round, counted
):
    twin = factories.block(hill, project, factories.site(hill, name="Lower site"), name="North slope")
    plot = factories.plot(twin, "N1")
    factories.m.RoundPlot.objects.create(organisation=hill, round=survey_round, plot=plot)
    send(phone, wire(visit_body(plot, survey_round, [line(factories.baseline(plot, oak), 5)])))
    _text, rows = counts_of(signed_in(ana), survey_round)
    assert {row["block"] for row in rows} == {"North slope (Upper site)", "North slope (Lower site)"}


@pytest.mark.parametrize("name", ['=HYPERLINK("x")', "+1", "-1", "@SUM", "\tx", "\rx", "'quoted"])
def test_no_cell_runs_in_a_spreadsheet_and_each_can_be_restored(signed_in, ana, block, counted, name):
    block.name = name
    block.save()
    _text, rows = counts_of(signed_in(ana), counted)
    assert rows[0]["block"] == f"'{name}"
    assert harmless(name).removeprefix("'") == name


def test_names_in_any_script_arrive_whole(signed_in, ana, block, counted):
    block.name = "Encosta “São João”, мель, 北坡\nsecond line"
    block.save()
    assert counts_of(signed_in(ana), counted)[1][0]["block"] == block.name


@pytest.mark.parametrize("member", ["vera", "fred"])
@pytest.mark.parametrize("ending", ["csv", "schema.json"])
def test_raw_counts_stay_with_the_staff(request, signed_in, member, survey_round, ending):
    client = signed_in(request.getfixturevalue(member))
    problem(client.get(f"/api/v1/o/hill/rounds/{survey_round.uid}/counts.{ending}"), 403, "forbidden")


@pytest.mark.parametrize("org", ["hill", "other"])
def test_another_organisation_meets_404(signed_in, olaf, survey_round, org):
    problem(signed_in(olaf).get(f"/api/v1/o/{org}/rounds/{survey_round.uid}/counts.csv"), 404, "not_found")
