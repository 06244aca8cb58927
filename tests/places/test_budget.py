"""Money of a project: lines planned and spent per season, in minor units of one currency each."""

from decimal import Decimal

import pytest
from django.urls import reverse

from projects.errors import Refusal
from projects.models import BudgetLine, HistoryEntry
from projects.services import budget
from tests import factories


def address(name, row):
    return reverse(f"projects:{name}", kwargs={"org": "hill", "uid": row.uid})


@pytest.fixture
def season(hill):
    return factories.season(hill, "planting", year=2024)


@pytest.fixture
def fields(season):
    return {
        "kind": "protection", "what": "Guards", "season": season.pk, "block": "", "planned": "4 200.50",
        "spent": "", "currency": "EUR",
    }  # fmt: skip


def test_a_manager_adds_a_line_in_whole_units_and_minor_units_are_kept(signed_in, ana, project, fields):
    assert signed_in(ana).post(address("budget_line_new", project), fields).status_code == 302
    line = BudgetLine.objects.get()
    assert (line.planned_minor, line.spent_minor, line.currency) == (420050, 0, "EUR")
    page = signed_in(ana).get(address("project_detail", project)).content.decode()
    assert "EUR\u00a04\u202f200.50" in page
    assert "Budget line Guards: added" in page


def test_what_is_spent_is_written_later_and_remembered(signed_in, ana, actor, project, fields):
    line = budget.add_line(actor=actor, project=project, what="Guards", planned_minor=100, currency="EUR")
    answer = signed_in(ana).post(address("budget_line_edit", line), fields | {"spent": "7,25"})
    assert answer.status_code == 302
    line.refresh_from_db()
    assert (line.planned_minor, line.spent_minor) == (420050, 725)
    entry = HistoryEntry.objects.get(verb="budget.edited")
    assert entry.change["spent_minor"] == [0, 725]
    page = signed_in(ana).get(address("project_detail", project)).content.decode()
    assert "spent in minor units" in page


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"what": ""}, "required"),
        ({"planned": "12.345"}, "decimal places"),
        ({"planned": "many"}, "amount such as"),
        ({"spent": "-3"}, "cannot be negative"),
        ({"currency": "EURO"}, "at most 3"),
        ({"currency": "E1"}, "three capital letters"),
        ({"currency": "KES", "exchange_rate": "0.0067"}, "day it held"),
        ({"currency": "KES", "exchange_rate": "0", "exchange_rate_on": "2026-01-05"}, "above zero"),
        ({"currency": "KES", "exchange_rate": "much", "exchange_rate_on": "2026-01-05"}, "such as 0.92"),
        ({"season": "999999"}, "valid choice"),
    ],
)
def test_a_bad_field_is_named_and_nothing_is_written(signed_in, ana, project, fields, changed, words):
    answer = signed_in(ana).post(address("budget_line_new", project), fields | changed)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not BudgetLine.objects.exists()


def test_a_line_in_another_currency_keeps_its_rate_and_loses_it_with_the_currency(
    signed_in, ana, project, fields
):
    rate = {"currency": "KES", "exchange_rate": "0,0067", "exchange_rate_on": "2026-01-05"}
    signed_in(ana).post(address("budget_line_new", project), fields | rate)
    line = BudgetLine.objects.get()
    assert line.exchange_rate == Decimal("0.006700")
    signed_in(ana).post(address("budget_line_edit", line), fields | rate | {"currency": "EUR"})
    line.refresh_from_db()
    assert (line.exchange_rate, line.exchange_rate_on) == (None, None)


def test_a_block_of_another_project_is_refused(actor, hill, site, project):
    elsewhere = factories.block(hill, factories.project(hill), site)
    with pytest.raises(Refusal, match="another project"):
        budget.add_line(actor=actor, project=project, what="Guards", block=elsewhere, currency="EUR")


def test_only_a_manager_is_offered_the_forms(signed_in, ana, ben, fred, actor, project):
    line = budget.add_line(actor=actor, project=project, what="Guards", currency="EUR")
    pages = {
        who.role: signed_in(who).get(address("project_detail", project)).content.decode()
        for who in (ana, ben, fred)
    }
    offered = {role: address("budget_line_edit", line) in page for role, page in pages.items()}
    assert offered == {"manager": True, "field_lead": False, "funder": False}
    assert all("Guards" in page for page in pages.values())
