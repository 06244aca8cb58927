"""The field pack: what a phone needs to count offline, and nothing of anybody else."""

import json
from datetime import UTC, date, datetime, timedelta

import pytest
from django.test import Client
from django.test.utils import CaptureQueriesContext

from projects.models import CareTask, FieldPassProject, LotCheck
from species.models import RangeStatus, SpeciesName
from tests import factories
from tests.api.conftest import problem
from tests.api.wire import visit_body, wire
from tests.field_log.visits import line

pytestmark = pytest.mark.django_db
PACK = "/api/v1/field/pack"


def test_the_pack_holds_the_rounds_plots_and_baselines_of_the_pass(
    phone, survey_round, plots, baselines, cohort, block, site
):
    pack = phone.get(PACK).json()
    assert set(pack) == {"organisation", "person", "emergency", "release", "server_time", "species", "rounds"}
    (row,) = pack["rounds"]
    assert (row["uid"], row["country"], row["opens_on"], row["protocol"]) == (
        str(survey_round.uid),
        "PT",
        "2025-09-01",
        "1",
    )
    first = row["plots"][0]
    assert (first["uid"], first["name"], first["radius_m"], first["unit"]) == (
        str(plots[0].uid),
        "N1",
        5.64,
        "tree",
    )
    assert first["block"] == {"uid": str(block.uid), "name": "North slope"}
    assert first["site"] == {"uid": str(site.uid), "name": "Upper site"}
    assert (first["counted"], first["last"]) == (False, None)
    assert first["baselines"] == [
        {"uid": str(baselines[0].line), "species": "quercus-robur", "planted": 20, "unit": "tree",
         "cohort": cohort.label, "source": "at_planting", "counted_on": "2024-03-01"}
    ]  # fmt: skip
    assert [plot["name"] for plot in row["plots"]] == ["N1", "N2", "N3"]


def test_the_person_is_a_role_and_no_name(phone, field_pass):
    response = phone.get(PACK)
    assert response.json()["person"] == "Field volunteer"
    assert field_pass.person.name not in response.content.decode()


def test_a_counted_plot_names_the_visit_to_correct(phone, send, plots, baselines, survey_round):
    body = visit_body(plots[1], survey_round, [line(baselines[1], 9)])
    send(phone, wire(body))
    by_name = {plot["name"]: plot for plot in phone.get(PACK).json()["rounds"][0]["plots"]}
    assert by_name["N2"]["counted"]
    assert by_name["N2"]["last"] == {"visit": body["visit"], "head": body["visit"]}
    assert not by_name["N1"]["counted"]


def test_species_carry_names_and_where_they_are_invasive(phone, oak):
    SpeciesName.objects.create(species=oak, language="en", name="Pedunculate oak", is_main=True, source="s")
    SpeciesName.objects.create(species=oak, language="en", name="Truffle oak", source="s")
    SpeciesName.objects.create(
        species=oak, language="pt", name="Carvalho-alvarinho", is_main=True, source="s"
    )
    RangeStatus.objects.create(species=oak, country_code="ZA", status="invasive", source="s")
    RangeStatus.objects.create(species=oak, country_code="PT", status="native", source="s")
    (told,) = [row for row in phone.get(PACK).json()["species"] if row["slug"] == "quercus-robur"]
    assert told["names"] == {"en": "Pedunculate oak", "pt": "Carvalho-alvarinho"}
    assert told["invasive_in"] == ["ZA"]


def test_closed_rounds_and_retired_plots_stay_at_home(phone, survey_round, plots):
    from django.utils import timezone

    plots[0].retired_at = timezone.now()
    plots[0].save()
    assert [plot["name"] for plot in phone.get(PACK).json()["rounds"][0]["plots"]] == ["N2", "N3"]
    survey_round.status = "closed"
    survey_round.save()
    assert phone.get(PACK).json()["rounds"] == []


def test_a_pass_sees_its_own_rounds_and_a_member_all_open_ones_of_granted_projects(
    phone, signed_in, vera, ana, project, plots, hill
):
    second = factories.survey_round(project, plots[:1], opens_on=date(2025, 9, 2))
    factories.survey_round(factories.project(hill), [])
    assert len(phone.get(PACK).json()["rounds"]) == 1
    assert [row["uid"] for row in signed_in(vera).get(PACK).json()["rounds"]][1:] == [str(second.uid)]
    assert len(signed_in(ana).get(PACK).json()["rounds"]) == 3


def test_emergency_numbers_that_differ_are_told_with_their_site(phone, hill, project, survey_round, site):
    hill.emergency_contact = "112"
    hill.save()
    assert phone.get(PACK).json()["emergency"] == "112"
    far = factories.site(hill, name="Far site", country_code="KE", emergency_contact="999")
    plot = factories.plot(factories.block(hill, project, far))
    factories.m.RoundPlot.objects.create(organisation=hill, round=survey_round, plot=plot)
    assert phone.get(PACK).json()["emergency"] == "Far site: 999 · Upper site: 112"


def test_an_unchanged_pack_is_not_sent_again(phone, send, plots, survey_round):
    first = phone.get(PACK)
    again = phone.get(PACK, headers={"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content, again["ETag"]) == (304, b"", first["ETag"])
    send(phone, wire(visit_body(plots[0], survey_round)))
    changed = phone.get(PACK, headers={"If-None-Match": first["ETag"]})
    assert (changed.status_code, changed["ETag"] != first["ETag"]) == (200, True)


def test_queries_do_not_grow_with_plots_rounds_or_species(
    phone, connection_queries, project, block, oak, hill, field_pass
):
    few = connection_queries(lambda: phone.get(PACK))
    for number in range(3):
        plots = [factories.plot(block) for _ in range(8)]
        for plot in plots:
            factories.baseline(plot, factories.species(f"acer-number{number}", family="Sapindaceae"))
        row = factories.survey_round(project, plots)
        factories.m.FieldPassRound.objects.create(organisation=hill, field_pass=field_pass, round=row)
    assert connection_queries(lambda: phone.get(PACK)) == few


@pytest.fixture
def connection_queries():
    from django.db import connection

    def count(work) -> int:
        with CaptureQueriesContext(connection) as queries:
            assert work().status_code == 200
        return len(queries)

    return count


def test_nothing_of_another_organisation_is_in_a_pack(phone, other, olaf, signed_in, survey_round):
    theirs = factories.plot(factories.block(other, factories.project(other), factories.site(other)), "CANARY")
    factories.survey_round(theirs.block.project, [theirs])
    assert "CANARY" not in phone.get(PACK).content.decode()
    told = signed_in(olaf).get(PACK).json()
    assert "CANARY" in json.dumps(told)
    assert str(survey_round.uid) not in json.dumps(told)


def test_strangers_and_funders_get_no_pack(signed_in, fred):
    problem(Client().get(PACK), 401, "not_signed_in")
    problem(signed_in(fred).get(PACK), 403, "forbidden")


# --- field work -----------------------------------------------------------------------------
@pytest.fixture
def at_work(phone, field_pass, hill, project):
    """A phone whose pass names the project for field work too."""
    FieldPassProject.objects.create(organisation=hill, field_pass=field_pass, project=project)
    return phone


def care_task(block, **fields):
    values = {
        "organisation": block.organisation,
        "block": block,
        "kind": "weeding",
        "what": "Weed round them",
    }
    return CareTask.objects.create(**{**values, **fields})


def test_a_pass_that_names_a_project_brings_its_lots_blocks_and_open_care(
    at_work, hill, cohort, lot, block, site
):
    site.emergency_contact, block.hazards, lot.stated = "112, chapel gate", "Old well behind the wall", 1010
    for row in (site, block, lot):
        row.save()
    looks = [(1, "hold", None), (2, "reject", datetime(2026, 3, 2, 10, tzinfo=UTC)), (0, "accept", None)]
    for days, verdict, voided_at in looks:  # the last that stands is told, whatever the order they came in
        LotCheck.objects.create(
            organisation=hill, lot=lot, point="arrival", verdict=verdict, voided_at=voided_at,
            checked_at=datetime(2026, 2, 28, 9, tzinfo=UTC) + timedelta(days=days),
        )  # fmt: skip
    task = care_task(block, due_by=date(2026, 5, 1), amount=120, amount_unit="l")
    care_task(block, done_on=date(2026, 3, 1))
    work = at_work.get(PACK).json()["work"]
    assert work["lots"] == [
        {"uid": str(lot.uid), "code": "24-117", "species": "quercus-robur", "stock_type": "bare_root", "unit": "tree",
         "received_on": "2024-02-01", "received": 1000, "stated": 1010, "at_hand": 500,
         "last_check": {"checked_on": "2026-03-01", "point": "arrival", "verdict": "hold"}}
    ]  # fmt: skip
    assert work["blocks"] == [
        {"uid": str(block.uid), "name": "North slope", "site": {"uid": str(site.uid), "name": "Upper site"},
         "hazards": "Old well behind the wall", "emergency": "112, chapel gate"}
    ]  # fmt: skip
    assert [(row["uid"], row["due_by"], row["amount"], row["amount_unit"]) for row in work["tasks"]] == [
        (str(task.uid), "2026-05-01", 120.0, "l")
    ]


def test_members_and_passes_without_projects_get_the_pack_they_always_got(phone, signed_in, ana, cohort):
    assert "work" not in phone.get(PACK).json()
    assert "work" not in signed_in(ana).get(PACK).json()


def test_field_work_shows_nothing_of_other_projects_and_nothing_that_is_gone(
    at_work, hill, other, oak, site, block, lot
):
    factories.cohort(block, lot, factories.season(hill, year=2025))  # the rest of it is planted
    for org in (hill, other):
        place = site if org is hill else factories.site(org)
        elsewhere = factories.block(org, factories.project(org), place, name="CANARY block")
        factories.cohort(elsewhere, factories.lot(org, oak, code=f"CANARY {org}"), factories.season(org))
        care_task(elsewhere, what="CANARY task")
    response = at_work.get(PACK)
    assert "CANARY" not in response.content.decode()
    assert [len(response.json()["work"][part]) for part in ("lots", "blocks", "tasks")] == [0, 1, 0]


def test_queries_of_field_work_do_not_grow(at_work, connection_queries, hill, project, site, oak, cohort):
    care_task(cohort.block)
    few = connection_queries(lambda: at_work.get(PACK))
    for _number in range(3):
        more = factories.block(hill, project, site)
        factories.cohort(more, factories.lot(hill, oak), factories.season(hill))
        care_task(more)
    assert connection_queries(lambda: at_work.get(PACK)) == few
