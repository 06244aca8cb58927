"""A species that another organisation added for itself goes into nothing, whichever service is asked."""

from datetime import date

import pytest

from projects.errors import Refusal
from projects.models import Nursery
from projects.services import benefits, lots, mixes, offers, orders, seed, stated_survival
from tests import factories
from tests.planning.plan_rows import Planned

pytestmark = pytest.mark.django_db


@pytest.fixture
def planned(db):
    return Planned()


@pytest.fixture
def theirs(other):
    return factories.species("arbor-aliena", owner_organisation_uid=other.uid)


def into_mix(planned, nursery, species):
    mixes.add_line(
        actor=planned.actor, plan=planned.plan, block=planned.blocks[0], species=species, stock_type="container",
        quantity=1,
    )  # fmt: skip


def into_order(planned, nursery, species):
    orders.draft_order(
        actor=planned.actor, project=planned.project, lines=[orders.Line(species, "container", 5)]
    )


def into_price_list(planned, nursery, species):
    offers.make_offer(
        actor=planned.actor, nursery=nursery, species=species, stock_type="container", unit_price_minor=50,
        currency="EUR",
    )  # fmt: skip


def into_survival(planned, nursery, species):
    stated_survival.state_survival(
        actor=planned.actor, species=species, mean=0.5, weight_trees=10, source="a guess"
    )


def into_benefits(planned, nursery, species):
    benefits.add_benefit(
        actor=planned.actor, project=planned.project, species=species, kind="timber", from_year=1, until_year=2,
        lowest=1, highest=2, unit="kg", per="tree", source="a guess",
    )  # fmt: skip


def into_seed_trees(planned, nursery, species):
    seed.add_tree(actor=planned.actor, site=planned.site, species=species, label="T1")


def into_lots(planned, nursery, species):
    lots.receive_lot(
        actor=planned.actor, nursery=nursery, species=species, stock_type="container", code="L1", received=5,
        received_on=date(2024, 2, 1),
    )  # fmt: skip


WAYS = [into_mix, into_order, into_price_list, into_survival, into_benefits, into_seed_trees, into_lots]


@pytest.mark.parametrize("way", WAYS)
def test_it_is_refused_by_name(planned, theirs, way):
    nursery = Nursery.objects.create(organisation=planned.org, name="Alto")
    with pytest.raises(Refusal) as refused:
        way(planned, nursery, theirs)
    assert (refused.value.code, refused.value.field) == ("not_ours", "species")
    theirs.owner_organisation_uid = planned.org.uid
    theirs.save()
    try:
        way(planned, nursery, theirs)
    except Refusal as other_reason:
        assert other_reason.code != "not_ours"
