"""One second stage of a round: a number fixed once, drawn at once, never a third look."""

import pytest

from monitoring.calc.plot_frames import Plan
from monitoring.models import Estimate, PlotDraw, RoundPlot, SurveyRound, SurvivalPlot
from monitoring.services import drain, plot_draws, rounds, second_stage
from projects.errors import Refusal
from projects.models import BlockGround, HistoryEntry, Holding
from projects.services import log
from tests import factories
from tests.field_log.visits import item, line, visit_body
from tests.rounds.conftest import url

pytestmark = pytest.mark.django_db


@pytest.fixture
def open_question(actor, project, block, oak, cohort):
    """Six drawn plots of 20 trees, 17 alive in each but one, against 80 %: not settled after the check age."""
    BlockGround.objects.filter(block=block).update(geometry=factories.SQUARE)
    plan = Plan("balanced", 6, 0, 5, radius_m=5.64)
    made = plot_draws.lay_out(actor=actor, block=block, frame=factories.SQUARE, plan=plan, slope_percent=20)
    lines = [factories.baseline(plot, oak, 20, cohort=cohort) for plot in made.plots.order_by("draw_order")]
    season = factories.season(project.organisation, "reporting", year=2026)
    survey_round = rounds.open_round(
        actor=actor, project=project, blocks=[block], name="Autumn", season=season, opens_on=season.starts_on,
        closes_on=season.ends_on,
    )  # fmt: skip
    for baseline, alive in zip(lines, (17, 18, 15, 18, 17, 16), strict=True):
        body = visit_body(baseline.plot, survey_round, [line(baseline, alive, dead_stem=20 - alive)])
        log.append_items(actor, [item({**body, "observed_on": "2026-10-05"})])
    drain.work_through()
    return survey_round


def plan(page, survey_round, block, n, **typed):
    values = {f"n_{block.pk}": n, "method": "balanced", "n_spares": "1", **typed}
    return page.post(url("second_stage", uid=survey_round.uid), values)


def test_an_open_block_is_offered_a_stage_and_its_plots_join_the_round(page, open_question, block):
    text = page.get(url("round_detail", uid=open_question.uid)).content.decode()
    assert "Plan a second stage" in text
    offer = page.get(url("second_stage", uid=open_question.uid))
    text = offer.content.decode()
    assert "turns a promised risk of 5 % into about 14 %" in text
    assert "one and a half times what is promised" in text  # nobody fixed the number beforehand
    ((estimate, field),) = offer.context["form"].rows
    assert estimate.block == block and field.value() == estimate.more_plots > 0
    answer = plan(page, open_question, block, "9")
    assert answer.url == url("round_detail", uid=open_question.uid)
    open_question.refresh_from_db()
    made = PlotDraw.objects.get(stage=2)
    assert open_question.second_stage_plots == made.n_plots == 9
    added = made.plots.all()
    assert {(plot.stage, plot.radius_m, plot.slope_percent) for plot in added} == {(2, 5.64, 20.0)}
    assert RoundPlot.objects.filter(round=open_question, plot__in=added).count() == 9
    assert HistoryEntry.objects.filter(
        verb="round.second_stage_planned", subject_uid=open_question.uid
    ).exists()
    assert plot_draws.draw_again(made).is_same
    text = page.get(url("round_detail", uid=open_question.uid)).content.decode()
    assert "its one second stage: 9 further plots" in text and "Plan a second stage" not in text


def test_there_is_no_third_look(page, open_question, block):
    plan(page, open_question, block, "4")
    answer = plan(page, open_question, block, "4")
    assert SurvivalPlot.objects.filter(stage=2).count() == 4
    assert "There is no third look" in answer.content.decode()


def test_a_number_fixed_beforehand_is_kept_to(page, actor, open_question, block):
    open_question.second_stage_plots = 5
    open_question.save()
    text = page.get(url("second_stage", uid=open_question.uid)).content.decode()
    assert "5 further plots were fixed" in text and "one and a half times" not in text
    answer = plan(page, open_question, block, "6")
    assert answer.status_code == 422
    assert "5 further plots were fixed for this round beforehand; these are 6" in answer.content.decode()
    assert not PlotDraw.objects.filter(stage=2).exists()
    plan(page, open_question, block, "5")
    assert SurvivalPlot.objects.filter(stage=2).count() == 5


def test_no_number_and_wrong_numbers_are_answered_and_nothing_is_stored(page, open_question, block):
    answer = plan(page, open_question, block, "0")
    assert answer.status_code == 422 and "at least one block" in answer.content.decode()
    answer = plan(page, open_question, block, "some")
    assert answer.status_code == 422 and 'value="some"' in answer.content.decode()
    open_question.refresh_from_db()
    assert open_question.second_stage_plots == 0 and not PlotDraw.objects.filter(stage=2).exists()


def test_a_block_that_cannot_be_drawn_in_undoes_the_whole_stage(page, open_question, block):
    BlockGround.objects.filter(block=block).update(geometry=None)
    answer = plan(page, open_question, block, "4")
    assert answer.status_code == 422 and "no boundary yet" in answer.content.decode()
    open_question.refresh_from_db()
    assert open_question.second_stage_plots == 0


def test_a_later_round_that_takes_the_plots_over_may_have_a_stage_of_its_own(
    page, actor, open_question, block
):
    plan(page, open_question, block, "4")
    season = factories.season(open_question.organisation, "reporting", year=2027)
    later = rounds.open_round(
        actor=actor, project=open_question.project, blocks=[block], name="Next", season=season,
        opens_on=season.starts_on, closes_on=season.ends_on,
    )  # fmt: skip
    assert later.round_plots.filter(plot__stage=2).count() == 4
    assert not second_stage.stage_plots(later).exists()
    assert second_stage.stage_plots(open_question).count() == 4


def test_a_closed_round_and_a_settled_one_offer_none(page, actor, open_question, block):
    rounds.close_round(actor=actor, survey_round=open_question)
    assert "Plan a second stage" not in page.get(url("round_detail", uid=open_question.uid)).content.decode()
    assert plan(page, open_question, block, "4").status_code == 422


@pytest.fixture
def listed(actor, block, project):
    block.layout = "holdings"
    block.save()
    for number in range(12):
        Holding.objects.create(
            organisation=block.organisation, block=block, label=f"Farm {number}", trees_received=30 + number
        )
    made = plot_draws.lay_out(
        actor=actor, block=block, frame=plot_draws.holdings_frame(block, False), plan=Plan("list", 5, 0, 3),
        shape="holding",
    )  # fmt: skip
    season = factories.season(project.organisation, "reporting", year=2026)
    return made, rounds.open_round(
        actor=actor, project=project, blocks=[block], name="Autumn", season=season, opens_on=season.starts_on,
        closes_on=season.ends_on,
    )  # fmt: skip


def test_further_holdings_come_from_the_rest_of_the_list(actor, listed, block):
    first, survey_round = listed
    (more,) = second_stage.plan(actor=actor, survey_round=survey_round, further={block: 7}, method="balanced")
    names = [set(draw.plots.values_list("holding__label", flat=True)) for draw in (first, more)]
    assert len(names[0]) == 5 and len(names[1]) == 7 and not names[0] & names[1]


def test_further_holdings_cannot_follow_a_draw_by_trees(actor, listed, block):
    _first, survey_round = listed
    SurvivalPlot.objects.filter(block=block).update(plot_weight=1.5)
    with pytest.raises(Refusal, match="drawn by their trees"):
        second_stage.plan(actor=actor, survey_round=survey_round, further={block: 2}, method="balanced")


def test_further_runs_of_a_row_are_not_those_counted_already(actor, block, project):
    first = plot_draws.lay_out(
        actor=actor, block=block, frame=plot_draws.row_frame(200, 20), plan=Plan("list", 6, 0, 3), shape="row"
    )
    season = factories.season(project.organisation, "reporting", year=2026)
    survey_round = rounds.open_round(
        actor=actor, project=project, blocks=[block], name="Autumn", season=season, opens_on=season.starts_on,
        closes_on=season.ends_on,
    )  # fmt: skip
    (more,) = second_stage.plan(actor=actor, survey_round=survey_round, further={block: 4}, method="random")
    runs = sorted(point["first"] for draw in (first, more) for point in draw.points)
    assert runs == list(range(1, 200, 20))


def test_plots_laid_out_by_hand_in_a_row_cannot_be_added_to(actor, block, project, survey_round):
    SurvivalPlot.objects.filter(block=block).update(shape="row", radius_m=None, spots=20)
    with pytest.raises(Refusal, match="were not drawn here"):
        second_stage.plan(actor=actor, survey_round=survey_round, further={block: 2}, method="random")


def figure_of(survey_round, block):
    return Estimate.objects.get(
        round=survey_round, block=block, scope="block", measure="survival", is_headline=True
    )


def test_a_round_with_a_second_stage_splits_the_risk_between_its_looks(page, actor, open_question, block):
    words = "each of its two looks is held to half of that risk"
    once = figure_of(open_question, block)
    assert words not in page.get(url("round_detail", uid=open_question.uid)).content.decode()
    assert "looks" not in once.facts
    second_stage.plan(actor=actor, survey_round=open_question, further={block: 4}, method="balanced")
    drain.work_through()
    twice = figure_of(open_question, block)
    assert twice.facts["looks"] == 2
    assert (twice.value, twice.lower, twice.upper) == (once.value, once.lower, once.upper)
    assert (
        twice.lower_one_sided == once.lower_claim < once.lower_one_sided
    )  # 90 % became the 95 % of one look
    assert twice.upper_one_sided == once.upper_claim > once.upper_one_sided
    assert twice.lower_claim == once.lower and twice.upper_claim == once.upper  # and 95 % became 97.5 %
    assert twice.more_plots > once.more_plots
    assert twice.input_digest != once.input_digest
    assert words in page.get(url("round_detail", uid=open_question.uid)).content.decode()


def test_a_second_stage_is_planned_when_the_round_is_opened(page, project, block):
    season = factories.season(project.organisation, "reporting", year=2026)
    typed = {
        "project": project.pk, "name": "Autumn", "season": season.pk, "opens_on": season.starts_on,
        "closes_on": season.ends_on, "protocol": "1", "blocks": [block.pk],
    }  # fmt: skip
    assert page.post(url("round_new"), typed | {"second_stage_plots": "-4"}).status_code == 422
    page.post(url("round_new"), typed | {"second_stage_plots": "12"})
    made = SurveyRound.objects.get(name="Autumn")
    assert made.second_stage_plots == 12
    page.post(url("round_new"), typed | {"name": "Spring", "second_stage_plots": ""})
    assert SurveyRound.objects.get(name="Spring").second_stage_plots == 0
    form = page.get(url("round_edit", uid=made.uid)).context["form"]
    assert "second_stage_plots" not in form.fields
    page.post(
        url("round_edit", uid=made.uid),
        typed | {"version": form.initial["version"], "second_stage_plots": "99"},
    )
    made.refresh_from_db()
    assert made.second_stage_plots == 12
