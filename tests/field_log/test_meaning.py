"""What the marks of the count sheet mean where they meet: baselines, removals, destroyed plots, decisions."""

from datetime import date
from uuid import UUID

import pytest

from monitoring.models import Case, CountLine, PlotBaseline, Removal, Visit
from monitoring.selectors.round_counts import round_counts
from monitoring.services import cases, entries
from projects.errors import Refusal
from projects.identifiers import uuid7
from projects.services import log
from tests import factories
from tests.field_log.visits import correction, item, line, visit_body

pytestmark = pytest.mark.django_db


@pytest.fixture
def store(actor):
    def send(*items):
        return log.append_items(actor, list(items))

    return send


@pytest.fixture
def next_round(project, plots, survey_round):
    return factories.survey_round(
        project, plots, name="Next", opens_on=date(2025, 11, 1), closes_on=date(2025, 11, 20)
    )


def told(oak, uid=None, **fields):
    return {
        "uid": str(uid or uuid7()), "species": oak.slug, "planted": 12, "source": "at_planting",
        "counted_on": "2024-03-01", **fields,
    }  # fmt: skip


def flags():
    return Visit.objects.get(is_counting=True).flags


def settle(actor, choice, kind):
    case = Case.objects.get(kind=kind)
    return cases.settle_case(actor=actor, case=case, choice=choice, reason="asked the crew")


# --- baselines ------------------------------------------------------------------------------
def test_one_line_for_several_baselines_is_held_against_their_sum(store, plots, baselines, oak, survey_round):
    second = factories.baseline(plots[0], oak, 5)
    both = {"baselines": [str(baselines[0].line), str(second.line)], "species": oak.slug, "alive": 22}
    store(item(visit_body(plots[0], survey_round, [both])))
    row = CountLine.objects.get()
    assert (row.planted, row.not_found, row.baseline, flags()) == (25, 3, None, [])
    table = round_counts(survey_round).table
    assert (sum(table.planted), sum(table.alive), sum(table.not_found)) == (25, 22, 3)


def test_a_baseline_revised_below_the_living_flags_the_visits_that_counted_them(
    store, actor, plots, baselines, oak, cohort, survey_round
):
    store(item(visit_body(plots[0], survey_round, [line(baselines[0], 18)])))
    entries.set_baseline(
        actor=actor, plot=plots[0], species=oak, planted=15, counted_on=date(2024, 3, 2), cohort=cohort,
        line=baselines[0].line,
    )  # fmt: skip
    assert (flags(), Case.objects.get().kind) == (["over_baseline"], "over_baseline")
    assert CountLine.objects.get().planted == 15


def test_a_desk_revision_dated_before_the_latest_is_refused_and_leaves_nothing(actor, plots, oak, cohort):
    common = {"actor": actor, "plot": plots[0], "species": oak, "cohort": cohort}
    uid = entries.set_baseline(planted=15, counted_on=date(2024, 3, 2), **common)
    with pytest.raises(Refusal) as refused:
        entries.set_baseline(planted=16, counted_on=date(2024, 3, 1), line=uid, **common)
    assert refused.value.field == "counted_on"
    assert PlotBaseline.objects.get().planted == 15


@pytest.mark.parametrize(
    ("planted", "alive", "found"), [(None, 7, []), (0, 0, []), (0, 1, ["over_baseline"])]
)
def test_an_unknown_baseline_bounds_nothing_and_an_empty_one_everything(
    store, plots, oak, survey_round, planted, alive, found
):
    empty = factories.baseline(plots[0], oak, planted)
    store(item(visit_body(plots[0], survey_round, [line(empty, alive)])))
    assert (flags(), CountLine.objects.get().not_found) == (found, 0)


def test_a_plot_without_lines_is_a_count_of_nothing(store, project, block):
    bare = factories.plot(block, "Bare")
    survey_round = factories.survey_round(project, [bare])
    (outcome,) = store(item(visit_body(bare, survey_round)))
    assert (outcome.outcome, outcome.flags) == ("stored", ())
    assert sum(round_counts(survey_round).table.planted) == 0


def test_a_count_may_bring_its_own_baseline(store, project, block, oak):
    plot = factories.plot(block, "New")
    survey_round = factories.survey_round(project, [plot])
    row = told(oak, source="visible_spots", counted_on="2025-09-14")
    count = {"baselines": [row["uid"]], "species": oak.slug, "alive": 9, "empty_spot": 3}
    (outcome,) = store(item(visit_body(plot, survey_round, [count], baselines=[row])))
    assert outcome.flags == ()
    assert (CountLine.objects.get().planted, PlotBaseline.objects.get().is_current) == (12, True)


def test_trees_counted_on_a_baseline_of_seed_or_of_another_species_open_a_case(
    store, plots, baselines, survey_round
):
    birch = factories.species("betula-pendula")
    seed = factories.baseline(plots[0], baselines[0].species, 30, unit="seed_spot")
    wrong_species = line(baselines[0], 5) | {"species": birch.slug}
    for lines in ([wrong_species], [line(seed, 5)], [line(baselines[0], 5), line(seed, 4, unit="seed_spot")]):
        store(item(visit_body(plots[0], survey_round, lines, observed_on="2025-09-20")))
    found = [visit.flags for visit in Visit.objects.order_by("submission_seq")]
    assert ["unknown_baseline" in row for row in found] == [True, True, False]


def test_occupied_seed_spots_are_held_against_the_spots_sown(store, plots, oak, survey_round):
    sown = factories.baseline(plots[0], oak, 30, unit="seed_spot")
    store(item(visit_body(plots[0], survey_round, [line(sown, 21, unit="seed_spot", seedlings=44)])))
    row = CountLine.objects.get()
    assert (row.alive, row.not_found, row.seedlings, flags()) == (21, 9, 44, [])


# --- removals -------------------------------------------------------------------------------
def removal(baseline, day, number, reason="thinning"):
    return {"baseline": str(baseline.line), "removed_on": day, "alive_removed": number, "reason": reason}


def test_a_removal_counts_from_its_day_on(store, plots, baselines, survey_round):
    early, late = removal(baselines[0], "2025-09-14", 3), removal(baselines[0], "2025-09-15", 4)
    body = visit_body(plots[0], survey_round, [line(baselines[0], 14)], removals=[early, late])
    store(item(body))
    assert CountLine.objects.get().not_found == 3
    assert Removal.objects.filter(is_counted=True).count() == 2


def test_two_reasons_of_one_day_add_up_and_two_tellers_do_not(store, plots, baselines, survey_round):
    mine = [removal(baselines[0], "2025-02-01", 3), removal(baselines[0], "2025-02-01", 2, "theft")]
    yours = [removal(baselines[0], "2025-02-01", 4)]
    store(
        item(visit_body(plots[0], survey_round, [line(baselines[0], 10)], removals=mine)),
        item(visit_body(plots[0], survey_round, [line(baselines[0], 10)], removals=yours)),
    )
    assert sum(row.alive_removed for row in Removal.objects.filter(is_counted=True)) == 5


def test_a_removal_taken_back_by_a_correction_is_not_counted(store, plots, baselines, survey_round):
    body = visit_body(
        plots[0], survey_round, [line(baselines[0], 18)], removals=[removal(baselines[0], "2025-02-01", 3)]
    )
    assert store(item(body))[0].flags == ("over_baseline",)
    mended, id_ = correction(body, removals=[])
    assert store(item(mended, id=id_))[0].flags == ()


def test_a_removal_of_a_baseline_nobody_told_opens_a_case(store, plots, baselines, survey_round):
    stray = removal(baselines[1], "2025-02-01", 3)  # of another plot
    (outcome,) = store(item(visit_body(plots[0], survey_round, [line(baselines[0], 9)], removals=[stray])))
    assert outcome.flags == ("unknown_baseline",)
    assert CountLine.objects.get().not_found == 11


# --- from one round to the next -------------------------------------------------------------
def test_trees_taken_out_since_the_visit_before_cannot_be_alive(
    store, plots, baselines, survey_round, next_round
):
    store(item(visit_body(plots[0], survey_round, [line(baselines[0], 12, dead_stem=8)])))
    taken = [removal(baselines[0], "2025-10-01", 5)]
    after = {"removals": taken, "observed_on": "2025-11-02"}
    (odd,) = store(item(visit_body(plots[0], next_round, [line(baselines[0], 8)], **after)))
    assert odd.flags == ("contradicts_earlier",)


def test_counts_taken_together_and_apart_are_compared_over_the_rounds(
    store, plots, baselines, oak, survey_round, next_round
):
    other = factories.baseline(plots[0], oak, 10)
    both = {"baselines": [str(baselines[0].line), str(other.line)], "species": oak.slug}
    apart = [line(baselines[0], 12, dead_stem=8), line(other, 5, dead_stem=5)]
    store(item(visit_body(plots[0], survey_round, apart)))
    body = visit_body(plots[0], next_round, [both | {"alive": 18}], observed_on="2025-11-02")
    assert store(item(body))[0].flags == ("contradicts_earlier",)
    fewer, id_ = correction(body, lines=[both | {"alive": 17}])
    assert store(item(fewer, id=id_))[0].flags == ()


def test_two_counts_of_one_round_are_rivals_and_no_contradiction(store, plots, baselines, survey_round):
    store(
        item(visit_body(plots[0], survey_round, [line(baselines[0], 5, dead_stem=15)])),
        item(visit_body(plots[0], survey_round, [line(baselines[0], 9)], observed_on="2025-09-20")),
    )
    assert {tuple(visit.flags) for visit in Visit.objects.all()} == {("second_root",)}


def test_natural_regeneration_may_grow_from_round_to_round(
    store, plots, oak, baselines, survey_round, next_round
):
    wild = {"baselines": [], "species": oak.slug, "alive": 3}
    store(item(visit_body(plots[0], survey_round, [line(baselines[0], 9), wild])))
    more = [line(baselines[0], 9), wild | {"alive": 40}]
    assert store(item(visit_body(plots[0], next_round, more, observed_on="2025-11-02")))[0].flags == ()


def test_trees_of_a_destroyed_plot_do_not_come_back_but_new_ones_may_be_planted(
    store, actor, plots, baselines, oak, survey_round, next_round
):
    store(item(visit_body(plots[0], survey_round, status="destroyed", reason="burnt")))
    old = line(baselines[0], 4)
    body = visit_body(plots[0], next_round, [old], observed_on="2025-11-02")
    assert store(item(body))[0].flags == ("contradicts_earlier",)
    sprouted, id_ = correction(body, lines=[old | {"resprout": 4}])
    assert store(item(sprouted, id=id_))[0].flags == ()
    anew = told(oak, counted_on="2025-10-20")
    store(item(visit_body(plots[0], None, purpose="baseline", observed_on="2025-10-20", baselines=[anew])))
    new = {"baselines": [anew["uid"]], "species": oak.slug, "alive": 11}
    replanted, id2 = correction(sprouted, parents=[str(id_)], lines=[old | {"alive": 0}, new])
    assert store(item(replanted, id=id2))[0].flags == ()


@pytest.mark.parametrize(("status", "reason"), [("destroyed", "slid"), ("missing", "unsafe")])
def test_living_trees_in_a_plot_destroyed_or_not_reached_open_a_case(
    store, plots, baselines, survey_round, status, reason
):
    body = visit_body(plots[0], survey_round, [line(baselines[0], 3)], status=status, reason=reason)
    assert store(item(body))[0].flags == ("sum_open",)


def test_a_round_that_does_not_hold_the_plot_opens_a_case(
    store, project, block, plots, baselines, survey_round
):
    elsewhere = factories.plot(block, "Late comer")
    (outcome,) = store(item(visit_body(elsewhere, survey_round)))
    assert outcome.flags == ("not_on_this_round",)


# --- decisions ------------------------------------------------------------------------------
def test_a_correction_opens_an_accepted_doubt_again(store, actor, plots, baselines, survey_round):
    body = visit_body(plots[0], survey_round, [line(baselines[0], 23)])
    store(item(body))
    settle(actor, "accept", "over_baseline")
    assert Case.objects.get().settled_as == "accept"
    worse, id_ = correction(body, lines=[line(baselines[0], 30)])
    store(item(worse, id=id_))
    assert (Case.objects.get().settled_seq, Visit.objects.get(is_counting=True).uid) == (None, id_)


def test_a_visit_put_aside_stays_so_after_a_correction_and_the_doubt_is_open_again(
    store, actor, plots, baselines, survey_round
):
    body = visit_body(
        plots[0], survey_round, [line(baselines[0], 23)], removals=[removal(baselines[0], "2025-02-01", 2)]
    )
    store(item(body))
    settle(actor, "discard", "over_baseline")
    assert not Visit.objects.filter(is_counting=True).exists()
    assert not Removal.objects.filter(is_counted=True).exists()
    mended, id_ = correction(body, lines=[line(baselines[0], 13)], clock_offset_ms=10**7)
    store(item(mended, id=id_))
    assert not Visit.objects.filter(is_counting=True).exists()
    assert dict(Case.objects.values_list("kind", "settled_seq")) == {
        "over_baseline": None,
        "clock_skew": None,
    }
    settle(actor, "accept", "over_baseline")
    assert Visit.objects.get(is_counting=True).uid == id_


def test_a_baseline_visit_put_aside_sets_no_baseline(store, actor, plots, oak):
    row = told(oak)
    store(
        item(visit_body(plots[0], None, purpose="baseline", observed_on="2199-01-01", baselines=[row])),
    )
    settle(actor, "discard", "future_date")
    assert not PlotBaseline.objects.filter(is_current=True).exists()


def test_a_decision_on_what_changed_meanwhile_is_refused(store, actor, plots, baselines, survey_round):
    body = visit_body(plots[0], survey_round, [line(baselines[0], 23)])
    store(item(body))
    shown = Case.objects.get()
    worse, id_ = correction(body, lines=[line(baselines[0], 30)])
    store(item(worse, id=id_))
    with pytest.raises(Refusal) as refused:
        cases.settle_case(actor=actor, case=shown, choice="accept", reason="looked fine")
    assert refused.value.code == "case_changed"


def test_a_third_count_opens_a_settled_contest_again_and_the_choice_holds_until_then(
    store, actor, plots, baselines, survey_round
):
    days = ("2025-09-14", "2025-09-15", "2025-09-16")
    bodies = [visit_body(plots[0], survey_round, [line(baselines[0], 9)], observed_on=day) for day in days]
    store(item(bodies[0]), item(bodies[1]))
    settle(actor, f"use:{bodies[1]['visit']}", "second_root")
    store(item(bodies[2]))
    assert Case.objects.get(kind="second_root").settled_seq is None
    assert Visit.objects.get(is_counting=True).uid == UUID(bodies[1]["visit"])


def test_a_correction_at_the_desk_ends_a_fork(store, actor, plots, baselines, survey_round):
    body = visit_body(plots[0], survey_round, [line(baselines[0], 14)])
    left, left_id = correction(body, lines=[line(baselines[0], 15)])
    right, right_id = correction(body, lines=[line(baselines[0], 16)])
    store(item(body), item(left, id=left_id), item(right, id=right_id))
    assert flags() == ["forked"]
    entry = entries.visit_record(
        plot=plots[0], survey_round=survey_round, observed_on=date(2025, 9, 14),
        head=Visit.objects.get(is_counting=True), lines=[line(baselines[0], 15)],
    )  # fmt: skip
    entries.enter(actor=actor, entry=entry)
    assert (flags(), Case.objects.count()) == ([], 0)


def test_correcting_one_of_two_rivals_of_a_day_does_not_change_which_counts(
    store, plots, baselines, survey_round
):
    bodies = [visit_body(plots[0], survey_round, [line(baselines[0], n)]) for n in (14, 15)]
    first, second = sorted(bodies, key=lambda body: body["visit"])
    mended, id_ = correction(first, lines=[line(baselines[0], 13)])
    store(item(first), item(second), item(mended, id=id_))
    assert Visit.objects.get(is_counting=True).uid == id_
