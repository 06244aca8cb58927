"""Several people at one plan in the same moment: nothing is doubled, nobody's numbers are lost unseen."""

import pytest

from projects.calc.mix import OPTIMAL
from projects.errors import Refusal
from projects.models import BudgetLine, Job, MixLine, Plan, StockOrder
from projects.services import blocks, jobs, mixes, plan_approval, plan_costs, plan_quantities, plans
from projects.services.editing import ChangedMeanwhile
from tests.field_log.test_at_once import together
from tests.planning.plan_rows import Planned

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def planned(transactional_db):
    return Planned()


def problems(answers):
    return [one for one in answers if isinstance(one, Exception)]


def test_of_two_who_change_one_block_the_second_is_shown_the_first(planned):
    west = planned.blocks[1]
    line = planned.lines[1]
    version = mixes.lines_token([planned.lines[1], planned.lines[2]])

    def to(number):
        return lambda: mixes.edit_block(
            actor=planned.actor, plan=planned.plan, block=west, version=version, **{f"q_{line.pk}": number}
        )

    (refused,) = problems(together(to(150), to(160)))
    assert isinstance(refused, ChangedMeanwhile)
    line.refresh_from_db()
    assert refused.stored[f"q_{line.pk}"] == line.quantity


def found_mix(planned):
    """A search that found another mix and was not taken over yet."""
    line = planned.lines[0]
    row = {
        "block": line.block_id, "species": line.species_id, "stock_type": "bare_root", "wave": 1, "quantity": 77,
        "price": 55, "currency": "EUR", "reason": "",
    }  # fmt: skip
    return Job.objects.create(
        organisation=planned.org, kind="mix_search", title="a search", created_by=planned.manager.person,
        parameters={"plan": str(planned.plan.uid)},
        result={"lines": [row], "blocks": [line.block_id], "status": OPTIMAL},
    )  # fmt: skip


def test_what_is_approved_is_what_stands_though_a_search_wrote_at_that_moment(planned):
    job = found_mix(planned)
    answers = together(
        lambda: plan_approval.approve_plan(actor=planned.actor, plan=planned.plan),
        lambda: mixes.take_over(actor=planned.actor, plan=planned.plan, job=job),
    )
    assert all(isinstance(one, Refusal) for one in problems(answers))
    plan = Plan.objects.get(pk=planned.plan.pk)
    assert not plan.is_draft
    shown = sorted(line["quantity"] for block in plan.frozen["content"]["blocks"] for line in block["lines"])
    assert shown == sorted(plan.mix_lines.values_list("quantity", flat=True))
    assert (77 in shown) == (problems(answers) == [])


def test_orders_drafted_by_two_at_once_are_drafted_once(planned):
    def press():
        return plan_quantities.draft_orders(actor=planned.actor, plan=planned.plan)

    answers = together(press, press)
    assert problems(answers) == []
    assert sorted(is_new for _orders, is_new in answers) == [False, True]
    assert StockOrder.objects.count() == len(answers[0][0])


def test_costs_taken_in_by_two_at_once_are_there_once(planned):
    def press():
        return plan_costs.take_costs_in(
            actor=planned.actor, plan=planned.plan, day_cost_minor=9000, currency="EUR"
        )

    answers = together(press, press)
    assert problems(answers) == []
    assert BudgetLine.objects.count() == answers[0].n_lines == answers[1].n_lines


def test_costs_too_large_to_be_kept_are_refused(planned):
    with pytest.raises(Refusal, match="too large"):
        plan_costs.take_costs_in(
            actor=planned.actor, plan=planned.plan, day_cost_minor=2**63 - 1, currency="EUR"
        )


def test_two_versions_begun_at_once_have_numbers_of_their_own(planned):
    def press():
        return plans.begin_plan(actor=planned.actor, project=planned.project, copy_of=planned.plan)

    assert problems(together(press, press, press)) == []
    assert sorted(Plan.objects.values_list("version", flat=True)) == [1, 2, 3, 4]


def test_two_who_approve_at_once_approve_once(planned):
    def press():
        return plan_approval.approve_plan(actor=planned.actor, plan=planned.plan)

    (refused,) = problems(together(press, press))
    assert isinstance(refused, Refusal) and refused.code == "approved"


def test_a_job_called_off_while_it_ends_ends_once(planned, monkeypatch):
    """Whichever comes first, the job is over and says one thing."""
    monkeypatch.setitem(jobs.works, "counting", lambda job, progress: {"message": "counted"})
    job = jobs.start(actor=planned.actor, kind="counting", title="Counting", link="/")
    answers = together(lambda: jobs.run(job.pk), lambda: jobs.cancel(actor=planned.actor, job=job))
    assert all(isinstance(one, Refusal) for one in problems(answers))
    job.refresh_from_db()
    assert (job.state, job.result["message"]) in (("done", "counted"), ("cancelled", jobs.called_off()))


def test_a_block_that_a_plan_or_its_money_names_stays_with_its_project(planned):
    other = plans.Project.objects.create(organisation=planned.org, name="Another")
    plan_costs.take_costs_in(actor=planned.actor, plan=planned.plan, day_cost_minor=9000, currency="EUR")

    def move():
        blocks.edit_block(actor=planned.actor, block=planned.blocks[0], project=other)

    for left in (MixLine, BudgetLine):
        with pytest.raises(Refusal, match="names this block"):
            move()
        left.objects.all().delete()
    move()
    planned.blocks[0].refresh_from_db()
    assert planned.blocks[0].project == other
