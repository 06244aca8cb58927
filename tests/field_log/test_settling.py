"""What becomes of visits once stored: heads, remainders, flags, cases; the same for any order of arrival."""

import itertools
import json
from datetime import date
from uuid import UUID

import pytest

from monitoring.models import Case, CountLine, PlotBaseline, Visit
from monitoring.services import cases, projection
from projects import access
from projects.identifiers import uuid7
from projects.models import RefusedItem, Submission
from projects.services import chain, log
from tests import factories
from tests.field_log.visits import correction, item, line, visit_body

pytestmark = pytest.mark.django_db


def store(actor, *items):
    return log.append_items(actor, list(items))


def test_a_visit_becomes_rows_and_its_remainder_is_not_found(actor, plots, baselines, survey_round):
    body = visit_body(plots[0], survey_round, [line(baselines[0], 14, dead_stem=2, empty_spot=1)])
    (outcome,) = store(actor, item(body))
    assert (outcome.outcome, outcome.seq, outcome.flags) == ("stored", 1, ())
    row = CountLine.objects.get()
    assert (row.planted, row.alive, row.not_found, row.not_found_stated) == (20, 14, 3, None)
    assert Visit.objects.get().is_counting


def test_the_same_bytes_again_are_already_there_and_other_bytes_do_not_replace_them(
    actor, plots, baselines, survey_round
):
    body = visit_body(plots[0], survey_round, [line(baselines[0], 14)])
    first = item(body)
    other = item({**body, "lines": [line(baselines[0], 20)]}, id=first.id)
    assert [o.outcome for o in store(actor, first, first, other)] == ["stored", "already", "id_reused"]
    assert CountLine.objects.get().alive == 14
    assert Submission.objects.count() == 1


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"alive": -1}, "/lines/0/alive"),
        ({"alive": 3.5}, "/lines/0/alive"),
        ({"alive": "twelve"}, "/lines/0/alive"),
        ({"alive": True}, "/lines/0/alive"),
        ({"alive": 10**12}, "/lines/0/alive"),
        ({"species": "quercus-imaginaria"}, "/lines/0/species"),
        ({"signs": {"eaten by dragons": 1}}, "/lines/0/signs/eaten by dragons"),
    ],
)
def test_what_cannot_be_a_count_is_refused_with_its_place_and_its_bytes_are_kept(
    actor, plots, baselines, survey_round, change, pointer
):
    bad = item(visit_body(plots[0], survey_round, [line(baselines[0], 14) | change]))
    (outcome,) = store(actor, bad)
    assert outcome.outcome == "rejected"
    assert pointer in [fault.pointer for fault in outcome.faults]
    assert RefusedItem.objects.get().body == bad.body
    assert not Submission.objects.exists()
    assert not Visit.objects.exists()


def test_a_refused_item_does_not_use_up_a_number(actor, plots, baselines, survey_round):
    bad = item(visit_body(plots[0], survey_round, [line(baselines[0], -1)]))
    good = item(visit_body(plots[1], survey_round, [line(baselines[1], 18)]))
    assert [(o.outcome, o.seq) for o in store(actor, bad, good)] == [("rejected", None), ("stored", 1)]
    assert not list(chain.breaks(actor.organisation))


def test_more_alive_than_planted_is_stored_flagged_and_opens_a_case(actor, plots, baselines, survey_round):
    (outcome,) = store(actor, item(visit_body(plots[0], survey_round, [line(baselines[0], 23)])))
    assert (outcome.outcome, outcome.flags) == ("stored_flagged", ("over_baseline",))
    assert Case.objects.get().kind == "over_baseline"
    assert CountLine.objects.get().alive == 23


@pytest.mark.parametrize(
    ("observed_on", "flag"),
    [("2199-01-01", "future_date"), ("2023-01-01", "before_planting"), ("2025-11-15", "late")],
)
def test_an_odd_date_is_stored_and_flagged(actor, plots, baselines, survey_round, observed_on, flag):
    body = visit_body(plots[0], survey_round, [line(baselines[0], 14)], observed_on=observed_on)
    (outcome,) = store(actor, item(body))
    assert (outcome.outcome, outcome.flags) == ("stored_flagged", (flag,))


def test_a_sum_that_does_not_close_is_flagged_not_refused(actor, plots, baselines, survey_round):
    body = visit_body(plots[0], survey_round, [line(baselines[0], 14, dead_stem=2, not_found=1)])
    (outcome,) = store(actor, item(body))
    assert outcome.flags == ("sum_open",)


def test_trees_that_were_dead_and_live_again_contradict_unless_they_resprouted(
    actor, project, plots, baselines, survey_round
):
    earlier = factories.survey_round(project, plots, opens_on=date(2024, 9, 1), closes_on=date(2024, 10, 31))
    dead = [line(baselines[0], 10, dead_stem=10)]
    store(actor, item(visit_body(plots[0], earlier, dead, observed_on="2024-09-14")))
    (odd,) = store(actor, item(visit_body(plots[0], survey_round, [line(baselines[0], 15)])))
    assert odd.flags == ("contradicts_earlier",)
    again, id_ = correction(
        json.loads(Submission.objects.get(seq=2).body), lines=[line(baselines[0], 15, resprout=5)]
    )
    (fine,) = store(actor, item(again, id=id_))
    assert fine.flags == ()
    assert not Case.objects.exists()


def test_a_correction_stands_and_the_first_revision_stays_readable(actor, plots, baselines, survey_round):
    body = visit_body(plots[0], survey_round, [line(baselines[0], 14)])
    new, id_ = correction(body, lines=[line(baselines[0], 15)])
    store(actor, item(body), item(new, id=id_))
    assert list(Visit.objects.order_by("submission_seq").values_list("is_head", "is_counting", "depth")) == [
        (False, False, 0), (True, True, 1),
    ]  # fmt: skip
    assert json.loads(Submission.objects.get(seq=1).body)["lines"][0]["alive"] == 14


def test_two_people_who_counted_one_plot_open_a_case_and_a_lead_chooses(
    actor, plots, baselines, survey_round
):
    mine = visit_body(plots[0], survey_round, [line(baselines[0], 14)], observed_on="2025-09-14")
    yours = visit_body(plots[0], survey_round, [line(baselines[0], 17)], observed_on="2025-09-15")
    outcomes = store(actor, item(yours), item(mine))
    assert outcomes[1].flags == ("second_root",)
    assert Visit.objects.get(is_counting=True).uid == UUID(mine["visit"])
    case = Case.objects.get(kind="second_root")
    cases.settle_case(
        actor=actor, case=case, choice=f"use:{yours['visit']}", reason="went back and recounted"
    )
    assert Visit.objects.get(is_counting=True).uid == UUID(yours["visit"])
    assert Case.objects.get(kind="second_root").settled_as == "use"
    assert not list(chain.breaks(actor.organisation))


def test_a_plot_that_could_not_be_reached_gives_way_to_a_count(actor, plots, baselines, survey_round):
    missing = visit_body(plots[0], survey_round, status="missing", reason="unsafe", observed_on="2025-09-01")
    counted = visit_body(plots[0], survey_round, [line(baselines[0], 14)])
    store(actor, item(missing), item(counted))
    assert Visit.objects.get(is_counting=True).uid == UUID(counted["visit"])
    assert not Case.objects.exists()


def test_a_baseline_told_later_joins_the_lines_that_named_it(actor, plots, oak, survey_round, cohort):
    baseline_uid, plot = uuid7(), plots[0]
    count = visit_body(
        plot, survey_round, [{"baselines": [str(baseline_uid)], "species": oak.slug, "alive": 9}]
    )
    (outcome,) = store(actor, item(count))
    assert outcome.flags == ("unknown_baseline",)
    told = visit_body(
        plot, None, purpose="baseline", observed_on="2024-03-01",
        baselines=[{
            "uid": str(baseline_uid), "species": oak.slug, "cohort": str(cohort.uid), "planted": 12,
            "unit": "tree", "source": "at_planting", "counted_on": "2024-03-01",
        }],
    )  # fmt: skip
    store(actor, item(told))
    row = CountLine.objects.get()
    assert (row.planted, row.not_found, row.baseline.cohort) == (12, 3, cohort)
    assert not Case.objects.exists()


def test_heads_flags_and_cases_do_not_depend_on_the_order_of_arrival(
    hill, actor, plots, baselines, survey_round
):
    root = visit_body(plots[0], survey_round, [line(baselines[0], 14)])
    left, left_id = correction(root, lines=[line(baselines[0], 15)])
    right, right_id = correction(root, lines=[line(baselines[0], 25)])
    second = visit_body(plots[0], survey_round, [line(baselines[0], 12)], observed_on="2025-09-20")
    items = [item(root), item(left, id=left_id), item(right, id=right_id), item(second)]
    seen = set()
    for number, order in enumerate(itertools.permutations(items)):
        if number % 4:
            continue
        projection.drop(hill)
        for stored in order:
            parsed = projection.VisitHandler().screen(actor, stored)
            submission = Submission.objects.filter(client_id=stored.id).first()
            if submission is None:
                store(actor, stored)
            else:
                projection.VisitHandler().project(submission, parsed)
        heads = tuple(Visit.objects.order_by("uid").values_list("uid", "is_head", "is_counting", "depth"))
        flags = tuple(tuple(v.flags) for v in Visit.objects.order_by("uid"))
        seen.add((heads, flags, tuple(Case.objects.order_by("uid").values_list("uid", "kind"))))
    assert len(seen) == 1


def test_another_organisation_cannot_count_this_plot(olaf, plots, baselines, survey_round):
    stranger = access.member_actor(olaf)
    (outcome,) = store(stranger, item(visit_body(plots[0], survey_round, [line(baselines[0], 14)])))
    assert (outcome.outcome, outcome.code) == ("rejected", "plot_unknown")


def test_rebuilding_from_the_log_gives_the_same_rows(hill, actor, plots, baselines, survey_round):
    body = visit_body(
        plots[0], survey_round, [line(baselines[0], 23, signs={"bitten": 2}, heights_cm=[40, 55])],
        regeneration=[
            {"species": None, "name": "birch\u0000", "height_class": "lower", "count": 20, "capped": True}
        ],
        removals=[{"baseline": str(baselines[0].line), "removed_on": "2025-02-01", "alive_removed": 2}],
    )  # fmt: skip
    store(actor, item(body), item(visit_body(plots[1], survey_round, status="destroyed", reason="slid")))

    def picture():
        return (
            list(Visit.objects.order_by("uid").values_list("uid", "flags", "is_counting")),
            list(
                CountLine.objects.order_by("visit__uid").values_list("planted", "alive", "not_found", "signs")
            ),
            list(Case.objects.order_by("uid").values_list("uid", "kind")),
            list(PlotBaseline.objects.order_by("uid").values_list("uid", "is_current")),
        )

    before = picture()
    assert projection.rebuild(hill) == 2
    assert picture() == before


@pytest.mark.parametrize(
    "body", ['{"visit": "\x00"}', '{"visit": "\ud800"}', "[]", "{", '{"visit": NaN}', "[" * 100_000]
)
def test_unreadable_bytes_are_refused_and_kept(actor, body):
    sha = chain.sha256_text(body) if "\ud800" not in body else "0" * 64
    (outcome,) = store(actor, log.Item(id=uuid7(), kind="visit", schema="visit/1", sha256=sha, body=body))
    assert outcome.outcome == "rejected"
    assert RefusedItem.objects.count() == 1


def test_two_organisations_may_use_the_same_id(hill, actor, olaf, plots, baselines, survey_round, other):
    project = factories.project(other)
    block = factories.block(other, project, factories.site(other))
    plot = factories.plot(block)
    far = factories.baseline(plot, baselines[0].species, 20)
    far_round = factories.survey_round(project, [plot])
    told = [
        {"uid": str(baselines[0].line), "species": "quercus-robur", "planted": 21, "counted_on": "2024-03-02"}
    ]
    mine = visit_body(plots[0], survey_round, [line(baselines[0], 14)], baselines=told)
    same = visit_body(plot, far_round, [line(far, 15)], visit=mine["visit"], baselines=told)
    assert store(actor, item(mine))[0].outcome == "stored"
    assert store(access.member_actor(olaf), item(same))[0].outcome == "stored"
    assert Visit.objects.filter(uid=mine["visit"], is_counting=True).count() == 2
