"""The demo as loaded: every beat of the story is read on its page, and nothing else is odd."""

import json
import math
from io import StringIO
from itertools import chain as chained

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction
from django.test import Client

from deploy.scripts.browse import Page, read
from monitoring.demo.identities import identity
from monitoring.demo.kimbaru import KIMBARU
from monitoring.demo.serra_survey import SERRA
from monitoring.models import (
    Case,
    DirtyKey,
    Estimate,
    PlotDraw,
    SeasonSummary,
    SurveyRound,
    SurvivalPlot,
    Visit,
)
from monitoring.services import plot_draws, spares
from projects.models import Organisation, RefusedItem, ShareLink, StockLot, Submission, User
from projects.selectors.ledgers import ledgers_of
from projects.services.chain import breaks
from tests.demo.truth import is_plain, true_share

BEATS = (
    "warm_lot", "cold_lot", "traced", "plan_again", "lots_side_by_side", "cannot_separate", "lot_gap",
    "clock_running", "draft_order",
    "not_settled", "look_again", "meets_but_gaps", "falls_short", "stocking_gaps", "census", "frost", "browsing",
    "frost_assigned", "browsing_assigned", "stock_assigned",
    "natural_regeneration", "replacement", "acorns", "no_baseline", "destroyed", "not_reached", "rows", "thinning",
    "resprouts", "wattle", "rebuilt", "correction", "second_count", "over_baseline", "still_to_count",
    "second_funder", "holdings",
)  # fmt: skip
ORDINARY = "allauth.account.auth_backends.AuthenticationBackend"


def visitor(demo, key):
    person = next(person for person in demo.people if person["key"] == key)
    client = Client()
    client.force_login(User.objects.get(email=person["email"]), backend=ORDINARY)
    return client


def words_of(answer):
    page = Page("", answer.status_code, {}, 0.0)
    read(page, answer.content.decode())
    return page.text


def plain_words(text):
    """Thin and no-break spaces count as blanks, as they do to a reader."""
    return " ".join(text.split())


# --- the story ------------------------------------------------------------------------------
def test_every_beat_is_told_once(demo):
    assert [beat["key"] for beat in demo.beats] == list(dict.fromkeys(beat["key"] for beat in demo.beats))
    assert {beat["key"] for beat in demo.beats} == set(BEATS)


@pytest.mark.parametrize("key", BEATS)
def test_a_beat_is_read_on_its_page(demo, key):
    beat = next(beat for beat in demo.beats if beat["key"] == key)
    answer = visitor(demo, beat["person"]).get(beat["path"])
    assert answer.status_code == 200
    text = words_of(answer)
    assert [words for words in beat["expect"] if plain_words(words) not in text] == []


def test_the_share_link_stands_ready_for_the_funder(demo):
    edition = SeasonSummary.objects.get()
    assert ShareLink.objects.get().target_uid == edition.uid


# --- nothing else is odd ---------------------------------------------------------------------
def test_only_what_the_scenario_says_is_flagged(demo):
    flagged = {
        (visit.plot.name, flag)
        for visit in Visit.objects.exclude(n_flags=0).select_related("plot")
        for flag in visit.flags
    }
    assert flagged == {
        ("LT-04", "second_root"), ("FH-03", "second_root"),
        ("WB-06", "over_baseline"), ("WB-06", "contradicts_earlier"),
    }  # fmt: skip
    assert (
        Case.objects.filter(settled_seq__isnull=False).values_list("plot__name", flat=True).get() == "FH-03"
    )


def test_one_record_was_refused_and_kept(demo):
    assert RefusedItem.objects.get().problem["errors"][0]["pointer"] == "/lines/0/alive"


def test_the_logs_are_whole_and_written_by_several_people(demo):
    for organisation in Organisation.objects.all():
        assert list(breaks(organisation)) == []
        rows = Submission.objects.filter(organisation=organisation)
        assert len(set(rows.values_list("submitted_by", flat=True))) == 3


def test_every_figure_was_computed(demo):
    assert list(DirtyKey.objects.values_list("kind", "error")) == []


def test_the_ledgers_balance_but_for_one(demo):
    lots = list(StockLot.objects.all())
    ledgers = ledgers_of(lots)
    assert {lot.code: ledgers[lot.pk].gap for lot in lots if ledgers[lot.pk].gap} == {"AU-23": 55}


def test_the_stored_intervals_hold_the_truth_about_as_often_as_they_say(demo):
    found = []
    for plan in (SERRA, KIMBARU):
        keys = {row.name: row.key for row in plan.rounds}
        rows = Estimate.objects.filter(
            organisation__slug=plan.slug,
            scope="block",
            measure="survival",
            is_headline=True,
            value__isnull=False,
        )
        for row in rows.select_related("block", "round"):
            block = plan.block(row.block.name)
            if is_plain(block):
                found.append(row.lower <= true_share(block, keys[row.round.name]) <= row.upper)
    assert len(found) == 21
    assert sum(found) >= 0.9 * len(found)


def test_identities_are_those_of_the_scenario(demo):
    plots = SurvivalPlot.objects.filter(organisation__slug="serra-clara", block__name="Ash meadow")
    wanted = [
        identity("serra-clara", "survivalplot", "Ash meadow", f"AM-{number:02d}") for number in range(1, 13)
    ]
    assert list(plots.order_by("name").values_list("uid", flat=True)) == wanted


# --- people and walls ------------------------------------------------------------------------
def test_one_block_was_drawn_from_a_seed_and_draws_again(demo):
    drawn = PlotDraw.objects.get(organisation__slug="serra-clara")
    assert drawn.block.name == "Frost hollow"
    assert plot_draws.draw_again(drawn).is_same
    plots = list(drawn.plots.order_by("draw_order"))
    assert [plot.name for plot in plots] == [f"FH-{number:02d}" for number in range(1, 11)]
    for plot, point in zip(plots, drawn.points, strict=False):
        assert (plot.latitude, plot.longitude) == (point["latitude"], point["longitude"])
        assert plot.area_m2 == pytest.approx(math.pi * 6.31**2 * point["share_inside"], abs=0.01)
    assert spares.next_spare(drawn)["order"] == 11
    assert spares.may_stand_in(plots[8])  # one of the two that the open round still waits for


def test_everybody_signs_in_with_the_printed_password(demo):
    for person in demo.people:
        assert User.objects.get(email=person["email"]).check_password(person["password"])


def test_each_organisation_is_a_closed_door_to_the_other(demo):
    kenyan = visitor(demo, "kimbaru_manager")
    paths = [beat["path"] for beat in demo.beats if beat["path"].startswith("/o/serra-clara/")]
    assert {kenyan.get(path).status_code for path in paths} == {404}


def test_a_row_seen_through_the_wrong_organisation_is_not_there(demo):
    kenyan = visitor(demo, "kimbaru_manager")
    theirs = SurveyRound.objects.filter(organisation__slug="serra-clara")
    assert {kenyan.get(f"/o/kimbaru/round/{row.uid}/").status_code for row in theirs} == {404}


def test_a_funder_sees_only_what_was_granted(demo):
    schools = visitor(demo, "serra_school_funder")
    text = words_of(schools.get("/o/serra-clara/project/"))
    assert "Schools' Hedge" in text and "After the Fire" not in text


# --- again -----------------------------------------------------------------------------------
def test_loading_twice_changes_nothing(demo):
    before = Submission.objects.count()
    out = StringIO()
    call_command("load_demo", stdout=out)
    assert "already" in out.getvalue() and Submission.objects.count() == before


def test_a_fresh_start_is_refused_because_the_log_cannot_be_emptied(demo):
    with pytest.raises(CommandError, match="append-only"):
        call_command("load_demo", "--fresh")


def test_the_facts_for_programs_name_everybody(demo):
    out = StringIO()
    call_command("demo_facts", "--json", stdout=out)
    told = json.loads(out.getvalue())
    assert set(chained(*(person.keys() for person in told["people"]))) >= {
        "key", "who", "email", "password", "organisation", "slug",
    }  # fmt: skip
    assert told["figures"]["trees_planted_serra-clara"] == "46436"


def test_a_loading_that_was_cut_short_is_finished_by_the_next(demo):
    with transaction.atomic():
        ShareLink.objects.all().delete()
        SeasonSummary.objects.all().delete()
        call_command("load_demo", verbosity=0, stdout=StringIO())
        assert ShareLink.objects.get().target_uid == SeasonSummary.objects.get().uid
        transaction.set_rollback(True)
