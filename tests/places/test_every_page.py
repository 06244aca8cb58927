"""Every page of projects opens for its manager, and none for a stranger."""

import pytest
from django.urls import reverse

from projects.services import orders
from tests import factories


def address(name, row=None):
    kwargs = {"org": "hill"} | ({"uid": row.uid} if row else {})
    return reverse(f"projects:{name}", kwargs=kwargs)


@pytest.fixture
def addresses(hill, project, site, block, lot, cohort, actor, ana, oak):
    holding_block = factories.block(hill, project, site, layout="holdings")
    holding = factories.p.Holding.objects.create(
        organisation=hill, block=holding_block, label="Farm 1", trees_received=30
    )
    order = orders.draft_order(actor=actor, project=project, lines=[orders.Line(oak, "bare_root", 100)])
    job = factories.p.Job.objects.create(organisation=hill, kind="import", title="Import")
    day, season = cohort.planting_days.get(), cohort.season
    plain = ["home", "organisation_edit", "people", "person_new", "site_list", "site_new", "project_list"]
    plain += ["project_new", "season_list", "season_new", "stock", "nursery_new", "lot_new"]
    pairs = [
        (ana, "person_detail person_edit"), (site, "site_detail site_edit block_new"),
        (project, "project_detail project_edit"), (block, "block_detail block_edit block_ground planting_day_new"),
        (holding_block, "holding_new"), (holding, "holding_edit"), (season, "season_edit"),
        (lot.nursery, "nursery_detail nursery_edit"), (lot, "lot_detail lot_edit lot_move lot_count lot_store"),
        (day, "planting_day_detail"), (cohort, "cohort_detail"), (order, "order_detail history"), (job, "job_detail"),
    ]  # fmt: skip
    named = [address(name) for name in plain]
    return named + [address(name, row) for row, names in pairs for name in names.split()]


def test_every_page_opens_for_the_manager_with_one_title(addresses, signed_in, ana):
    browser = signed_in(ana)
    for each in addresses:
        answer = browser.get(each)
        assert answer.status_code == 200, each
        assert answer.content.count(b"<h1>") == 1, each


def test_no_page_opens_for_a_member_of_another_organisation(addresses, signed_in, olaf):
    browser = signed_in(olaf)
    assert {browser.get(each).status_code for each in addresses} == {404}


def test_a_page_that_writes_refuses_a_funder_and_shows_nothing_of_stock(addresses, signed_in, fred):
    browser = signed_in(fred)
    written = [
        each for each in addresses if each.endswith(("/edit/", "/new/", "/ground/", "/move/", "/count/"))
    ]
    assert {browser.get(each).status_code for each in written} <= {403, 404}
    assert browser.get(address("stock")).status_code == 403
    assert browser.get(address("home")).status_code == 200
