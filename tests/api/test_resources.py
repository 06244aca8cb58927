"""Reading projects, sites, blocks, plots, rounds, estimates and needs: who sees what, narrowed and paged."""

import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from monitoring.models import Estimate, ReplacementNeed
from projects.identifiers import derived_uid, uuid7
from tests import factories
from tests.api.conftest import problem

pytestmark = pytest.mark.django_db

# Written by hand from the access policy; not read from it.
READERS = {
    "projects": {"ana", "ben", "vera", "fred"},
    "sites": {"ana", "ben", "vera", "fred"},
    "blocks": {"ana", "ben", "vera", "fred"},
    "plots": {"ana", "ben", "vera"},
    "rounds": {"ana", "ben", "vera", "fred"},
    "estimates": {"ana", "ben", "vera", "fred"},
    "needs": {"ana", "ben"},
}
MEMBERS = ("ana", "ben", "vera", "fred")


def estimate(survey_round, block, **fields):
    values = {"scope": "block", "key": str(block.uid), "measure": "survival", "method": "ratio", "level": 0.9}
    values |= fields
    return Estimate.objects.create(
        organisation=block.organisation, project=block.project, round=survey_round, block=block, value=0.75,
        uid=derived_uid(*values.values(), survey_round.uid), input_digest="0" * 64, code_version="1", **values,
    )  # fmt: skip


def need(survey_round, block, species):
    return ReplacementNeed.objects.create(
        organisation=block.organisation, project=block.project, round=survey_round, block=block, species=species,
        uid=derived_uid("need", block.uid, species.slug, survey_round.uid), input_digest="0" * 64, code_version="1",
    )  # fmt: skip


@pytest.fixture
def rows(project, site, block, plots, survey_round, oak):
    """One row of each concept."""
    return {
        "projects": project, "sites": site, "blocks": block, "plots": plots[0], "rounds": survey_round,
        "estimates": estimate(survey_round, block), "needs": need(survey_round, block, oak),
    }  # fmt: skip


def address(name: str, row=None, org: str = "hill") -> str:
    return f"/api/v1/o/{org}/{name}/" + (f"{row.uid}/" if row else "")


# --- who ------------------------------------------------------------------------------------
@pytest.mark.parametrize("name", READERS)
@pytest.mark.parametrize("member", MEMBERS)
def test_each_role_reads_what_the_policy_says(request, signed_in, rows, name, member):
    client = signed_in(request.getfixturevalue(member))
    listed, one = client.get(address(name)), client.get(address(name, rows[name]))
    if member in READERS[name]:
        assert str(rows[name].uid) in [row["uid"] for row in listed.json()["results"]]
        assert one.json()["uid"] == str(rows[name].uid)
    else:
        problem(listed, 403, "forbidden")
        problem(one, 403, "forbidden")


@pytest.mark.parametrize("name", READERS)
def test_another_organisations_member_meets_404_and_a_stranger_401(signed_in, olaf, rows, name):
    for path in (address(name), address(name, rows[name])):
        problem(signed_in(olaf).get(path), 404, "not_found")
        problem(Client().get(path), 401, "not_signed_in")
    problem(signed_in(olaf).get(address(name, rows[name], org="other")), 404, "not_found")
    assert signed_in(olaf).get(address(name, org="other")).json()["results"] == []


@pytest.mark.parametrize("name", READERS)
def test_nobody_changes_anything_here(signed_in, ana, rows, name):
    for path in (address(name), address(name, rows[name])):
        problem(signed_in(ana).post(path, {}, content_type="application/json"), 405, "method_not_allowed")


def test_an_ended_membership_reads_nothing(signed_in, ana, rows):
    from django.utils import timezone

    client = signed_in(ana)
    ana.ended_at = timezone.now()
    ana.save()
    problem(client.get(address("projects")), 404, "not_found")


@pytest.mark.parametrize("member", ["vera", "fred"])
def test_a_limited_member_sees_granted_projects_only(request, signed_in, rows, hill, member, oak):
    ungranted = factories.project(hill)
    site = factories.site(hill)
    block = factories.block(hill, ungranted, site)
    plot = factories.plot(block)
    survey_round = factories.survey_round(ungranted, [plot])
    hidden = {
        "projects": ungranted, "sites": site, "blocks": block, "plots": plot, "rounds": survey_round,
        "estimates": estimate(survey_round, block), "needs": need(survey_round, block, oak),
    }  # fmt: skip
    client = signed_in(request.getfixturevalue(member))
    for name in READERS:
        if member in READERS[name]:
            listed = {row["uid"] for row in client.get(address(name)).json()["results"]}
            assert str(rows[name].uid) in listed and str(hidden[name].uid) not in listed
            problem(client.get(address(name, hidden[name])), 404, "not_found")


@pytest.mark.parametrize("scope", ["lot", "nursery", "stock_type"])
def test_comparisons_of_lots_and_nurseries_stay_with_the_staff(
    signed_in, ana, fred, survey_round, block, scope
):
    row = estimate(survey_round, block, scope=scope)
    assert signed_in(ana).get(address("estimates", row)).status_code == 200
    problem(signed_in(fred).get(address("estimates", row)), 404, "not_found")


def test_money_names_and_row_numbers_are_not_told(signed_in, ana, rows):
    for name in READERS:
        told = signed_in(ana).get(address(name, rows[name])).json()
        assert not {"id", "organisation", "organisation_id", "budget_minor", "person"} & set(told)


# --- narrowing ------------------------------------------------------------------------------
def test_lists_are_narrowed_by_uid(signed_in, ana, rows, hill, project, site, block, survey_round, oak):
    client = signed_in(ana)
    second = factories.block(hill, factories.project(hill), factories.site(hill))
    factories.plot(second)

    def found(name: str, **query) -> int:
        return len(client.get(address(name), query).json()["results"])

    assert (found("blocks"), found("blocks", project=project.uid), found("blocks", site=site.uid)) == (
        2,
        1,
        1,
    )
    assert (found("plots"), found("plots", block=block.uid), found("plots", block=second.uid)) == (4, 3, 1)
    assert (found("plots", retired="true"), found("plots", retired="false")) == (0, 4)
    assert (found("rounds", project=project.uid), found("rounds", project=uuid7())) == (1, 0)
    assert (found("rounds", status="open"), found("rounds", status="closed")) == (1, 0)
    assert (
        found("estimates", scope="block", round=survey_round.uid),
        found("estimates", scope="project"),
    ) == (1, 0)
    assert (found("needs", species=oak.slug), found("needs", species="nothing")) == (1, 0)
    assert (found("sites", country="pt"), found("sites", country="KE")) == (2, 0)


@pytest.mark.parametrize(
    ("name", "query", "parameter"),
    [("blocks", "project=7", "project"), ("plots", "block=%00", "block"), ("rounds", "status=asleep", "status"),
     ("rounds", "opens_after=soon", "opens_after"), ("estimates", "scope=moon", "scope"),
     ("estimates", "measure=%00", "measure"), ("estimates", "key=" + "k" * 500, "key"),
     ("needs", "order_before=9", "order_before")],
)  # fmt: skip
def test_an_unreadable_filter_is_refused_by_its_name(signed_in, ana, name, query, parameter):
    told = problem(signed_in(ana).get(f"{address(name)}?{query}"), 400, "invalid")
    assert told["errors"][0]["parameter"] == parameter


# --- paging ---------------------------------------------------------------------------------
def test_a_list_is_read_to_its_end_by_its_links_without_doubling(signed_in, ana, block):
    made = [str(factories.plot(block).uid) for _ in range(7)]
    client, path, seen = signed_in(ana), f"{address('plots')}?page_size=3", []
    while path:
        response = client.get(path)
        seen += [row["uid"] for row in response.json()["results"]]
        if len(seen) == 3:
            made.append(str(factories.plot(block).uid))  # a row made meanwhile comes at the end
        link = re.search(r'<([^>]+)>; rel="next"', response.get("Link", ""))
        assert (link[1] if link else None) == response.json()["next"]
        path = link[1] if link else None
    assert seen == made


@pytest.mark.parametrize(
    "cursor",
    ["x", "cD1hYmM=", "cD0tMQ==", "cD05OTk5OTk5OTk5OTk5OTk5OTk5OTk5OTk5", "bz0tMQ==", "cD0xJm89eA=="],
)
def test_a_cursor_from_elsewhere_is_refused(signed_in, ana, plots, cursor):
    problem(signed_in(ana).get(f"{address('plots')}?cursor={cursor}"), 400, "cursor_unknown")


@pytest.mark.parametrize("size", ["0", "-1", "many", "1000000"])
def test_a_page_size_out_of_range_is_brought_into_it(signed_in, ana, plots, size):
    assert len(signed_in(ana).get(f"{address('plots')}?page_size={size}").json()["results"]) == 3


@pytest.mark.parametrize("name", ["blocks", "plots", "rounds", "estimates", "needs"])
def test_queries_do_not_grow_with_rows(signed_in, ana, rows, hill, project, site, survey_round, name):
    client = signed_in(ana)
    client.get(address(name))

    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert client.get(address(name)).status_code == 200
        return len(captured)

    few = queries()
    for number in range(20):
        block = factories.block(hill, factories.project(hill), factories.site(hill))
        row = factories.survey_round(block.project, [factories.plot(block)])
        estimate(row, block)
        need(row, block, factories.species(f"acer-{number}", family="Sapindaceae"))
    assert queries() == few


def test_a_block_tells_its_newest_ground(signed_in, ana, hill, block):
    from datetime import date

    factories.p.BlockGround.objects.create(
        organisation=hill,
        block=block,
        version=2,
        gross_area_ha=3,
        net_area_ha=2.5,
        valid_from=date(2025, 1, 1),
    )
    told = signed_in(ana).get(address("blocks", block)).json()["ground"]
    assert (told["version"], told["net_area_ha"]) == (2, 2.5)
