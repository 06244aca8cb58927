"""What each living tree has cost, round by round: the money page's panel from stored estimates."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from monitoring.estimators import rows
from monitoring.models import Estimate
from monitoring.selectors.cost_of_living import of_project
from monitoring.selectors.season_rows import season_rows
from projects.models import BudgetLine
from tests import factories
from tests.results.conftest import words

pytestmark = pytest.mark.django_db


def page_of(signed_in, who, project):
    return signed_in(who).get(reverse("projects:project_money", kwargs={"org": "hill", "uid": project.uid}))


def test_each_round_divides_the_money_so_far_by_the_trees_alive(signed_in, fred, actor, hillside):
    (row,) = of_project(actor, hillside.project)["rounds"]
    whole = Estimate.objects.get(
        round=hillside.survey_round, scope="project", measure=rows.SURVIVAL, is_headline=True
    )
    living = 1000 * whole.value
    assert row.living.value == pytest.approx(living)
    assert row.spent.value == round(300_000 / living)
    assert row.spent.least == round(300_000 / row.living.upper)
    assert row.spent.most == round(300_000 / row.living.lower)
    assert row.spent.least < row.spent.value < row.spent.most
    text = words(page_of(signed_in, fred, hillside.project))
    assert "As counted, round by round" in text
    assert "EUR 3 000.00" in text


def test_the_page_and_the_season_summary_say_the_same(actor, hillside):
    (row,) = of_project(actor, hillside.project)["rounds"]
    told = season_rows(hillside.project, hillside.survey_round.season)["money"]["per_living"]
    assert told == {"value": row.spent.value, "lower": row.spent.least, "upper": row.spent.most}


def test_money_of_a_later_season_does_not_count_yet_and_of_none_always_does(actor, hill, hillside):
    project = hillside.project
    before = of_project(actor, project)["rounds"][0].money.spent
    later = factories.season(hill, "planting", year=hillside.survey_round.opens_on.year + 1)
    common = {"organisation": hill, "project": project, "currency": "EUR"}
    BudgetLine.objects.create(**common, what="later", season=later, spent_minor=9_999)
    BudgetLine.objects.create(**common, what="none", spent_minor=11)
    BudgetLine.objects.create(**(common | {"currency": "USD"}), what="no rate", spent_minor=777)
    assert of_project(actor, project)["rounds"][0].money.spent == before + 11


def test_without_spending_nothing_is_divided_and_that_is_said(signed_in, ana, actor, hillside):
    BudgetLine.objects.all().delete()
    assert of_project(actor, hillside.project)["rounds"] == []
    text = words(page_of(signed_in, ana, hillside.project))
    assert "no spending is on record" in text


def test_more_rounds_cost_no_more_queries(actor, hillside):
    def cost():
        with CaptureQueriesContext(connection) as queries:
            found = of_project(actor, hillside.project)["rounds"]
        return len(queries), len(found)

    few, _one = cost()
    for number in range(3):
        again = factories.survey_round(
            hillside.project,
            hillside.plots,
            name=f"again {number}",
            opens_on=date(2026, 2 + number, 1),
            closes_on=date(2026, 12, 31),
        )
        for estimate in Estimate.objects.filter(
            round=hillside.survey_round, measure=rows.SURVIVAL, is_headline=True
        ):
            estimate.pk, estimate.uid, estimate.round = None, factories.uuid7(), again
            estimate.save(force_insert=True)
    assert cost() == (few, 4)
