"""Twenty rows cost as many queries as two."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from projects.services import movements, reminders, sites
from tests import factories


def grow(hill, actor, project, site, oak, count):
    """More of everything a list shows: sites, projects, blocks, lots, cohorts, members, reminders."""
    for number in range(count):
        block = factories.block(hill, project, site)
        own = factories.block(hill, factories.project(hill), factories.site(hill))
        lot = factories.lot(hill, oak, lifted_on=date(2024, 1, 30))
        for each in (block, own):
            season = factories.season(hill, year=2000 + number)
            factories.cohort(each, lot, season, planted_on=date(2024, 2, 10))
        movements.move(actor=actor, lot=lot, kind="culled", quantity=3, moved_on=date(2024, 2, 3))
        factories.member(hill, "volunteer", projects=[project])
    reminders.renew(hill)


@pytest.fixture
def addresses(hill, project, site, lot, block):
    kwargs = {"org": "hill"}
    plain = ["home", "site_list", "project_list", "stock", "people", "season_list"]
    rows = [("site_detail", site), ("project_detail", project), ("block_detail", block), ("lot_detail", lot)]
    rows += [("nursery_detail", lot.nursery), ("history", site)]
    return [reverse(f"projects:{name}", kwargs=kwargs) for name in plain] + [
        reverse(f"projects:{name}", kwargs=kwargs | {"uid": row.uid}) for name, row in rows
    ]


def test_lists_cost_the_same_for_two_rows_and_for_twenty(
    signed_in, ana, actor, hill, project, site, oak, addresses, lot, block
):
    sites.edit_site(actor=actor, site=site, region="Upper")
    browser = signed_in(ana)

    def cost(url):
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert browser.get(url).status_code == 200
        return len(queries)

    grow(hill, actor, project, site, oak, 2)
    browser.get(addresses[0])
    few = {url: cost(url) for url in addresses}
    grow(hill, actor, project, site, oak, 18)
    assert {url: cost(url) for url in addresses} == few
    assert max(few.values()) <= 30
