"""People who draw, plan, settle and count in one block at the same moment: nothing is lost, nobody waits crosswise."""

import threading
import time

import pytest

from monitoring.calc.plot_frames import Plan
from monitoring.calc.plot_names import next_names
from monitoring.models import Case, RoundPlot, SurvivalPlot
from monitoring.services import (
    cases,
    dirty,
    figures,
    plot_draws,
    plots,
    recompute,
    rounds,
    second_stage,
    spares,
)
from projects.errors import Refusal
from projects.models import BlockGround
from tests import factories
from tests.field_log.test_at_once import together
from tests.field_log.test_figure_cases import counted, nine_plots, outlier  # noqa: F401  (fixtures)

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]


@pytest.fixture
def ground(block):
    BlockGround.objects.filter(block=block).update(geometry=factories.SQUARE)
    return block


@pytest.fixture
def drawn_round(actor, project, ground):
    """A round over six drawn plots with three spares."""
    draw = lay(actor, ground, seed=1)
    return factories.survey_round(project, list(draw.plots.order_by("draw_order")))


def lay(actor, block, seed, n=6):
    plan = Plan("balanced", n, 3, seed, radius_m=5.64)
    return plot_draws.lay_out(actor=actor, block=block, frame=factories.SQUARE, plan=plan)


def failures(answers):
    """What went wrong other than a refusal in words."""
    return [one for one in answers if isinstance(one, Exception) and not isinstance(one, Refusal)]


def beside_a_worker(survey_round, work):
    """Run a work while a worker holds the key of the round's first block and is about to write its figures."""
    block = SurvivalPlot.objects.filter(pk__in=survey_round.round_plots.values("plot")).first().block
    key = dirty.Key(dirty.ROUND_BLOCK, f"{survey_round.pk}:{block.pk}")
    dirty.mark(survey_round.organisation_id, [key])
    version = recompute.begin(survey_round.organisation_id, *key)
    parts = list(figures.of_round_block(survey_round.organisation_id, key.key))
    held = threading.Event()

    class SlowPart:
        def write(self):
            held.set()
            time.sleep(0.7)
            return 1

    def meanwhile():
        assert held.wait(20)
        return work()

    return together(
        lambda: recompute.finish(survey_round.organisation_id, *key, version, [SlowPart(), *parts]), meanwhile
    )


def test_draws_and_plots_by_hand_in_one_block_share_no_name(actor, ground):
    answers = []
    for turn in range(4):
        taken = SurvivalPlot.objects.filter(block=ground).values_list("name", flat=True)
        (name,) = next_names(taken, ground.name, 1)

        def by_hand(name=name):
            return plots.make_plot(actor=actor, block=ground, name=name, shape="circle", radius_m=3)

        answers += together(*(lambda s=s: lay(actor, ground, s) for s in (turn, turn + 10)), by_hand)
    assert failures(answers) == []
    by_hand_made = sum(isinstance(one, SurvivalPlot) for one in answers)
    assert SurvivalPlot.objects.filter(block=ground).count() == 8 * 6 + by_hand_made


def test_spares_taken_up_while_plots_are_drawn(actor, ground, drawn_round):
    first = list(SurvivalPlot.objects.filter(block=ground).order_by("draw_order"))

    def take(plot):
        return lambda: spares.take_next_spare(
            actor=actor,
            plot=plot,
            survey_round=drawn_round,
            reason="unsafe",
            observed_on=drawn_round.opens_on,
        )

    answers = together(*(take(plot) for plot in (*first[:4], first[0])), lambda: lay(actor, ground, 9))
    assert failures(answers) == []
    made = [one for one in answers if isinstance(one, SurvivalPlot)]
    assert sorted(one.draw_order for one in made) == sorted({one.draw_order for one in made})
    assert len(made) == 3 and len({one.stands_for_id for one in made}) == 3
    assert RoundPlot.objects.filter(round=drawn_round).count() == 9


def test_a_second_stage_is_planned_once_however_many_press(actor, ground, drawn_round):
    def plan():
        return second_stage.plan(
            actor=actor, survey_round=drawn_round, further={ground: 3}, method="balanced", n_spares=1
        )

    assert failures(together(plan, plan, plan)) == []
    assert SurvivalPlot.objects.filter(stage=2).count() == 3


def test_a_second_stage_and_a_worker_do_not_lock_each_other_out(actor, ground, drawn_round):
    def plan():
        return second_stage.plan(
            actor=actor, survey_round=drawn_round, further={ground: 3}, method="balanced"
        )

    written, draws = beside_a_worker(drawn_round, plan)
    assert written is True and draws[0].n_plots == 3


def test_an_edited_round_and_a_worker_do_not_lock_each_other_out(actor, drawn_round):
    def edit():
        return rounds.edit_round(actor=actor, survey_round=drawn_round, name="Renamed")

    written, changed = beside_a_worker(drawn_round, edit)
    assert written is True and changed.name == "Renamed"


def test_a_case_that_is_settled_while_a_worker_writes_it(actor, counted):  # noqa: F811
    survey_round = counted[0]
    case = outlier()
    Case.objects.filter(pk=case.pk).update(
        facts={**case.facts, "usual": 0.1}
    )  # so the worker writes it again
    case = outlier()

    def settle():
        return cases.settle_case(actor=actor, case=case, choice="accept", reason="A frost hollow.")

    assert failures(beside_a_worker(survey_round, settle)) == []
