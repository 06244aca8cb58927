"""Doubts that figures raise: opened, settled and gone with the counts, and the same after a rebuild."""

import json
from datetime import date

import pytest

from monitoring.access import visible_cases
from monitoring.models import Case, Estimate
from monitoring.services import cases, dirty, drain, rebuild
from projects import access
from projects.models import BlockGround, Submission
from projects.services import log
from tests import factories
from tests.field_log.visits import correction, item, line, visit_body

pytestmark = pytest.mark.django_db

USUAL = (18, 17, 19, 18, 16, 18, 17, 19)


@pytest.fixture
def nine_plots(block, oak, cohort):
    plots = [factories.plot(block, f"P{number}") for number in range(9)]
    return plots, [factories.baseline(plot, oak, 20, cohort=cohort) for plot in plots]


@pytest.fixture
def counted(project, actor, nine_plots):
    """Nine plots in one round, eight of them alike and the last nearly bare."""
    plots, baselines = nine_plots
    survey_round = factories.survey_round(project, plots, closes_on=date(2026, 12, 31))
    bodies = [
        visit_body(plot, survey_round, [line(baseline, alive, dead_stem=20 - alive)])
        for plot, baseline, alive in zip(plots, baselines, (*USUAL, 1), strict=True)
    ]
    log.append_items(actor, [item(body) for body in bodies])
    drain.work_through()
    return survey_round, plots, baselines


def outlier():
    return Case.objects.get(kind="outlier")


def test_a_plot_far_from_its_neighbours_opens_a_case_and_stays_in_the_figures(counted):
    _round, plots, _baselines = counted
    case = outlier()
    assert (case.plot, case.settled_seq) == (plots[8], None)
    assert (case.facts["alive"], case.facts["trees"]) == (1, 20)
    assert case.facts["deviations"] < -3.5
    figure = Estimate.objects.get(scope="block", measure="survival", is_headline=True)
    assert (figure.n_plots, figure.value, figure.n_flagged) == (9, pytest.approx(143 / 180), 0)


def test_it_can_be_accepted_and_not_put_aside(actor, counted):
    assert [choice for choice, _words in cases.choices(outlier())] == ["accept"]
    before = Estimate.objects.get(scope="block", measure="survival", is_headline=True).input_digest
    cases.settle_case(actor=actor, case=outlier(), choice="accept", reason="A frost hollow; counted twice.")
    assert outlier().settled_as == "accept"
    drain.work_through()
    assert outlier().settled_as == "accept"
    figure = Estimate.objects.get(scope="block", measure="survival", is_headline=True)
    assert (figure.n_plots, figure.input_digest) == (9, before)


def test_a_corrected_count_takes_the_case_away(actor, counted):
    body = json.loads(Submission.objects.get(body__contains=str(counted[1][8].uid)).body)
    again, id_ = correction(body, lines=[line(counted[2][8], 17, dead_stem=3)])
    log.append_items(actor, [item(again, id=id_)])
    drain.work_through()
    assert not Case.objects.filter(kind="outlier").exists()


def test_after_a_correction_that_is_as_far_the_lead_is_asked_again(actor, counted):
    cases.settle_case(actor=actor, case=outlier(), choice="accept", reason="A frost hollow.")
    body = json.loads(Submission.objects.get(body__contains=str(counted[1][8].uid)).body)
    again, id_ = correction(body, lines=[line(counted[2][8], 0, dead_stem=20)])
    log.append_items(actor, [item(again, id=id_)])
    drain.work_through()
    assert (outlier().settled_seq, outlier().facts["alive"]) == (None, 0)


def test_settling_another_doubt_of_the_plot_leaves_it_standing(actor, counted):
    survey_round, plots, baselines = counted
    second = visit_body(
        plots[8], survey_round, [line(baselines[8], 2, dead_stem=18)], observed_on="2025-09-20"
    )
    log.append_items(actor, [item(second)])
    about_it = Case.objects.filter(plot=plots[8])
    assert set(about_it.values_list("kind", flat=True)) == {"outlier", "second_root"}


def test_a_destroyed_plot_is_explained(project, actor, nine_plots):
    plots, baselines = nine_plots
    survey_round = factories.survey_round(project, plots, closes_on=date(2026, 12, 31))
    for plot, baseline, alive in zip(plots, baselines, USUAL, strict=False):
        body = visit_body(plot, survey_round, [line(baseline, alive, dead_stem=20 - alive)])
        log.append_items(actor, [item(body)])
    log.append_items(actor, [item(visit_body(plots[8], survey_round, status="destroyed", reason="burnt"))])
    drain.work_through()
    assert not Case.objects.filter(kind="outlier").exists()


def test_rebuilding_makes_the_same_cases_with_the_same_decisions(actor, hill, counted):
    cases.settle_case(actor=actor, case=outlier(), choice="accept", reason="A frost hollow.")
    drain.work_through()
    digest = rebuild.derived_digest(hill)
    seen = list(Case.objects.values_list("uid", "facts", "settled_seq", "settled_as"))
    assert rebuild.rebuild(hill).digest == digest
    assert list(Case.objects.values_list("uid", "facts", "settled_seq", "settled_as")) == seen


# --- totals ---------------------------------------------------------------------------------
@pytest.fixture
def with_area(counted, block, hill):
    """The block holds 500 trees by the ledger; plots of 200 m² put some 800 on a hectare."""
    survey_round, plots, _baselines = counted
    for plot in plots:
        plot.area_m2 = 200
        plot.save()
    return survey_round


def set_area(block, area_ha):
    ground = BlockGround.objects.filter(block=block).order_by("-version").first()
    values = {"net_area_ha": area_ha, "gross_area_ha": area_ha}
    if ground is None:
        BlockGround.objects.create(
            organisation=block.organisation, block=block, version=1, valid_from=date(2024, 1, 1), **values
        )
    else:
        BlockGround.objects.filter(pk=ground.pk).update(**values)
    dirty.mark_block(block)
    drain.work_through()


def test_totals_that_disagree_open_a_case_of_the_round_and_close_it_when_they_agree(with_area, block):
    set_area(block, 5.0)
    case = Case.objects.get(kind="totals_disagree")
    assert (case.plot, case.round, case.facts["head"]) == (None, with_area, "area")
    assert case.facts["from_area"]["value"] > case.facts["from_ledger"]["upper"]
    planted = Estimate.objects.get(scope="project", measure="survival", is_headline=True)
    fitting = case.facts["from_ledger"]["value"] / (case.facts["from_area"]["value"] / 5.0)
    assert planted.value == pytest.approx(143 / 180)
    set_area(block, fitting)
    assert not Case.objects.filter(kind="totals_disagree").exists()


def test_an_explained_disagreement_stays_settled_until_the_other_side_is_higher(
    actor, with_area, block, hill
):
    set_area(block, 5.0)
    case = Case.objects.get(kind="totals_disagree")
    cases.settle_case(actor=actor, case=case, choice="accept", reason="The boundary takes in a meadow.")
    set_area(block, 4.0)
    assert Case.objects.get(kind="totals_disagree").settled_as == "accept"
    assert rebuild.rebuild(hill)
    assert Case.objects.get(kind="totals_disagree").settled_as == "accept"
    set_area(block, 0.05)
    assert Case.objects.get(kind="totals_disagree").settled_seq is None


def test_a_case_of_a_round_is_seen_by_its_project_only(with_area, block, hill, vera, olaf, project):
    set_area(block, 5.0)
    case = Case.objects.get(kind="totals_disagree")
    other = factories.project(hill, name="Another")
    stranger = factories.member(hill, "volunteer", email="sam@hill.example", projects=[other])
    seen = {member: access.member_actor(member) for member in (vera, stranger, olaf)}
    assert list(visible_cases(seen[vera]).filter(plot__isnull=True)) == [case]
    assert not visible_cases(seen[stranger]).exists()
    assert not visible_cases(seen[olaf]).exists()
