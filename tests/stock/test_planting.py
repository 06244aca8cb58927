"""Planting days build cohorts; what is impossible is refused, what is merely odd is kept and said."""

from datetime import date

import pytest
from django.urls import reverse

from projects import announcements
from projects.errors import Refusal
from projects.models import Cohort, HistoryEntry, PlantingDay
from projects.selectors.ledgers import ledger_of
from projects.services import blocks, planting, seasons
from tests import factories

DAY = date(2024, 2, 10)


def address(name, row):
    return reverse(f"projects:{name}", kwargs={"org": "hill", "uid": row.uid})


@pytest.fixture
def told(monkeypatch):
    """What was announced, as (kind, subject)."""
    heard = []
    monkeypatch.setattr(
        announcements,
        "listeners",
        {kind: [lambda row, kind=kind: heard.append((kind, row))] for kind in announcements.KINDS},
    )
    return heard


def test_days_of_one_block_lot_and_season_are_one_cohort(actor, block, lot, winter):
    first = planting.plant(actor=actor, block=block, lot=lot, planted_on=DAY, quantity=300)
    second = planting.plant(
        actor=actor, block=block, lot=lot, planted_on=date(2024, 2, 11), quantity=200, crew="North"
    )
    assert first.cohort == second.cohort
    cohort = Cohort.objects.get()
    assert (cohort.season, cohort.species, cohort.stock_type, cohort.unit) == (
        winter,
        lot.species,
        "bare_root",
        "tree",
    )
    assert ledger_of(lot).planted == 500
    verbs = HistoryEntry.objects.filter(verb__in=["cohort.opened", "planting_day.planted"]).order_by("id")
    assert list(verbs.values_list("verb", flat=True)) == [
        "cohort.opened",
        "planting_day.planted",
        "planting_day.planted",
    ]


def test_the_season_is_found_by_the_day_or_asked_for(actor, block, lot, winter):
    with pytest.raises(Refusal) as caught:
        planting.plant(actor=actor, block=block, lot=lot, planted_on=date(2024, 7, 1), quantity=1)
    assert caught.value.field == "season"
    seasons.make_season(
        actor=actor, kind="planting", label="February", starts_on=date(2024, 2, 1), ends_on=date(2024, 2, 28)
    )
    with pytest.raises(Refusal, match="Several planting seasons"):
        planting.plant(actor=actor, block=block, lot=lot, planted_on=DAY, quantity=1)
    assert (
        planting.plant(
            actor=actor, block=block, lot=lot, planted_on=DAY, quantity=1, season=winter
        ).cohort.season
        == winter
    )
    assert PlantingDay.objects.count() == 1


def test_a_reporting_season_does_not_hold_plantings(actor, hill, block, lot):
    with pytest.raises(Refusal) as caught:
        planting.plant(
            actor=actor,
            block=block,
            lot=lot,
            planted_on=DAY,
            quantity=1,
            season=factories.season(hill, "reporting"),
        )
    assert caught.value.field == "season"


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("planted_on", "2024-01-15", "The lot came on"),
        ("planted_on", "2999-02-01", "not come yet"),
        ("planted_on", "yesterday", "year-month-day"),
        ("quantity", "lots", "whole number"),
        ("quantity", "0", "Write 1 or more."),
        ("lot", "", "Choose the lot"),
    ],
)
def test_an_impossible_planting_day_is_refused_with_its_field(
    signed_in, ana, block, lot, winter, field, value, words
):
    fields = {"planted_on": "2024-02-10", "lot": lot.uid, "quantity": "300"} | {field: value}
    answer = signed_in(ana).post(address("planting_day_new", block), fields)
    assert answer.status_code == 422
    named = "species" if field == "lot" else field
    assert words in " ".join(answer.context["form"].errors[named])
    assert not Cohort.objects.exists()
    assert not PlantingDay.objects.exists()


def test_planting_more_than_was_received_is_kept_and_its_gap_is_shown(signed_in, ana, block, lot, winter):
    fields = {"planted_on": "2024-02-10", "lot": lot.uid, "quantity": "1 050"}
    page = signed_in(ana).post(address("planting_day_new", block), fields, follow=True).content.decode()
    assert "50 more have left lot 24-117 than it received" in page
    assert ledger_of(lot).gap == -50


def test_plants_that_waited_too_long_are_planted_with_a_word_about_it(
    signed_in, ana, block, hill, oak, winter
):
    lot = factories.lot(hill, oak, lifted_on=date(2024, 1, 30))
    fields = {"planted_on": "2024-02-10", "lot": lot.uid, "quantity": "300"}
    page = signed_in(ana).post(address("planting_day_new", block), fields, follow=True).content.decode()
    assert "for 11 days; they can wait 7 (US Forest Service field handling pages)" in page


def test_a_replacement_is_a_cohort_of_its_own_linked_to_what_it_replaces(
    actor, block, hill, oak, cohort, winter
):
    spare = factories.lot(hill, oak, code="25-001")
    day = planting.plant(
        actor=actor, block=block, lot=spare, planted_on=DAY, quantity=40, season=winter, replaces=cohort
    )
    assert day.cohort != cohort
    assert day.cohort.replaces == cohort
    with pytest.raises(Refusal) as caught:
        planting.plant(
            actor=actor,
            block=block,
            lot=cohort.lot,
            planted_on=DAY,
            quantity=1,
            season=cohort.season,
            replaces=day.cohort,
        )
    assert caught.value.field == "replaces"


def test_what_is_replaced_stands_in_the_same_block(actor, hill, project, site, lot, cohort, winter):
    elsewhere = factories.block(hill, project, site)
    with pytest.raises(Refusal) as caught:
        planting.plant(
            actor=actor, block=elsewhere, lot=lot, planted_on=DAY, quantity=1, season=winter, replaces=cohort
        )
    assert caught.value.field == "replaces"


def test_without_a_lot_species_and_stock_type_make_the_cohort(actor, block, oak, winter):
    day = planting.plant(
        actor=actor, block=block, planted_on=DAY, quantity=60, species=oak, stock_type="direct_seed"
    )
    assert (day.cohort.lot, day.cohort.unit) == (None, "seed_spot")
    again = planting.plant(
        actor=actor, block=block, planted_on=DAY, quantity=6, species=oak, stock_type="direct_seed"
    )
    assert again.cohort == day.cohort


def test_a_day_taken_back_stays_on_record_and_no_longer_counts(
    signed_in, ana, actor, block, lot, winter, told
):
    day = planting.plant(actor=actor, block=block, lot=lot, planted_on=DAY, quantity=300)
    browser = signed_in(ana)
    refused = browser.post(address("planting_day_void", day), {"reason": " "}, follow=True)
    assert "why this is taken back" in refused.content.decode()
    page = browser.post(
        address("planting_day_void", day), {"reason": "typed twice"}, follow=True
    ).content.decode()
    assert "no longer counts" in page
    assert ledger_of(lot).planted == 0
    day.refresh_from_db()
    assert day.voided_at
    assert told == [("planting_changed", block), ("planting_changed", block)]


def test_upper_apps_hear_of_what_their_figures_rest_on(actor, block, told):
    blocks.redraw_ground(actor=actor, block=block, gross_area_ha=3.0)
    blocks.edit_block(actor=actor, block=block, target_stocking_per_ha=900)
    assert [kind for kind, _row in told] == ["ground_changed", "block_changed"]


def test_a_block_put_away_is_not_planted(actor, block, lot, winter):
    blocks.archive_block(actor=actor, block=block)
    block.refresh_from_db()
    with pytest.raises(Refusal, match="put away"):
        planting.plant(actor=actor, block=block, lot=lot, planted_on=DAY, quantity=1)
