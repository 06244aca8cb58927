"""Several writers at the same moment: nobody waits for ever, nothing is doubled, and the outcome is one of an order."""

import threading
import time

import pytest
from django.db import connections, transaction

from monitoring.models import Case, DirtyKey, Visit
from monitoring.services import cases, dirty, projection, rebuild, recompute
from projects import access
from projects.errors import Refusal
from projects.models import ChainHead, Submission
from projects.services import chain, log
from tests import factories
from tests.field_log.visits import correction, item, line, visit_body

pytestmark = pytest.mark.django_db(transaction=True)

PATIENCE_S = 60


def together(*works):
    """Run each work in a thread of its own, all at once; return what each answered or raised."""
    start, answers = threading.Barrier(len(works)), {}

    def run(number, work):
        try:
            start.wait()
            answers[number] = work()
        except Exception as problem:
            answers[number] = problem
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(works)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(PATIENCE_S)
    assert not any(thread.is_alive() for thread in threads), "somebody waits for ever"
    return [answers[number] for number in range(len(works))]


def words(answers):
    """Return the outcomes of batches, after making sure that nobody failed."""
    assert [one for one in answers if isinstance(one, Exception)] == []
    return sorted(outcome.outcome for batch in answers for outcome in batch)


def the_rows_are_those_of_a_rebuild(hill):
    for kind in dirty.KINDS:
        for row in DirtyKey.objects.filter(kind=kind).order_by("key"):
            recompute.recompute(organisation_id=hill.pk, kind=kind, key=row.key)
    before = rebuild.derived_digest(hill)
    return rebuild.rebuild(hill).digest == before


def sender(actor, items):
    return lambda: log.append_items(actor, items)


def test_many_who_count_and_correct_one_plot_leave_one_counting_visit(
    hill, actor, plots, baselines, survey_round
):
    roots = [visit_body(plots[0], survey_round, [line(baselines[0], n)]) for n in range(3)]
    batches = []
    for body in roots:
        later = [correction(body, lines=[line(baselines[0], n)]) for n in (5, 6)]
        batches.append([item(body), *(item(new, id=id_) for new, id_ in later)])
    found = words(together(*(sender(actor, batch) for batch in [*batches, *batches])))
    assert found.count("already") == 9
    assert set(found) <= {"already", "stored", "stored_flagged"}
    assert Visit.objects.filter(is_counting=True).count() == 1
    assert list(chain.breaks(hill)) == []
    assert the_rows_are_those_of_a_rebuild(hill)


def test_batches_over_many_plots_in_opposite_order_do_not_wait_crosswise(
    hill, actor, project, site, oak, survey_round
):
    blocks = [factories.block(hill, project, site) for _ in range(4)]
    plots = [factories.plot(block) for block in blocks]
    rows = [factories.baseline(plot, oak, 20) for plot in plots]
    factories.survey_round(project, plots)

    def batch(alive):
        return [
            item(visit_body(plot, survey_round, [line(row, alive)]))
            for plot, row in zip(plots, rows, strict=True)
        ]

    found = words(together(*(sender(actor, batch(n)[:: 1 if n % 2 else -1]) for n in range(6))))
    assert found.count("retry") == 0
    assert Submission.objects.count() == 24


@pytest.mark.postgres
def test_a_batch_over_two_blocks_and_a_worker_on_the_second_do_not_lock_each_other_out(
    hill, actor, project, site, block, oak, plots, baselines, survey_round, monkeypatch
):
    """The worker holds the second block's key and wants the project's; the batch must not hold that already."""
    second = factories.block(hill, project, site)
    plot = factories.plot(second)
    row = factories.baseline(plot, oak, 20)
    together_round = factories.survey_round(project, [plots[0], plot])
    log.append_items(actor, [item(visit_body(plot, together_round, [line(row, 9)]))])
    key = dirty.Key(dirty.ROUND_BLOCK, f"{together_round.pk}:{second.pk}")
    version = recompute.begin(hill.pk, *key)
    batch_has_begun = threading.Event()

    class SlowPart:
        def write(self):
            batch_has_begun.wait(20)
            time.sleep(0.5)
            return 1

    real = log.append_one

    def slow_append(batch, one):
        outcome = real(batch, one)
        batch_has_begun.set()
        time.sleep(0.3)
        return outcome

    monkeypatch.setattr(log, "append_one", slow_append)
    items = [
        item(visit_body(plots[0], together_round, [line(baselines[0], 9)])),
        item(visit_body(plot, together_round, [line(row, 8)])),
    ]
    found = together(lambda: recompute.finish(hill.pk, *key, version, [SlowPart()]), sender(actor, items))
    assert found[0] is True
    assert {outcome.outcome for outcome in found[1]} <= {"stored", "stored_flagged"}


def test_a_decision_and_a_correction_at_once_end_in_one_of_the_two_orders(
    hill, actor, plots, baselines, survey_round
):
    for plot, row in zip(plots, baselines, strict=True):
        body = visit_body(plot, survey_round, [line(row, 23)])
        log.append_items(actor, [item(body)])
        case = Case.objects.get(kind="over_baseline", plot=plot)
        worse, id_ = correction(body, lines=[line(row, 24)])

        def decide(case=case):
            return cases.settle_case(actor=actor, case=case, choice="accept", reason="seen")

        decision, sent = together(decide, sender(actor, [item(worse, id=id_)]))
        assert sent[0].outcome == "stored_flagged"
        assert not isinstance(decision, Exception) or isinstance(decision, Refusal)
        assert Case.objects.get(plot=plot).settled_seq is None
    assert list(chain.breaks(hill)) == []


def test_choosing_to_and_fro_while_counts_arrive_keeps_one_counting_visit(
    hill, actor, plots, baselines, survey_round
):
    bodies = [visit_body(plots[0], survey_round, [line(baselines[0], n)]) for n in (9, 10)]
    log.append_items(actor, [item(body) for body in bodies])

    def choose(number):
        def work():
            for turn in range(4):
                case = Case.objects.get(kind="second_root")
                root = bodies[(number + turn) % 2]["visit"]
                try:
                    cases.settle_case(actor=actor, case=case, choice=f"use:{root}", reason="seen")
                except Refusal:
                    continue
                assert Visit.objects.filter(is_counting=True).count() == 1

        return work

    def count():
        for n in range(4):
            new, id_ = correction(bodies[n % 2], lines=[line(baselines[0], n)])
            log.append_items(actor, [item(new, id=id_)])

    assert together(choose(0), choose(1), count) == [None, None, None]
    assert the_rows_are_those_of_a_rebuild(hill)
    assert list(chain.breaks(hill)) == []


def test_counts_that_arrive_during_a_rebuild_wait_and_are_written_once(
    hill, actor, plots, baselines, survey_round, monkeypatch
):
    first = [item(visit_body(plots[0], survey_round, [line(baselines[0], n)])) for n in range(6)]
    log.append_items(actor, first)
    DirtyKey.objects.all().delete()
    more = [item(visit_body(plots[1], survey_round, [line(baselines[1], n)])) for n in range(4)]
    dropped, drop = threading.Event(), projection.drop

    def drop_slowly(organisation):
        drop(organisation)
        dropped.set()
        time.sleep(1)

    monkeypatch.setattr(projection, "drop", drop_slowly)

    def send_meanwhile(one):
        assert dropped.wait(PATIENCE_S)
        return log.append_items(actor, [one])

    made, *sent = together(
        lambda: rebuild.rebuild(hill), *(lambda one=one: send_meanwhile(one) for one in more)
    )
    assert not isinstance(made, Exception), made
    assert set(words(sent)) <= {"stored", "stored_flagged"}
    assert (Visit.objects.count(), Visit.objects.filter(is_counting=True).count()) == (10, 2)
    monkeypatch.undo()
    assert the_rows_are_those_of_a_rebuild(hill)


@pytest.mark.postgres
def test_a_long_transaction_of_one_organisation_holds_up_no_other(
    hill, actor, plots, baselines, survey_round, other, olaf
):
    project = factories.project(other)
    plot = factories.plot(factories.block(other, project, factories.site(other)))
    far = factories.survey_round(project, [plot])
    held, done = threading.Event(), threading.Event()

    def hold():
        with transaction.atomic():
            chain.locked_head(hill)
            held.set()
            assert done.wait(PATIENCE_S)
        return []

    def others():
        assert held.wait(PATIENCE_S)
        outcomes = log.append_items(access.member_actor(olaf), [item(visit_body(plot, far))])
        done.set()
        return outcomes

    assert words(together(hold, others)) == ["stored"]


def test_two_first_records_at_once_begin_one_chain(hill, actor, plots, survey_round):
    assert not ChainHead.objects.exists()
    found = together(*(sender(actor, [item(visit_body(plot, survey_round))]) for plot in plots))
    assert words(found) == ["stored"] * 3
    assert sorted(outcome.seq for batch in found for outcome in batch) == [1, 2, 3]
    assert list(chain.breaks(hill)) == []
