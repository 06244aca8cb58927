"""A plan for ground where trees went in before says that it counts none of them, and lets the free spots be stated."""

import pytest
from django.urls import reverse

from projects.documents.block_pages import before_words
from tests import factories
from tests.planning.plan_rows import Planned

pytestmark = pytest.mark.django_db


@pytest.fixture
def planned(db):
    return Planned()


def page(signed_in, planned, name):
    return (
        signed_in(planned.manager)
        .get(reverse(f"projects:{name}", args=[planned.org.slug, planned.plan.uid]))
        .content.decode()
    )


def test_earlier_trees_are_told_on_the_mix_and_on_the_quantities(signed_in, planned, oak):
    block = planned.plan.mix_lines.first().block
    for name in ("plan_mix", "plan_quantities"):
        assert "trees went in here before" not in page(signed_in, planned, name)
    lot = factories.lot(planned.org, oak, code="23-1")
    cohort = factories.cohort(block, lot, factories.season(planned.org, "planting", year=2024))
    went_in = sum(day.quantity for day in cohort.planting_days.all())
    assert went_in > 0
    text = page(signed_in, planned, "plan_mix")
    assert f"{went_in} trees went in here before" in text
    assert f'name="spots_{block.pk}"' in text
    assert f"{went_in} trees went in here before" in page(signed_in, planned, "plan_quantities")
    cohort.planting_days.update(voided_at="2025-01-01T00:00:00Z")
    assert "trees went in here before" not in page(signed_in, planned, "plan_mix")


def test_the_papers_say_it_only_where_it_is_so():
    assert before_words(0) == ""
    assert "in no number of this plan" in before_words(120)
