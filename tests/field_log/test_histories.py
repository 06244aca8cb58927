"""Random histories in several orders of arrival: one row per record, and always the same meaning.

What is promised: nothing is lost (I1), nothing is doubled (I2), no stored byte changes (I3), and the same
records mean the same whatever the order (I4).
"""

import json
import random
from datetime import date

import pytest
from django.db import transaction

from monitoring.models import Case, CountLine, PlotBaseline, Removal, Visit
from monitoring.services import cases, projection
from monitoring.services.rebuild import derived_digest
from projects.models import Decision, Submission
from projects.services import chain, log
from tests import factories
from tests.field_log.histories import PLANTED, PLANTED_ON, Choice, History, Maker, Opinion, Record, World
from tests.field_log.visits import item

pytestmark = pytest.mark.django_db

ORDERS = 3
KNOWN_FLAGS = {"over_baseline", "late", "orphan", "forked", "second_root"}


@pytest.fixture
def world(hill, project, block, oak, plots, survey_round):
    first = factories.survey_round(
        project, plots, name="First season", opens_on=date(2024, 9, 1), closes_on=date(2024, 10, 31)
    )
    PlotBaseline.objects.all().delete()
    rows = [
        factories.baseline(plot, oak, PLANTED, counted_on=PLANTED_ON)
        for plot in (plots[0], plots[0], *plots[1:])
    ]
    return World(
        plots=[str(plot.uid) for plot in plots],
        rounds={str(r.uid): (r.opens_on, r.closes_on) for r in (first, survey_round)},
        baselines={str(row.line): str(row.plot.uid) for row in rows},
        species=oak.slug,
    )


class Replay:
    """Sends a history in one order, in batches, doubled and sent again, with one record that fails at first."""

    def __init__(self, actor, history: History, rng: random.Random) -> None:
        self.actor, self.history, self.rng = actor, history, rng
        self.items = {record.id: item(record.body, id=record.id) for record in history.records}
        self.poison = {rng.choice(history.records).id}
        self.stored: set = set()

    def stream(self) -> list[Record | Choice]:
        """Return records in a random order with the decisions, in their own order, somewhere among them."""
        events: list[Record | Choice] = list(self.history.records)
        self.rng.shuffle(events)
        places = sorted(self.rng.randrange(len(events) + 1) for _ in self.history.choices)
        for offset, (place, choice) in enumerate(zip(places, self.history.choices, strict=True)):
            events.insert(place + offset, choice)
        return events

    def run(self, monkeypatch) -> None:
        real = projection.VisitHandler.project

        def project(handler, submission, parsed):
            flags = real(handler, submission, parsed)
            if submission.client_id in self.poison:
                self.poison.discard(submission.client_id)
                raise KeyError("a fault of ours, after everything was written")
            return flags

        monkeypatch.setattr(projection.VisitHandler, "project", project)
        waiting: list[Record] = []
        for event in self.stream():
            if isinstance(event, Choice):
                self.send(waiting)
                waiting = []
                self.decide(event)
                continue
            waiting.append(event)
            if self.rng.random() < 0.4:
                self.send(waiting)
                waiting = []
        self.send(self.history.records)
        self.send(self.history.records)
        monkeypatch.undo()

    def send(self, records: list[Record]) -> None:
        """Send a batch, some of it twice, and hold each outcome to what was known before."""
        sent = [self.items[r.id] for r in records]
        sent += [one for one in sent if self.rng.random() < 0.2]
        for one, outcome in zip(sent, log.append_items(self.actor, sent), strict=True):
            if outcome.outcome == log.RETRY:
                assert one.id not in self.stored
                continue
            known = one.id in self.stored
            assert outcome.outcome == log.ALREADY if known else outcome.outcome in (log.STORED, log.FLAGGED)
            self.stored.add(one.id)

    def decide(self, choice: Choice) -> None:
        plot = next(p for p in projection.SurvivalPlot.objects.all() if str(p.uid) == choice.plot)
        uid = cases.case_uid(choice.kind, plot, choice.round, choice.root)
        log.decide(
            self.actor,
            client_id=choice.id,
            kind=cases.DECISION,
            subject_uid=uid,
            body=json.dumps(choice.body),
        )


def hold_to(opinion: Opinion) -> None:
    """Compare the rows with the second opinion."""
    visits = {visit.uid: visit for visit in Visit.objects.select_related("plot", "round")}
    assert {uid for uid, visit in visits.items() if visit.is_head} == opinion.heads
    assert {uid: visit.depth for uid, visit in visits.items()} == {uid: opinion.depth(uid) for uid in visits}
    assert {
        (str(visit.plot.uid), str(visit.round.uid)): uid for uid, visit in visits.items() if visit.is_counting
    } == opinion.counting
    told = {uid: set(visit.flags) & KNOWN_FLAGS for uid, visit in visits.items()}
    assert told == {uid: opinion.flags(uid) if uid in opinion.heads else set() for uid in visits}
    rows = {
        (line.visit_id, line.position): (line.planted, line.not_found) for line in CountLine.objects.all()
    }
    assert rows == {
        (visits[uid].pk, n): (opinion.planted(line["baselines"][0]), opinion.not_found(uid, line))
        for uid, body in opinion.bodies.items() for n, line in enumerate(body.get("lines", ()))
    }  # fmt: skip
    kinds = Case.objects.filter(kind__in=KNOWN_FLAGS)
    assert {(c.kind, str(c.plot.uid), str(c.visit_root)) for c in kinds} == opinion.cases()
    for row in PlotBaseline.objects.filter(is_current=True):
        assert row.planted == opinion.planted(str(row.line))
    counted = sum(row.alive_removed for row in Removal.objects.filter(is_counted=True))
    assert counted == sum(opinion.removed(line, "2199-01-01") for line in opinion.world.baselines)


def hold_the_log(hill, history: History, items) -> None:
    """Every record once, byte for byte, and the chain whole."""
    rows = dict(Submission.objects.values_list("client_id", "body"))
    assert rows == {uid: one.body for uid, one in items.items()}
    assert Submission.objects.count() + Decision.objects.count() == len(rows) + len(history.choices)
    assert list(chain.breaks(hill)) == []


@pytest.mark.parametrize("seed", range(8))
def test_a_history_means_the_same_in_any_order_of_arrival(hill, actor, world, monkeypatch, seed):
    history, digests = Maker(world, seed).make(), set()
    opinion = Opinion(history)
    for order in range(ORDERS):
        with transaction.atomic():
            replay = Replay(actor, history, random.Random(f"{seed} {order}"))
            replay.run(monkeypatch)
            hold_the_log(hill, history, replay.items)
            hold_to(opinion)
            digests.add(derived_digest(hill, log_numbers=False))
            before = derived_digest(hill)
            projection.rebuild(hill)
            assert derived_digest(hill) == before
            transaction.set_rollback(True)
    assert len(digests) == 1
