"""Corrections that move a visit, name odd parents or share baselines: one visit counts once, in any order."""

import itertools
import json
from datetime import date
from uuid import UUID

import pytest

from monitoring.models import Case, CountLine, DirtyKey, PlotBaseline, Visit
from monitoring.selectors.round_counts import round_counts
from monitoring.services import projection
from projects import access
from projects.identifiers import uuid7
from projects.models import Submission
from projects.services import log
from tests import factories
from tests.field_log.visits import correction, item, line, visit_body

pytestmark = pytest.mark.django_db


def store(actor, *items):
    outcomes = log.append_items(actor, list(items))
    assert {o.outcome for o in outcomes} <= {"stored", "stored_flagged"}
    return outcomes


def standing():
    """What stands, in words free of row numbers."""
    return (
        tuple(
            Visit.objects.order_by("uid").values_list("uid", "is_head", "is_counting", "depth", "n_flags")
        ),
        tuple(Case.objects.order_by("uid").values_list("uid", "kind", "plot__name")),
        tuple(PlotBaseline.objects.order_by("line", "plot__name", "planted", "is_current").values_list(
            "line", "plot__name", "planted", "counted_on", "is_current"
        )),
        tuple(CountLine.objects.order_by("visit__uid", "position").values_list("planted", "not_found")),
    )  # fmt: skip


def in_every_order(hill, actor, items):
    """Replay items in every order on an emptied log and return what stands, which must be one thing."""
    seen = set()
    for order in itertools.permutations(items):
        projection.drop(hill)
        for one in order:
            parsed = projection.VisitHandler().screen(actor, one)
            stored = Submission.objects.filter(client_id=one.id).first()
            if stored is None:
                store(actor, one)
            else:
                projection.VisitHandler().project(stored, parsed)
        seen.add(standing())
    assert len(seen) == 1
    return seen.pop()


@pytest.fixture
def next_round(project, plots, survey_round):
    return factories.survey_round(
        project, plots, name="Third season", opens_on=date(2026, 9, 1), closes_on=date(2026, 10, 31)
    )


def counting():
    return {(v.plot.name, v.round.name): v.uid for v in Visit.objects.filter(is_counting=True)}


def test_a_correction_that_names_another_round_moves_the_visit_there(
    hill, actor, plots, baselines, survey_round, next_round
):
    body = visit_body(plots[0], next_round, [line(baselines[0], 14)])
    moved, id_ = correction(body, round=str(survey_round.uid))
    in_every_order(hill, actor, [item(body), item(moved, id=id_)])
    assert counting() == {("N1", "Second season"): id_}


def test_a_round_that_lost_its_visit_is_computed_again(actor, plots, baselines, survey_round, next_round):
    body = visit_body(plots[0], next_round, [line(baselines[0], 14)])
    store(actor, item(body))
    DirtyKey.objects.all().delete()
    moved, id_ = correction(body, round=str(survey_round.uid))
    store(actor, item(moved, id=id_))
    stale = set(DirtyKey.objects.filter(kind="round").values_list("key", flat=True))
    assert stale == {str(survey_round.pk), str(next_round.pk)}


def test_a_correction_that_names_another_plot_moves_the_visit_there(
    hill, actor, plots, baselines, survey_round
):
    body = visit_body(plots[0], survey_round, [line(baselines[0], 14)])
    moved, id_ = correction(body, plot=str(plots[1].uid), lines=[line(baselines[1], 14)])
    in_every_order(hill, actor, [item(body), item(moved, id=id_)])
    assert counting() == {("N2", "Second season"): id_}
    assert {(c.kind, c.plot.name) for c in Case.objects.all()} == set()


def test_a_baseline_moves_with_the_visit_that_tells_it(hill, actor, plots, oak):
    told = {"uid": str(uuid7()), "species": oak.slug, "planted": 12, "counted_on": "2024-03-01"}
    body = visit_body(plots[0], None, purpose="baseline", observed_on="2024-03-01", baselines=[told])
    moved, id_ = correction(body, plot=str(plots[1].uid))
    in_every_order(hill, actor, [item(body), item(moved, id=id_)])
    assert PlotBaseline.objects.get(is_current=True).plot == plots[1]


def test_two_visits_that_tell_one_baseline_in_two_plots_leave_it_in_one(hill, actor, plots, oak):
    told = {"uid": str(uuid7()), "species": oak.slug, "planted": 12, "counted_on": "2024-03-01"}
    visits = [
        item(visit_body(plot, None, purpose="baseline", observed_on="2024-03-01", baselines=[told]))
        for plot in plots
    ]
    in_every_order(hill, actor, visits)
    assert PlotBaseline.objects.filter(is_current=True).count() == 1


def test_a_visit_of_another_project_cannot_take_a_visit_or_a_baseline_away(
    hill, site, oak, actor, vera, plots, baselines, survey_round
):
    far_project = factories.project(hill)
    far_plot = factories.plot(factories.block(hill, far_project, site), "F1")
    far = factories.survey_round(far_project, [far_plot])
    told = {"uid": str(uuid7()), "species": oak.slug, "planted": 12, "counted_on": "2024-03-01"}
    theirs = visit_body(far_plot, far, baselines=[told])
    store(actor, item(theirs))
    volunteer = access.member_actor(vera)
    moved, id_ = correction(theirs, plot=str(plots[0].uid), round=str(survey_round.uid), baselines=[])
    (outcome,) = store(volunteer, item(moved, id=id_))
    assert "orphan" in outcome.flags
    assert Visit.objects.get(uid=theirs["visit"]).is_counting
    stolen = visit_body(plots[0], None, purpose="baseline", baselines=[told | {"counted_on": "2025-03-01"}])
    (outcome,) = log.append_items(volunteer, [item(stolen)])
    assert (outcome.outcome, outcome.code) == ("rejected", "baseline_elsewhere")
    assert PlotBaseline.objects.get(line=told["uid"]).plot == far_plot


def test_a_parent_of_another_visit_leaves_that_visit_as_it_is(hill, actor, plots, baselines, survey_round):
    mine = visit_body(plots[0], survey_round, [line(baselines[0], 14)])
    yours = visit_body(plots[1], survey_round, [line(baselines[1], 15)])
    odd, id_ = correction(yours, parents=[mine["visit"]], lines=[line(baselines[1], 16)])
    in_every_order(hill, actor, [item(mine), item(yours), item(odd, id=id_)])
    assert Visit.objects.get(uid=mine["visit"]).is_counting
    assert "orphan" in Visit.objects.get(uid=id_).flags


def test_a_later_record_that_names_no_parent_corrects_the_first(hill, actor, plots, baselines, survey_round):
    body = visit_body(plots[0], survey_round, [line(baselines[0], 14)])
    later, id_ = correction(body, parents=[], lines=[line(baselines[0], 15)])
    in_every_order(hill, actor, [item(body), item(later, id=id_)])
    assert counting() == {("N1", "Second season"): id_}
    assert not Visit.objects.filter(n_flags__gt=0).exists()


def test_a_record_whose_id_is_the_visit_of_another_plot_stands_alone(
    hill, actor, plots, baselines, survey_round
):
    mine = visit_body(plots[0], survey_round, [line(baselines[0], 14)])
    child, child_id = correction(mine, lines=[line(baselines[0], 13)])
    taken = visit_body(plots[1], survey_round, [line(baselines[1], 15)])
    in_every_order(hill, actor, [item(child, id=child_id), item(taken, id=UUID(mine["visit"]))])
    assert set(counting()) == {("N1", "Second season"), ("N2", "Second season")}


def test_an_orphan_of_another_round_joins_when_its_parent_arrives(
    hill, actor, plots, baselines, survey_round, next_round
):
    body = visit_body(plots[0], survey_round, [line(baselines[0], 14)])
    middle, middle_id = correction(body, round=str(next_round.uid))
    last, last_id = correction(body, parents=[str(middle_id)])
    (outcome,) = store(actor, item(last, id=last_id))
    assert "orphan" in outcome.flags
    in_every_order(hill, actor, [item(last, id=last_id), item(middle, id=middle_id), item(body)])
    assert counting() == {("N1", "Second season"): last_id}
    assert not Case.objects.exists()


def test_a_corrected_baseline_visit_takes_its_old_word_back(hill, actor, plots, oak, cohort):
    kept, dropped = str(uuid7()), str(uuid7())
    told = [
        {"uid": uid, "species": oak.slug, "planted": 12, "counted_on": "2025-03-01"}
        for uid in (kept, dropped)
    ]
    body = visit_body(plots[0], None, purpose="baseline", observed_on="2025-03-01", baselines=told)
    mended, id_ = correction(body, baselines=[told[0] | {"counted_on": "2024-03-01", "planted": 11}])
    in_every_order(hill, actor, [item(body), item(mended, id=id_)])
    rows = PlotBaseline.objects.filter(is_current=True).values_list("line", "planted")
    assert list(rows) == [(UUID(kept), 11)]


def test_two_people_who_tell_one_baseline_on_one_day_give_one_figure_in_any_order(hill, actor, plots, oak):
    uid = str(uuid7())
    items = [
        item(visit_body(plots[0], None, purpose="baseline", baselines=[
            {"uid": uid, "species": oak.slug, "planted": planted, "counted_on": "2024-03-01"}
        ])) for planted in (11, 12, 13)
    ]  # fmt: skip
    in_every_order(hill, actor, items)
    latest = max(items, key=lambda one: one.id)
    told = json.loads(latest.body)["baselines"][0]["planted"]
    assert PlotBaseline.objects.get(is_current=True).planted == told


def test_lines_that_share_a_baseline_tell_its_remainder_once(actor, plots, baselines, oak, survey_round):
    other = factories.baseline(plots[0], oak, 10)
    both = {"baselines": [str(baselines[0].line), str(other.line)], "species": oak.slug, "alive": 9}
    again = line(baselines[0], 5)
    (outcome,) = store(
        actor, item(visit_body(plots[0], survey_round, [both, again, line(baselines[0], 4, dead_stem=2)]))
    )
    assert outcome.flags == ()
    assert list(CountLine.objects.order_by("position").values_list("not_found", flat=True)) == [0, 0, 10]
    table = round_counts(survey_round).table
    assert (sum(table.planted), sum(table.alive), sum(table.dead_stem), sum(table.not_found)) == (
        30,
        18,
        2,
        10,
    )


def test_lines_that_name_the_baselines_of_another_plot_leave_those_where_they_are(
    actor, plots, baselines, oak, survey_round
):
    both = [str(baselines[0].line), str(baselines[1].line)]
    stray = {"baselines": both, "species": oak.slug, "alive": 12}
    store(
        actor,
        item(visit_body(plots[0], survey_round, [line(baselines[0], 14)])),
        item(visit_body(plots[1], survey_round, [line(baselines[0], 7)])),
        item(visit_body(plots[2], survey_round, [stray])),
    )
    table = round_counts(survey_round).table
    of_plot = {
        survey_plot: [int(n) for n in table.planted[table.plot == code]]
        for code, survey_plot in enumerate(sorted(plots, key=lambda plot: plot.uid))
    }
    assert sorted(of_plot[plots[0]]) == [20]
    assert sorted(of_plot[plots[1]]) == sorted(of_plot[plots[2]]) == [0, 20]
    assert sum(table.alive) == 14 + 7 + 12


def test_a_long_chain_of_corrections_ends_in_its_last(hill, actor, plots, baselines, survey_round):
    body = visit_body(plots[0], survey_round, [line(baselines[0], 0)])
    items, parent = [item(body)], body["visit"]
    for alive in range(1, 20):
        later, id_ = correction(body, parents=[parent], lines=[line(baselines[0], alive)])
        items.append(item(later, id=id_))
        parent = str(id_)
    store(actor, *reversed(items))
    head = Visit.objects.get(is_counting=True)
    assert (head.depth, head.lines.get().alive, Visit.objects.filter(is_head=True).count()) == (19, 19, 1)
