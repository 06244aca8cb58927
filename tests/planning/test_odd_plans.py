"""Odd plans do no page harm: nothing lives, one tree, no price, no ground, no season, sown seed, one late wave."""

import pytest
from django.test import Client
from django.urls import reverse

from projects import models as p
from tests.planning.plan_rows import Planned, mixed

PAGES = ("plan_detail", "plan_mix", "plan_quantities", "plan_approve", "plan_document", "plan_workbook")
OF_THE_PROJECT = ("project_money", "project_value")
UNKNOWN = {"survival_mean": None, "survival_low": None, "survival_high": None}


def none_lives(planned):
    p.MixLine.objects.update(survival_mean=0, survival_low=0, survival_high=0)


def all_live(planned):
    p.MixLine.objects.update(survival_mean=1, survival_low=1, survival_high=1)


def one_tree(planned):
    planned.lines[0].delete()
    planned.lines[1].delete()
    p.MixLine.objects.update(quantity=1)


def no_price(planned):
    p.MixLine.objects.update(unit_price_minor=None)


def two_currencies(planned):
    p.MixLine.objects.filter(pk=planned.lines[0].pk).update(currency="UGX", unit_price_minor=5000)
    p.BudgetLine.objects.create(
        organisation=planned.org, project=planned.project, what="seed", planned_minor=700, currency="UGX"
    )


def no_ground(planned):
    p.BlockGround.objects.all().delete()
    p.Site.objects.update(boundary=None, climate_normals=None)


def rows_of_a_hedge(planned):
    p.Block.objects.update(pattern="row", row_spacing_m=None)


def holdings(planned):
    p.Block.objects.update(layout="holdings", pattern="irregular", row_spacing_m=None, in_row_spacing_m=None)


def second_wave_alone(planned):
    p.MixLine.objects.update(wave=2)


def sown(planned):
    p.MixLine.objects.update(stock_type="direct_seed", **UNKNOWN)


def empty(planned):
    p.MixLine.objects.all().delete()


def very_many(planned):
    p.MixLine.objects.update(quantity=10_000)
    p.Project.objects.update(target_stocking_per_ha=1000)


@pytest.mark.parametrize(
    "change",
    [none_lives, all_live, one_tree, no_price, two_currencies, no_ground, rows_of_a_hedge, holdings,
     second_wave_alone, sown, empty, very_many],
    ids=lambda change: change.__name__,
)  # fmt: skip
def test_every_page_of_an_odd_plan_is_drawn(db, change):
    planned = Planned()
    p.Block.objects.update(target_stocking_per_ha=500)
    mixed(planned.plan, planned.blocks[0], "fagus-sylvatica", 30, wave=2)
    change(planned)
    browser = Client()
    browser.force_login(planned.manager.user)
    for name in PAGES:
        answer = browser.get(
            reverse(f"projects:{name}", kwargs={"org": planned.org.slug, "uid": planned.plan.uid})
        )
        assert answer.status_code == 200, name
        if answer["Content-Type"].startswith("text/html"):
            text = answer.content.decode()
            assert " nan" not in text and "inf " not in text and ">None<" not in text, name
    for name in OF_THE_PROJECT:
        where = reverse(f"projects:{name}", kwargs={"org": planned.org.slug, "uid": planned.project.uid})
        assert browser.get(where).status_code == 200, name
