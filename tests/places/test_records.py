"""Projects, sites, blocks, holdings and seasons: made, changed with history, put away, brought back, refused."""

import json
from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from projects.errors import Refusal
from projects.models import Block, BlockGround, HistoryEntry, Holding, Person, Project, Season, Site
from projects.services import blocks, holdings, projects, seasons, sites
from tests.places.conftest import square


def acts(subject):
    return list(
        HistoryEntry.objects.filter(subject_uid=subject.uid).order_by("id").values_list("verb", flat=True)
    )


def address(name, row=None):
    return reverse(f"projects:{name}", kwargs={"org": "hill"} | ({"uid": row.uid} if row else {}))


@pytest.fixture
def site_fields():
    return {"name": "Vale", "country_code": "PT", "time_zone": "Europe/Lisbon"}


@pytest.fixture
def project_fields():
    return {
        "name": "Oak", "target_survival": "80", "check_age_seasons": "2", "check_age_months": "18",
        "replanting_level": "90", "claim_level": "95", "min_plots_per_species": "5", "currency": "eur",
        "budget": "12 500,50", "has_baseline": "on",
    }  # fmt: skip


# --- sites --------------------------------------------------------------------------------------
def test_a_site_is_added_with_its_area_measured(signed_in, ana, site_fields, boundary):
    answer = signed_in(ana).post(address("site_new"), site_fields | {"boundary": boundary})
    site = Site.objects.get(name="Vale")
    assert answer["Location"] == address("site_detail", site)
    assert site.gross_area_ha == pytest.approx(94.39, abs=0.05)
    assert site.boundary["type"] == "Polygon"
    assert acts(site) == ["site.made"]


def test_a_boundary_that_crosses_itself_answers_422_naming_the_field_and_writes_nothing(
    signed_in, ana, site_fields
):
    bow = [[-7.5, 40.3], [-7.49, 40.31], [-7.49, 40.3], [-7.5, 40.31], [-7.5, 40.3]]
    text = json.dumps({"type": "Polygon", "coordinates": [bow]})
    answer = signed_in(ana).post(address("site_new"), site_fields | {"boundary": text})
    assert answer.status_code == 422
    assert "crosses or touches itself near longitude -7.495" in answer.context["form"].errors["boundary"][0]
    assert text.split(",")[0] in answer.content.decode().replace(
        "&quot;", '"'
    )  # what was typed is still there
    assert not Site.objects.exists()
    assert not HistoryEntry.objects.exists()


def test_a_change_of_a_site_is_kept_with_before_and_after(actor, site):
    sites.edit_site(actor=actor, site=site, elevation_m=1050, name=site.name)
    entry = HistoryEntry.objects.get(subject_uid=site.uid)
    assert (entry.verb, entry.change) == ("site.edited", {"elevation_m": [None, 1050]})


def test_saving_without_a_change_leaves_no_history(actor, site):
    sites.edit_site(actor=actor, site=site, name=site.name)
    assert acts(site) == []


def test_a_site_in_use_is_not_put_away(actor, site, block):
    with pytest.raises(Refusal, match="blocks away first"):
        sites.archive_site(actor=actor, site=site)
    blocks.archive_block(actor=actor, block=block)
    assert sites.archive_site(actor=actor, site=site).archived_at
    assert sites.restore_site(actor=actor, site=site).archived_at is None
    assert acts(site) == ["site.archived", "site.restored"]


def test_putting_away_twice_is_remembered_once(actor, site):
    sites.archive_site(actor=actor, site=site)
    sites.archive_site(actor=actor, site=site)
    assert acts(site) == ["site.archived"]


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("country_code", "XX", "not one of the available choices"),
        ("time_zone", "Nowhere/Town", "not one of the available choices"),
        ("elevation_m", "high", "whole number"),
        ("name", "", "required"),
        ("name", "x" * 201, "at most 200"),
        ("boundary", "{", "not JSON"),
    ],
)
def test_a_bad_site_field_is_named_and_nothing_is_written(signed_in, ana, site_fields, field, value, words):
    answer = signed_in(ana).post(address("site_new"), site_fields | {field: value})
    assert answer.status_code == 422
    assert words in " ".join(answer.context["form"].errors[field])
    assert not Site.objects.exists()


def test_the_service_itself_refuses_a_country_or_clock_that_is_none(actor):
    with pytest.raises(Refusal) as caught:
        sites.make_site(actor=actor, name="Vale", country_code="ZZ")
    assert caught.value.field == "country_code"
    with pytest.raises(Refusal) as caught:
        sites.make_site(actor=actor, name="Vale", country_code="PT", time_zone="Mars/North")
    assert caught.value.field == "time_zone"


# --- projects -----------------------------------------------------------------------------------
def test_a_project_is_begun_with_percentages_and_money_as_people_write_them(signed_in, ana, project_fields):
    signed_in(ana).post(address("project_new"), project_fields)
    project = Project.objects.get(name="Oak")
    assert project.target_survival == Decimal("0.8")
    assert (project.budget_minor, project.currency) == (1_250_050, "EUR")
    assert acts(project) == ["project.made"]


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("target_survival", "eighty", "percentage"),
        ("target_survival", "120", "between 0 and 100"),
        ("target_survival", "0", "above 0"),
        ("claim_level", "100", "just under 100"),
        ("check_age_seasons", "two", "whole number"),
        ("check_age_seasons", "0", "Write 1 or more."),
        ("budget", "12,500.50", "such as 12.50"),
        ("budget", "12.505", "2 decimal places"),
        ("budget", "-5", "negative"),
        ("currency", "E1", "three capital letters"),
    ],
)
def test_a_bad_project_field_is_named_and_nothing_is_written(
    signed_in, ana, project_fields, field, value, words
):
    answer = signed_in(ana).post(address("project_new"), project_fields | {field: value})
    assert answer.status_code == 422
    errors = answer.context["form"].errors
    assert words in " ".join([*errors.get(field, []), *errors.get("__all__", [])])
    assert not Project.objects.exists()


def test_a_currency_without_decimals_takes_none(signed_in, ana, project_fields):
    answer = signed_in(ana).post(
        address("project_new"), project_fields | {"currency": "UGX", "budget": "5000.5"}
    )
    assert "UGX has 0 decimal places" in answer.context["form"].errors["budget"][0]


# --- blocks and their ground --------------------------------------------------------------------
def test_a_block_is_drawn_and_its_net_area_is_gross_less_what_is_left_out(signed_in, ana, site, project):
    fields = {
        "name": "Upper", "project": project.pk, "layout": "ground", "pattern": "square", "geometry": square(side=0.002),
        "exclusions_ha": "0,5", "row_spacing_m": "2.5", "in_row_spacing_m": "2",
    }  # fmt: skip
    answer = signed_in(ana).post(address("block_new", site), fields)
    block = Block.objects.get(name="Upper")
    ground = block.grounds.get()
    assert answer["Location"] == address("block_detail", block)
    assert ground.area_source == "geodesic"
    assert ground.net_area_ha == pytest.approx(ground.gross_area_ha - 0.5, abs=1e-4)
    assert acts(block) == ["block.made"]


def test_a_new_ground_never_overwrites_the_old_one(actor, block):
    before = block.grounds.get()
    blocks.redraw_ground(
        actor=actor, block=block, gross_area_ha=3.0, exclusions_ha=0.25, after=1, reason="fence moved"
    )
    assert list(block.grounds.values_list("version", "net_area_ha")) == [(2, 2.75), (1, before.net_area_ha)]
    entry = HistoryEntry.objects.get(subject_uid=block.uid)
    assert (entry.change["net_area_ha"], entry.reason) == ([2.0, 2.75], "fence moved")


def test_two_people_who_redraw_at_once_do_not_hide_each_other(actor, block):
    blocks.redraw_ground(actor=actor, block=block, gross_area_ha=3.0, after=1)
    with pytest.raises(Refusal) as caught:
        blocks.redraw_ground(actor=actor, block=block, gross_area_ha=4.0, after=1)
    assert caught.value.code == "changed_meanwhile"
    assert BlockGround.objects.filter(block=block).count() == 2


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({}, "gross_area_ha"),
        ({"gross_area_ha": 0.0}, "gross_area_ha"),
        ({"gross_area_ha": -1.0}, "gross_area_ha"),
        ({"gross_area_ha": 2.0, "exclusions_ha": 2.0}, "exclusions_ha"),
        ({"gross_area_ha": 2.0, "exclusions_ha": -0.1}, "exclusions_ha"),
        ({"gross_area_ha": 2.0, "row_spacing_m": 0.0}, "row_spacing_m"),
        ({"geometry": "{}"}, "geometry"),
    ],
)
def test_a_block_without_sound_ground_is_refused_whole(actor, site, project, values, field):
    with pytest.raises(Refusal) as caught:
        blocks.make_block(actor=actor, site=site, project=project, name="Odd", **values)
    assert caught.value.field == field
    assert not Block.objects.filter(name="Odd").exists()


def test_a_block_that_strays_outside_its_site_is_kept_and_said(signed_in, ana, actor, project, site_fields):
    site = sites.make_site(actor=actor, boundary=square(side=0.01), **site_fields)
    block = blocks.make_block(
        actor=actor, site=site, project=project, name="Edge", geometry=square(-7.495, side=0.01)
    )
    page = signed_in(ana).get(address("block_detail", block)).content.decode()
    assert "of this block lies outside the site" in page


def test_a_block_with_trees_stays_with_its_project(actor, block, cohort, hill):
    other = projects.make_project(actor=actor, name="Other", currency="EUR")
    with pytest.raises(Refusal) as caught:
        blocks.edit_block(actor=actor, block=block, project=other)
    assert caught.value.field == "project"


def test_spacing_is_shown_as_a_density(signed_in, ana, block):
    page = signed_in(ana).get(address("block_detail", block)).content.decode()
    assert "2\u202f000\u00a0per\u00a0ha" in page  # 2.5 m by 2 m
    assert "4\u202f000 in the net area" in page  # on 2 ha


# --- holdings and seasons -----------------------------------------------------------------------
def test_a_holding_is_listed_with_its_grower_kept_among_the_people(actor, hill, project, site):
    block = blocks.make_block(actor=actor, site=site, project=project, name="Farms", layout="holdings")
    holding = holdings.make_holding(
        actor=actor, block=block, label="Farm 1", trees_received=40, person_name="Grower"
    )
    assert holding.person == Person.objects.get(name="Grower", organisation=hill)
    with pytest.raises(Refusal) as caught:
        holdings.make_holding(actor=actor, block=block, label="Farm 1", trees_received=10)
    assert caught.value.field == "label"
    holdings.edit_holding(actor=actor, holding=holding, trees_received=45, person_name="Grower, east")
    assert Holding.objects.get().trees_received == 45
    assert holding.person.pk == Holding.objects.get().person_id
    with pytest.raises(Refusal) as caught:
        holdings.edit_holding(actor=actor, holding=holding, latitude=91.0, longitude=1.0)
    assert caught.value.field == "latitude"


def test_a_block_of_one_piece_takes_no_holdings(actor, block):
    with pytest.raises(Refusal, match="one piece of ground"):
        holdings.make_holding(actor=actor, block=block, label="Farm", trees_received=1)


def test_a_season_is_added_once_per_label_and_ends_after_it_starts(signed_in, ana, actor):
    fields = {"kind": "planting", "label": "winter 25", "starts_on": "2025-11-01", "ends_on": "2026-03-31"}
    browser = signed_in(ana)
    assert browser.post(address("season_new"), fields).status_code == 302
    assert "winter 25" in browser.post(address("season_new"), fields).context["form"].errors["label"][0]
    backwards = fields | {"label": "odd", "ends_on": "2025-01-01"}
    assert (
        "ends on or after"
        in browser.post(address("season_new"), backwards).context["form"].errors["ends_on"][0]
    )
    unread = fields | {"label": "odd", "ends_on": "spring"}
    assert (
        "year-month-day" in browser.post(address("season_new"), unread).context["form"].errors["ends_on"][0]
    )
    season = Season.objects.get()
    seasons.edit_season(actor=actor, season=season, label="winter 2025/26", starts_on=date(2025, 10, 1))
    assert acts(season) == ["season.made", "season.edited"]


def test_a_new_project_and_a_new_nursery_begin_with_the_usual_numbers(signed_in, ana):
    page = signed_in(ana).get(address("project_new")).content.decode()
    for name, value in (("target_survival", "80"), ("check_age_months", "18"), ("claim_level", "95")):
        assert f'name="{name}" value="{value}"' in page
    assert 'name="lead_time_weeks" value="10"' in signed_in(ana).get(address("nursery_new")).content.decode()
