"""People and what they gain: purposes, agreements that end, ranges that are never promises, carbon as a range."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st

from projects.calc.benefits import Gain, Range, by_years, multiplied
from projects.calc.carbon import (
    CARBON_FRACTION,
    ZONES,
    Growth,
    carbon_range,
    co2_of_carbon,
    rounded_outward,
    stocked_share,
)
from projects.carbon_words import ZONES as ZONE_WORDS
from projects.errors import Refusal
from projects.models import Consent, ExpectedBenefit, HistoryEntry, MixLine, Plan, ProjectPurpose, Reminder
from projects.reminder_words import words_for
from projects.selectors.carbon import project_carbon
from projects.selectors.expected_living import expected_living
from projects.selectors.purposes import purpose_weights
from projects.selectors.value import project_value
from projects.services import benefits, consents, purposes, reminders, sites
from projects.services.editing import ChangedMeanwhile
from tests import factories

quick = settings(max_examples=25, deadline=None)
TODAY = date(2026, 3, 1)


def address(name, row):
    return reverse(f"projects:{name}", kwargs={"org": "hill", "uid": row.uid})


# --- arithmetic of gains ----------------------------------------------------------------------------------
spans = st.tuples(st.sampled_from("ab"), st.integers(0, 12), st.integers(0, 12), st.integers(0, 50))


@quick
@given(st.lists(spans, max_size=6))
def test_bands_of_years_say_the_same_as_every_year_by_itself(rows):
    gains = [
        Gain(what, min(start, end), max(start, end), Range(low, 2 * low)) for what, start, end, low in rows
    ]
    bands = by_years(gains)
    for year in range(14):
        running = [gain for gain in gains if gain.from_year <= year <= gain.until_year]
        wanted = {
            what: sum(gain.amount.low for gain in running if gain.what == what)
            for what in {gain.what for gain in running}
        }
        held = [band for band in bands if band.from_year <= year <= band.until_year]
        assert len(held) <= 1
        found = {what: amount.low for band in held for what, amount in band.amounts.items()}
        assert found == wanted
        assert all(amount.high == 2 * amount.low for band in held for amount in band.amounts.values())


@quick
@given(st.tuples(*[st.floats(0, 1e4)] * 2).map(sorted), st.tuples(*[st.floats(0, 1e5)] * 2).map(sorted))
def test_doubt_about_survival_only_widens_a_range(amount, living):
    whole = multiplied("tree", Range(*amount), Range(*living), None)
    middle = sum(living) / 2
    assert whole.low <= amount[0] * middle + 1e-6
    assert whole.high >= amount[1] * middle - 1e-6


def test_a_gain_is_for_a_tree_a_hectare_or_the_whole():
    assert multiplied("whole", Range(1, 2), None, None) == Range(1, 2)
    assert multiplied("ha", Range(1, 2), Range(5, 6), None) is None
    with pytest.raises(ValueError, match="not 'acre'"):
        multiplied("acre", Range(1, 2), None, None)


# --- arithmetic of carbon -----------------------------------------------------------------------------------
def test_carbon_dioxide_is_carbon_times_forty_four_twelfths():
    """N1: C x 3.667 = CO2 (IPCC), printed to three decimals."""
    assert round(co2_of_carbon(1), 3) == 3.667
    assert co2_of_carbon(12) == pytest.approx(44)
    assert CARBON_FRACTION == 0.47


def test_growth_changes_after_twenty_years_and_roots_come_on_top():
    growth = Growth(Range(4, 8), Range(1, 2))
    found = carbon_range(growth, Range(0.2, 0.5), 25, 3, Range(0.5, 1))
    assert (found.dry_matter.low, found.dry_matter.high) == ((80 + 5) * 3 * 0.5, (160 + 10) * 3)
    assert found.with_roots.high == pytest.approx(510 * 1.5)
    assert found.co2.low == pytest.approx(127.5 * 1.2 * 0.47 * 44 / 12)


@quick
@given(st.sampled_from(sorted(ZONES)), st.integers(1, 100), st.floats(0.1, 500), st.floats(0.01, 0.9))
def test_a_carbon_range_runs_upwards_and_grows_with_years_and_ground(zone, years, area_ha, share):
    here = ZONES[zone]
    found = carbon_range(here.planted, here.roots, years, area_ha, Range(share, share + 0.1))
    later = carbon_range(here.planted, here.roots, years + 1, area_ha, Range(share, share + 0.1))
    twice = carbon_range(here.planted, here.roots, years, 2 * area_ha, Range(share, share + 0.1))
    for each in (found.dry_matter, found.with_roots, found.carbon, found.co2):
        assert 0 < each.low < each.high
    assert later.co2.low > found.co2.low
    assert twice.co2.high == pytest.approx(2 * found.co2.high)
    assert found.carbon.low == pytest.approx(0.47 * found.with_roots.low)


@quick
@given(st.floats(1e-3, 1e7), st.floats(1, 50), st.integers(1, 4))
def test_rounding_outward_only_widens_and_by_little(low, times, digits):
    told = rounded_outward(Range(low, low * times), digits)
    step = 10.0 ** (1 - digits)
    assert low * (1 - step) - 1e-9 <= told.low <= low * (1 + 1e-9)
    assert low * times * (1 - 1e-9) <= told.high <= low * times * (1 + step) + 1e-9


def test_ground_is_never_more_than_fully_stocked():
    assert stocked_share(Range(900, 5000), 2, 1000) == Range(0.45, 1.0)
    with pytest.raises(ValueError, match="above 0"):
        stocked_share(Range(1, 2), 2, 0)


@pytest.mark.parametrize(
    "bad", [{"years": -1}, {"stocked_share": Range(0.5, 1.2)}, {"roots": Range(0.5, 0.2)}]
)
def test_carbon_refuses_what_cannot_be(bad):
    given_ = {"roots": Range(0.2, 0.3), "years": 10, "area_ha": 1.0, "stocked_share": Range(0.5, 0.9)} | bad
    with pytest.raises(ValueError, match=r"below 0|share|range"):
        carbon_range(Growth(Range(1, 2), Range(1, 2)), **given_)


def test_every_zone_has_words_and_ranges_that_run_upwards():
    assert set(ZONES) == set(ZONE_WORDS)
    for zone in ZONES.values():
        for each in (zone.natural.young, zone.natural.older, zone.planted.young, zone.roots):
            assert 0 < each.low <= each.high


# --- purposes -------------------------------------------------------------------------------------------------
def test_purposes_are_added_changed_and_taken_away_together(signed_in, ana, project):
    where = address("project_purposes", project)
    assert signed_in(ana).post(where, {"soil": "10", "fruit": "4"}).status_code == 302
    assert list(purpose_weights(project).items()) == [("soil", 10), ("fruit", 4)]
    page = signed_in(ana).get(where).content.decode()
    assert 'value="10"' in page
    signed_in(ana).post(where, {"soil": "3", "fruit": "", "honey": "3"})
    assert purpose_weights(project) == {"honey": 3, "soil": 3}
    entry = HistoryEntry.objects.filter(verb="project.purposes_weighed").latest("id")
    assert entry.change == {"soil": [10, 3], "fruit": [4, None], "honey": [None, 3]}
    shown = signed_in(ana).get(address("project_value", project)).content.decode()
    assert "weight 3 of 10" in shown


@pytest.mark.parametrize(
    ("typed", "words"), [("11", "10 or less"), ("0", "1 or more"), ("much", "whole number")]
)
def test_a_weight_outside_its_range_is_named_and_nothing_is_written(signed_in, ana, project, typed, words):
    answer = signed_in(ana).post(address("project_purposes", project), {"soil": "5", "fruit": typed})
    page = answer.content.decode()
    assert (answer.status_code, words in page, f'value="{typed}"' in page) == (422, True, True)
    assert not ProjectPurpose.objects.exists()


def test_a_purpose_nobody_knows_is_refused(actor, project):
    with pytest.raises(Refusal, match="purposes listed"):
        purposes.weigh_purposes(actor=actor, project=project, weights={"gold": 3})
    with pytest.raises(Refusal, match="from 1 to 10"):
        purposes.weigh_purposes(actor=actor, project=project, weights={"soil": 11})


def test_two_people_weighing_at_once_see_each_other(signed_in, ana, actor, project):
    opened = purposes.version_of({})
    purposes.weigh_purposes(actor=actor, project=project, weights={"soil": 5})
    with pytest.raises(ChangedMeanwhile):
        purposes.weigh_purposes(actor=actor, project=project, weights={"soil": 2}, version=opened)
    answer = signed_in(ana).post(address("project_purposes", project), {"soil": "2", "version": opened})
    assert (answer.status_code, "Both versions are below" in answer.content.decode()) == (422, True)
    assert purpose_weights(project) == {"soil": 5}


def test_weights_of_one_project_are_not_those_of_another(actor, hill, project):
    purposes.weigh_purposes(actor=actor, project=project, weights={"soil": 5})
    assert purpose_weights(factories.project(hill)) == {}


# --- gains --------------------------------------------------------------------------------------------------------
@pytest.fixture
def consent(hill, site, block):
    return Consent.objects.create(
        organisation=hill, site=site, kind="community", with_whom="Upper village", what="Grazing stays open",
        caretaker="The herders", given_on=date(2025, 1, 1), expires_on=date(2026, 4, 1),
    )  # fmt: skip


@pytest.fixture
def plan(hill, project, block, oak):
    plan = Plan.objects.create(organisation=hill, project=project, version=1)
    MixLine.objects.create(
        organisation=hill, plan=plan, block=block, species=oak, stock_type="bare_root", quantity=1000,
        survival_mean=0.8, survival_low=0.6, survival_high=0.9,
    )  # fmt: skip
    return plan


def gain(actor, project, **values):
    known = {
        "kind": "nuts", "species": None, "consent": None, "from_year": 8, "until_year": 20, "lowest": 1.0,
        "highest": 3.0, "unit": "kg a year", "per": "tree", "source": "two growers nearby",
    }  # fmt: skip
    return benefits.add_benefit(actor=actor, project=project, **(known | values))


def test_a_gain_for_each_tree_is_multiplied_by_the_trees_that_may_live(actor, project, oak, plan):
    gain(actor, project, species=oak)
    gain(actor, project, from_year=15, until_year=30, per="ha", lowest=10, highest=20)
    gain(actor, project, kind="honey", unit="jars a year", per="whole", lowest=5, highest=9)
    value = project_value(actor, project, TODAY)
    rows = [(row.years, row.kind, row.amount.low, row.amount.high, row.unit) for row in value.bands]
    # 600 to 900 oaks at 1 to 3 kg; 2 ha at 10 to 20 kg; kilograms are never added to jars.
    assert rows == [
        ("years 8 to 14", "honey", 5, 9, "jars a year"),
        ("years 8 to 14", "nuts", 600, 2700, "kg a year"),
        ("years 15 to 20", "honey", 5, 9, "jars a year"),
        ("years 15 to 20", "nuts", 620, 2740, "kg a year"),
        ("years 21 to 30", "nuts", 20, 40, "kg a year"),
    ]


def test_a_gain_of_trees_nobody_plans_is_left_out_by_name(signed_in, ana, actor, project, plan):
    gain(actor, project, species=factories.species("castanea-sativa"))
    value = project_value(actor, project, TODAY)
    assert (value.bands, len(value.left_out)) == ([], 1)
    gain(actor, project, per="whole")
    page = signed_in(ana).get(address("project_value", project)).content.decode()
    assert "Left out of these totals" in page
    assert "no plan and no planting says how many" in page


def test_a_gain_under_an_agreement_counts_its_site_only(actor, hill, project, oak, plan, consent):
    elsewhere = factories.block(hill, project, factories.site(hill), net_area_ha=5.0)
    MixLine.objects.create(
        organisation=hill, plan=plan, block=elsewhere, species=oak, stock_type="bare_root", quantity=100,
        survival_mean=0.5, survival_low=0.5, survival_high=0.5,
    )  # fmt: skip
    gain(actor, project, consent=consent, lowest=1, highest=1)
    gain(actor, project, consent=consent, per="ha", kind="fodder", lowest=1, highest=1)
    gain(actor, project, lowest=1, highest=1, kind="fruit")
    value = project_value(actor, project, TODAY)
    totals = {row.kind: (row.amount.low, row.amount.high) for row in value.bands}
    assert totals == {"nuts": (600, 900), "fodder": (2, 2), "fruit": (650, 950)}
    assert [len(each.benefits) for each in value.agreements] == [2]


def test_the_page_says_who_agreed_to_what_and_that_nothing_is_promised(
    signed_in, ana, ben, actor, project, consent
):
    gain(actor, project, consent=consent, per="whole")
    page = signed_in(ben).get(address("project_value", project)).content.decode()
    for words in ("Upper village", "Grazing stays open", "The herders", "Expectations, not promises"):
        assert words in page
    assert address("benefit_new", project) not in page
    assert (
        address("benefit_new", project)
        in signed_in(ana).get(address("project_value", project)).content.decode()
    )


@pytest.fixture
def typed():
    return {
        "kind": "fruit", "species": "", "consent": "", "from_year": "5", "until_year": "12", "lowest": "0,5",
        "highest": "2", "unit": "kg a year", "per": "tree", "source": "a grower",
    }  # fmt: skip


def test_a_gain_is_added_changed_and_taken_away_on_the_page(signed_in, ana, project, typed):
    assert signed_in(ana).post(address("benefit_new", project), typed).status_code == 302
    row = ExpectedBenefit.objects.get()
    assert (row.lowest, row.highest, row.source) == (0.5, 2.0, "a grower")
    assert signed_in(ana).post(address("benefit_edit", row), typed | {"highest": "3"}).status_code == 302
    row.refresh_from_db()
    assert row.highest == 3
    signed_in(ana).post(address("benefit_remove", row))
    assert not ExpectedBenefit.objects.exists()
    verbs = list(HistoryEntry.objects.order_by("id").values_list("verb", flat=True))
    assert verbs == ["benefit.added", "benefit.edited", "benefit.taken_away"]


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"highest": "0.4"}, "less than"),
        ({"until_year": "4"}, "before the first one"),
        ({"lowest": "some"}, "Write a number"),
        ({"lowest": "-1"}, "0 or more"),
        ({"until_year": "500"}, "300 or less"),
        ({"source": "  "}, "required"),
        ({"unit": ""}, "required"),
    ],
)
def test_a_bad_gain_is_named_on_its_field_and_nothing_is_written(
    signed_in, ana, project, typed, changed, words
):
    answer = signed_in(ana).post(address("benefit_new", project), typed | changed)
    assert (answer.status_code, words in answer.content.decode()) == (422, True)
    assert not ExpectedBenefit.objects.exists()


def test_a_permit_or_an_agreement_of_another_project_carries_no_gain(actor, hill, site, project, block):
    permit = Consent.objects.create(
        organisation=hill, site=site, kind="permit", with_whom="Office", what="Permit", given_on=TODAY
    )
    with pytest.raises(Refusal, match="community or a landholder"):
        gain(actor, project, consent=permit)
    far = Consent.objects.create(
        organisation=hill,
        site=factories.site(hill),
        kind="landholder",
        with_whom="Far",
        what="x",
        given_on=TODAY,
    )
    with pytest.raises(Refusal, match="no block"):
        gain(actor, project, consent=far)


def test_the_page_costs_the_same_for_two_gains_and_for_twenty(signed_in, ana, actor, hill, project, plan):
    def cost():
        with CaptureQueriesContext(connection) as queries:
            assert signed_in(ana).get(address("project_value", project)).status_code == 200
        return len(queries)

    def grow(n):
        for _each in range(n):
            here = factories.site(hill, ecological_zone="temperate_oceanic")
            factories.block(hill, project, here)
            agreed = Consent.objects.create(
                organisation=hill, site=here, kind="landholder", with_whom="N", what="x", given_on=TODAY
            )
            gain(actor, project, consent=agreed, per="ha")

    grow(2)
    few = cost()
    grow(18)
    assert cost() == few


# --- carbon ---------------------------------------------------------------------------------------------------------
def test_carbon_is_shown_only_where_a_zone_was_chosen_and_never_without_its_cautions(
    signed_in, ana, actor, site, project, plan
):
    where = address("project_value", project)
    page = signed_in(ana).get(where).content.decode()
    assert "t of carbon dioxide" not in page
    assert "not asked for" in page
    assert (
        signed_in(ana).post(address("site_zone", site), {"ecological_zone": "subtropical_dry"}).status_code
        == 302
    )
    page = signed_in(ana).get(where).content.decode()
    for words in (
        "t of carbon dioxide",
        "from memory of the tables",
        "not a promise",
        "fire",
        "Soil",
        "verifier",
    ):
        assert words in page
    # 20 years at 2 to 30 t on 2 ha, 60 to 90 % of the planted trees, roots .27 to .68.
    low, high = 20 * 2 * 2 * 0.6 * 1.27 * 0.47 * 44 / 12, 20 * 30 * 2 * 0.9 * 1.68 * 0.47 * 44 / 12
    assert (round(low, 1), round(high)) == (105.1, 3127)
    assert "100 to 3\u202f200 t of carbon dioxide" in page  # two digits, low end down and high end up


def test_a_target_stocking_says_what_full_ground_is(actor, site, project, plan):
    site.ecological_zone = "subtropical_dry"
    site.save()
    inputs = {"years": 10, "forest": "natural", "growth_low": None, "growth_high": None}
    living = expected_living(project)
    (row,) = project_carbon(actor, project, living, inputs)
    assert ((row.stocked.low, row.stocked.high), row.is_wanted_known) == ((0.6, 0.9), False)
    project.target_stocking_per_ha = 400
    project.save()
    (row,) = project_carbon(actor, project, living, inputs)
    assert ((row.stocked.low, row.stocked.high), row.is_wanted_known) == ((0.75, 1.0), True)
    assert row.found.dry_matter.low == pytest.approx(10 * 2.3 * 2 * 0.75)


def test_a_better_growth_takes_the_place_of_the_default(signed_in, ana, actor, site, project, plan):
    site.ecological_zone = "boreal_tundra"
    site.save()
    where = address("project_value", project)
    better = {"years": "10", "forest": "natural", "growth_low": "1,5", "growth_high": "2"}
    page = signed_in(ana).get(where, better).content.decode()
    assert "1.5 to 2 t of dry matter" in page
    assert "as you stated it" in page
    answer = signed_in(ana).get(where, better | {"growth_high": "1"})
    assert (answer.status_code, "less than the lower end" in answer.content.decode()) == (422, True)
    answer = signed_in(ana).get(where, better | {"years": "ages"})
    assert (answer.status_code, "whole number" in answer.content.decode()) == (422, True)


def test_a_zone_nobody_knows_is_refused(actor, site):
    with pytest.raises(Refusal, match="zones listed"):
        sites.edit_site(actor=actor, site=site, ecological_zone="the moon")


# --- agreements that end ---
def reminded(hill, today):
    reminders.renew_consents(hill, today=today)
    return [(row.subject_uid, row.due_on) for row in Reminder.objects.filter(kind="consent_ends")]


def test_an_agreement_is_told_of_ninety_days_before_it_ends(hill, consent):
    ends = consent.expires_on
    assert reminded(hill, ends - timedelta(days=91)) == []
    assert reminded(hill, ends - timedelta(days=90)) == [(consent.uid, ends)]
    assert reminded(hill, ends + timedelta(days=400)) == [(consent.uid, ends)]
    row = Reminder.objects.get(kind="consent_ends")
    words = words_for(row.kind, row.facts)
    assert words["title"] == "Upper site: renew what ends, or say that it ended"
    assert "Agreement with a community" in words["reason"]
    assert "Upper village" not in str(row.facts)


def test_nothing_is_told_once_it_is_withdrawn_or_renewed(hill, actor, site, consent):
    assert reminded(hill, TODAY)
    known = {"kind": "community", "what": "Grazing stays open", "given_on": date(2026, 2, 1)}
    other = consents.add_consent(
        actor=actor, site=site, with_whom="Lower village", expires_on=date(2031, 2, 1), **known
    )
    assert [uid for uid, _due in reminded(hill, TODAY)] == [consent.uid]
    renewal = consents.add_consent(
        actor=actor, site=site, with_whom=" upper  Village", expires_on=date(2031, 4, 1), **known
    )
    assert reminded(hill, TODAY) == []
    consents.edit_consent(actor=actor, consent=renewal, withdrawn_on=date(2026, 2, 2))
    assert [uid for uid, _due in reminded(hill, TODAY)] == [consent.uid]
    consents.edit_consent(actor=actor, consent=consent, withdrawn_on=date(2026, 2, 2))
    assert reminded(hill, TODAY) == []
    assert other.withdrawn_on is None


def test_a_change_to_an_agreement_is_told_at_once_and_other_sites_are_left_alone(hill, actor, site, consent):
    far = factories.site(hill)
    soon = date.today() + timedelta(days=10)
    consents.add_consent(
        actor=actor,
        site=far,
        kind="permit",
        with_whom="Office",
        what="Permit",
        given_on=TODAY,
        expires_on=soon,
    )
    assert Reminder.objects.filter(kind="consent_ends").count() == 1
    consents.edit_consent(actor=actor, consent=consent, expires_on=soon)
    assert Reminder.objects.filter(kind="consent_ends").count() == 2
    consents.edit_consent(actor=actor, consent=consent, expires_on=None)
    assert Reminder.objects.get(kind="consent_ends").facts["kind"] == "permit"


def test_a_gain_too_large_to_be_meant_is_refused_at_its_field(actor, project):
    with pytest.raises(Refusal, match="too large") as refused:
        gain(actor, project, highest=9e299)
    assert refused.value.field == "highest"
