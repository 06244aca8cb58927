"""Plots drawn from a seed: looked at first, laid out once, drawn again the same, spares taken up by the rule."""

import math

import pytest
from django.urls import reverse

from monitoring.calc.drawn_again import differences
from monitoring.calc.plot_frames import Plan, draw
from monitoring.calc.plot_names import next_names
from monitoring.calc.row_segments import segments_of
from monitoring.models import PlotDraw, RoundPlot, SurvivalPlot, Visit
from monitoring.services import plot_draws, plots, rounds, spares
from projects.errors import Refusal
from projects.models import BlockGround, HistoryEntry, Holding
from tests import factories
from tests.rounds.conftest import url

pytestmark = pytest.mark.django_db

CIRCLES = {
    "shape": "circle", "method": "balanced", "n_plots": "6", "n_spares": "2", "radius_m": "5,64",
    "border_rule": "clip", "seed": "11", "is_permanent": "on",
}  # fmt: skip
PLAN = Plan("balanced", 6, 2, 11, radius_m=5.64)


@pytest.fixture
def ground(block):
    """The block with a boundary of about 142 m by 111 m."""
    BlockGround.objects.filter(block=block).update(geometry=factories.SQUARE)
    return block


@pytest.fixture
def laid_out(actor, ground):
    return plot_draws.lay_out(actor=actor, block=ground, frame=plot_draws.ground_frame(ground), plan=PLAN)


def test_plots_larger_together_than_the_block_are_refused_at_their_radius(page, ground):
    """Six circles of 28 m are 14,800 m²; the ground has about 15,800. Of 30 m, 17,000."""
    address = url("plot_draw_new", uid=ground.uid)
    assert page.get(address, {**CIRCLES, "radius_m": "28"}).status_code == 200
    answer = page.post(address, {**CIRCLES, "radius_m": "30"})
    assert answer.status_code == 422
    assert "these plots together are larger than the block" in answer.content.decode().lower()
    assert not PlotDraw.objects.exists()


# --- looking and laying out ---------------------------------------------------------------------
def test_looking_stores_nothing_and_laying_out_makes_the_points_that_were_shown(page, ground):
    shown = page.get(url("plot_draw_new", uid=ground.uid), CIRCLES)
    assert shown.status_code == 200
    assert not PlotDraw.objects.exists() and not SurvivalPlot.objects.exists()
    seen = [row.where for row in shown.context["preview"]["rows"]]
    answer = page.post(url("plot_draw_new", uid=ground.uid), CIRCLES)
    made = PlotDraw.objects.get()
    assert answer.url == url("plot_draw_detail", uid=made.uid)
    assert [f"{p['latitude']:.5f}, {p['longitude']:.5f}" for p in made.points] == seen
    laid = list(SurvivalPlot.objects.order_by("draw_order"))
    assert [plot.name for plot in laid] == ["NS-01", "NS-02", "NS-03", "NS-04", "NS-05", "NS-06"]
    assert [(plot.latitude, plot.longitude) for plot in laid] == [
        (point["latitude"], point["longitude"]) for point in made.points[:6]
    ]
    assert {(plot.seed, plot.selection_method, plot.draw_id) for plot in laid} == {(11, "balanced", made.pk)}
    assert HistoryEntry.objects.filter(verb="plot_draw.laid_out", subject_uid=made.uid).exists()
    assert HistoryEntry.objects.filter(verb="plot.made").count() == 6


def test_a_look_without_a_seed_leads_to_an_address_that_shows_the_same_again(page, ground):
    address = url("plot_draw_new", uid=ground.uid)
    answer = page.get(address, {**CIRCLES, "seed": ""})
    assert answer.status_code == 302
    assert "seed=&" not in answer.url and "radius_m=5%2C64" in answer.url
    first, second = page.get(answer.url), page.get(answer.url)
    places = [[row.where for row in each.context["preview"]["rows"]] for each in (first, second)]
    assert places[0] == places[1]
    other = page.get(page.get(address, {**CIRCLES, "seed": ""}).url)
    assert [row.where for row in other.context["preview"]["rows"]] != places[0]


def test_names_count_on_from_those_the_block_has(actor, ground, plots):
    made = plot_draws.lay_out(actor=actor, block=ground, frame=factories.SQUARE, plan=PLAN)
    assert [plot.name for plot in made.plots.order_by("draw_order")] == ["N4", "N5", "N6", "N7", "N8", "N9"]


def test_given_up_names_are_not_given_again():
    assert next_names(["N1", "N2", "N10", "Oak corner"], "North", 2) == ["N11", "N12"]
    assert next_names(["A1", "B1", "B2"], "North", 1) == ["B3"]


def test_a_plot_over_the_border_keeps_the_area_inside_also_after_a_correction(actor, ground):
    plan = Plan("random", 40, 0, 3, radius_m=8.0)
    made = plot_draws.lay_out(actor=actor, block=ground, frame=factories.SQUARE, plan=plan)
    shares = {point["order"]: point["share_inside"] for point in made.points}
    cut = next(plot for plot in made.plots.all() if shares[plot.draw_order] < 0.9)
    assert cut.area_m2 == round(math.pi * 64 * shares[cut.draw_order], 2)
    plots.edit_plot(actor=actor, plot=cut, directions="by the wall")
    cut.refresh_from_db()
    assert cut.directions == "by the wall"
    assert cut.area_m2 == round(math.pi * 64 * shares[cut.draw_order], 2)


def test_a_buffer_is_told_before_and_after_and_beside_the_figures(page, ground, actor, project):
    asked = {**CIRCLES, "border_rule": "buffer", "buffer_m": "10"}
    text = page.get(url("plot_draw_new", uid=ground.uid), asked).content.decode()
    assert "lies in the buffer and is not covered" in text
    page.post(url("plot_draw_new", uid=ground.uid), asked)
    made = PlotDraw.objects.get()
    # (142 − 20) m × (111 − 20) m of 142 m × 111 m are left: about 30 % is not covered.
    assert made.share_not_covered == pytest.approx(
        1 - (141.7 - 20) * (111.0 - 20) / (141.7 * 111.0), abs=0.01
    )
    season = factories.season(ground.organisation, "reporting", year=2026)
    survey_round = rounds.open_round(
        actor=actor, project=project, blocks=[ground], name="Autumn", season=season,
        opens_on=season.starts_on, closes_on=season.ends_on,
    )  # fmt: skip
    answer = page.get(url("round_detail", uid=survey_round.uid))
    assert answer.context["not_covered"] == {str(ground.uid): made.share_not_covered}


def test_a_buffer_without_a_width_or_without_ground_left_is_answered_at_its_field(page, ground):
    address = url("plot_draw_new", uid=ground.uid)
    answer = page.get(address, {**CIRCLES, "border_rule": "buffer"})
    assert answer.status_code == 422 and "Write how wide the buffer is." in answer.content.decode()
    answer = page.get(address, {**CIRCLES, "border_rule": "buffer", "buffer_m": "90"})
    assert answer.status_code == 422
    assert answer.context["form"].errors["buffer_m"]
    assert 'value="5,64"' in answer.content.decode()
    assert page.post(address, {**CIRCLES, "border_rule": "buffer", "buffer_m": "90"}).status_code == 422
    assert not PlotDraw.objects.exists()


def test_a_block_without_a_boundary_says_how_to_draw_one(page, block):
    answer = page.get(url("plot_draw_new", uid=block.uid))
    assert "Draw the ground" in answer.content.decode()
    assert page.post(url("plot_draw_new", uid=block.uid), CIRCLES).status_code == 422
    assert not SurvivalPlot.objects.exists()


# --- drawing again ------------------------------------------------------------------------------
def test_draw_again_says_the_same_points(page, laid_out):
    text = page.get(url("plot_draw_detail", uid=laid_out.uid), {"again": "1"}).content.decode()
    assert "The same 8 points" in text


def test_draw_again_names_each_point_that_differs(page, laid_out):
    laid_out.points[2]["latitude"] += 0.0001
    laid_out.points[4]["spare"] = True
    laid_out.save()
    again = plot_draws.draw_again(laid_out)
    assert [row.order for row in again.differences] == [3, 5]
    assert again.differences[0].apart_m == pytest.approx(11.1, abs=0.1)
    text = page.get(url("plot_draw_detail", uid=laid_out.uid), {"again": "1"}).content.decode()
    assert "Point 3: 11.10 m apart" in text and "Not the same." in text


def test_draw_again_works_from_the_stored_ground_not_from_todays(laid_out):
    BlockGround.objects.filter(block=laid_out.block).update(geometry=None)
    assert plot_draws.draw_again(laid_out).is_same


def test_another_ground_another_seed_or_a_point_too_few_is_noticed(laid_out):
    laid_out.seed += 1
    assert len(plot_draws.draw_again(laid_out).differences) == 8
    laid_out.seed -= 1
    laid_out.points = laid_out.points[:-1]
    assert [row.stored for row in plot_draws.draw_again(laid_out).differences] == [None]
    laid_out.points = list(draw(laid_out.frame, PLAN).points)
    laid_out.frame_sha256 = "0" * 64
    assert not plot_draws.draw_again(laid_out).is_same


def test_points_within_a_centimetre_are_the_same():
    here = {"order": 1, "latitude": 40.0, "longitude": -7.0, "spare": False}
    assert differences([here], [here | {"latitude": 40.00000005}]) == []
    assert len(differences([here], [here | {"latitude": 40.0000002}])) == 1


# --- lists, rows, whole blocks ------------------------------------------------------------------
@pytest.fixture
def farms(block):
    block.layout = "holdings"
    block.save()
    sizes = [10, 20, 30, 40, 50, 60, 70, 80, 90, 400]
    for number, trees in enumerate(sizes):
        Holding.objects.create(
            organisation=block.organisation, block=block, label=f"Farm {number}", trees_received=trees,
            latitude=40 + number / 1000, longitude=-7,
        )  # fmt: skip
    return block


def test_holdings_are_drawn_with_equal_chance_and_without_weights(page, farms):
    asked = {"shape": "holding", "chance": "equal", "n_plots": "4", "n_spares": "2", "seed": "5"}
    page.post(url("plot_draw_new", uid=farms.uid), asked)
    made = PlotDraw.objects.get()
    laid = list(made.plots.select_related("holding").order_by("draw_order"))
    assert [plot.holding.label for plot in laid] == [point["label"] for point in made.points[:4]]
    assert {(plot.shape, plot.selection_method, plot.plot_weight) for plot in laid} == {
        ("holding", "list", None)
    }
    assert plot_draws.draw_again(made).is_same


def test_holdings_drawn_by_their_trees_weigh_by_one_over_their_chance(page, farms):
    asked = {"shape": "holding", "chance": "by_trees", "n_plots": "3", "n_spares": "0", "seed": "5"}
    page.post(url("plot_draw_new", uid=farms.uid), asked)
    laid = list(SurvivalPlot.objects.select_related("holding"))
    # 850 trees and three draws: the farm of 400 is certain, the others have the chance 2 × trees / 450.
    chances = {plot: min(1, 2 * plot.holding.trees_received / 450) for plot in laid}
    biggest = max(laid, key=lambda plot: plot.holding.trees_received)
    assert biggest.holding.trees_received == 400 and biggest.plot_weight is None
    for plot in laid:
        assert (plot.plot_weight or 1.0) == pytest.approx(chances[biggest] / chances[plot])


def test_a_short_list_is_answered_with_how_many_it_holds(page, farms):
    asked = {"shape": "holding", "chance": "equal", "n_plots": "9", "n_spares": "2", "seed": "5"}
    answer = page.get(url("plot_draw_new", uid=farms.uid), asked)
    assert answer.status_code == 422
    assert "There are only 10 to draw from" in answer.content.decode()


def test_an_empty_list_teaches_the_next_step(page, block):
    block.layout = "holdings"
    block.save()
    assert "Add a holding" in page.get(url("plot_draw_new", uid=block.uid)).content.decode()


def test_runs_of_a_row_hold_every_spot_once_and_say_where_they_are(page, block):
    runs = segments_of(2013, 20)
    assert [spot for run in runs for spot in range(run.first, run.last + 1)] == list(range(1, 2014))
    asked = {
        "shape": "row",
        "spots": "2013",
        "spots_per_plot": "20",
        "n_plots": "5",
        "n_spares": "1",
        "seed": "3",
    }
    page.post(url("plot_draw_new", uid=block.uid), asked)
    made = PlotDraw.objects.get()
    for plot, point in zip(made.plots.order_by("draw_order"), made.points[:5], strict=True):
        assert plot.shape == "row" and plot.spots == point["last"] - point["first"] + 1
        assert f"spots {point['first']} to {point['last']}" in plot.directions
        assert plot.area_m2 == plot.spots * 5.0  # 2.5 m between rows, 2 m in the row
    assert plot_draws.draw_again(made).is_same


def test_a_block_is_counted_whole_or_sampled_never_both(page, block):
    address = url("plot_draw_new", uid=block.uid)
    page.post(address, {"shape": "whole_block"})
    assert SurvivalPlot.objects.get().shape == "whole_block"
    page.post(address, {"shape": "whole_block"})
    assert SurvivalPlot.objects.count() == 1
    assert "Give it up first" in page.get(address, {"shape": "whole_block"}).content.decode()


def test_bad_input_is_answered_beside_its_field(page, ground):
    typed = {**CIRCLES, "n_plots": "many", "radius_m": "0.1"}
    answer = page.get(url("plot_draw_new", uid=ground.uid), typed)
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "Write a whole number in digits" in text and 'value="many"' in text
    assert set(answer.context["form"].errors) == {"n_plots", "radius_m"}


# --- plots that cannot be reached ---------------------------------------------------------------
@pytest.fixture
def open_round(actor, laid_out, project):
    season = factories.season(project.organisation, "reporting", year=2026)
    return rounds.open_round(
        actor=actor, project=project, blocks=[laid_out.block], name="Autumn", season=season,
        opens_on="2026-09-01", closes_on="2026-12-31",
    )  # fmt: skip


def unreachable(page, plot, survey_round, **typed):
    values = {"survey_round": survey_round.pk, "reason": "not_reached", "observed_on": "2026-09-10", **typed}
    return page.post(url("plot_unreachable", uid=plot.uid), values)


def test_the_next_spare_in_order_stands_in_and_the_plot_stays_missing(page, laid_out, open_round):
    first, second = laid_out.plots.order_by("draw_order")[:2]
    assert "take the next spare" in page.get(url("plot_detail", uid=first.uid)).content.decode()
    unreachable(page, first, open_round)
    unreachable(page, second, open_round)
    spare, other = SurvivalPlot.objects.filter(stands_for__isnull=False).order_by("draw_order")
    assert (spare.draw_order, spare.stands_for, spare.name) == (7, first, "NS-07")
    assert (other.draw_order, other.stands_for) == (8, second)
    visit = Visit.objects.get(plot=first, round=open_round, is_counting=True)
    assert (visit.status, visit.reason) == ("missing", "not_reached")
    held = RoundPlot.objects.filter(round=open_round).values_list("plot_id", flat=True)
    assert {first.pk, spare.pk, other.pk} <= set(held) and len(held) == 8
    text = page.get(url("round_detail", uid=open_round.uid)).content.decode()
    assert "2 could not be counted" in text and "2 spares stand in" in text and "stands for NS-01" in text


def test_no_third_spare_where_two_were_drawn(page, laid_out, open_round):
    plots_ = list(laid_out.plots.order_by("draw_order"))
    for plot in plots_[:2]:
        unreachable(page, plot, open_round)
    assert "take the next spare" not in page.get(url("plot_detail", uid=plots_[2].uid)).content.decode()
    answer = page.post(
        url("plot_unreachable", uid=plots_[2].uid),
        {"survey_round": open_round.pk, "reason": "unsafe", "observed_on": "2026-09-10"},
        follow=True,
    )
    assert "No spare is left in this draw" in answer.content.decode()
    assert not Visit.objects.filter(plot=plots_[2]).exists()


def test_a_spare_that_cannot_be_reached_is_stood_in_for_too(page, laid_out, open_round):
    first = laid_out.plots.get(draw_order=1)
    unreachable(page, first, open_round)
    spare = SurvivalPlot.objects.get(stands_for=first)
    unreachable(page, spare, open_round)
    assert SurvivalPlot.objects.get(stands_for=spare).draw_order == 8


def test_a_plot_that_was_seen_is_never_exchanged(actor, laid_out, open_round):
    plot = laid_out.plots.get(draw_order=1)
    visited = {"actor": actor, "plot": plot, "survey_round": open_round, "observed_on": open_round.opens_on}
    spares.report_missing(actor, plot, open_round, "unsafe", open_round.opens_on)
    Visit.objects.filter(plot=plot).update(status="counted", reason="")
    with pytest.raises(Refusal, match="never exchanged"):
        spares.take_next_spare(reason="unsafe", **visited)
    assert not SurvivalPlot.objects.filter(stands_for=plot).exists()


def test_one_spare_for_one_plot_and_none_without_a_reason(actor, laid_out, open_round, page):
    plot = laid_out.plots.get(draw_order=1)
    unreachable(page, plot, open_round, reason="too lazy")
    assert not SurvivalPlot.objects.filter(stands_for=plot).exists()
    unreachable(page, plot, open_round)
    unreachable(page, plot, open_round)
    assert SurvivalPlot.objects.filter(stands_for=plot).count() == 1


def test_a_plot_drawn_by_hand_or_in_a_closed_round_has_no_spare(actor, laid_out, open_round):
    plot = factories.plot(laid_out.block)
    asked = {"actor": actor, "reason": "unsafe", "observed_on": open_round.opens_on}
    with pytest.raises(Refusal, match="not drawn with spares"):
        spares.take_next_spare(plot=plot, survey_round=open_round, **asked)
    rounds.close_round(actor=actor, survey_round=open_round)
    open_round.refresh_from_db()
    with pytest.raises(Refusal, match="closed"):
        spares.take_next_spare(plot=laid_out.plots.get(draw_order=1), survey_round=open_round, **asked)


# Before any round: plots are laid out and their trees counted in, and one of them cannot be reached.
def test_a_spare_is_taken_up_before_any_round_wants_the_plot(page, laid_out, project, actor):
    plot = laid_out.plots.get(draw_order=1)
    asked = page.get(url("plot_detail", uid=plot.uid)).content.decode()
    assert "No open round wants this plot yet" in asked and 'name="survey_round"' not in asked
    page.post(url("plot_unreachable", uid=plot.uid), {"reason": "unsafe", "observed_on": "2026-03-10"})
    spare = SurvivalPlot.objects.get(stands_for=plot)
    assert spare.draw_order == 7 and not Visit.objects.filter(plot=plot).exists()
    entry = HistoryEntry.objects.get(verb="plot.stood_in_for", subject_uid=plot.uid)
    assert (entry.reason, entry.change["tried_on"]) == ("unsafe", [None, "2026-03-10"])
    season = factories.season(project.organisation, "reporting", year=2026)
    later = rounds.open_round(
        actor=actor, project=project, blocks=[laid_out.block], name="Autumn", season=season,
        opens_on="2026-09-01", closes_on="2026-12-31",
    )  # fmt: skip
    held = set(RoundPlot.objects.filter(round=later).values_list("plot_id", flat=True))
    assert {plot.pk, spare.pk} <= held


def test_without_a_round_no_plot_is_exchanged_that_somebody_reached(actor, laid_out, page, oak):
    plot = laid_out.plots.get(draw_order=1)
    factories.baseline(plot, oak)
    assert "take the next spare" not in page.get(url("plot_detail", uid=plot.uid)).content.decode()
    with pytest.raises(Refusal, match="was reached before"):
        spares.take_next_spare(actor=actor, plot=plot, reason="unsafe", observed_on="2026-03-10")
    assert not SurvivalPlot.objects.filter(stands_for=plot).exists()


def test_a_round_that_wants_the_plot_has_to_be_told(actor, laid_out, open_round):
    plot = laid_out.plots.get(draw_order=1)
    with pytest.raises(Refusal, match="Choose the round"):
        spares.take_next_spare(actor=actor, plot=plot, reason="unsafe", observed_on=open_round.opens_on)
    assert not SurvivalPlot.objects.filter(stands_for=plot).exists()


def test_a_volunteer_sees_no_draw_and_takes_no_spare(signed_in, vera, laid_out, open_round):
    client, plot = signed_in(vera), laid_out.plots.get(draw_order=1)
    assert client.get(url("plot_draw_detail", uid=laid_out.uid)).status_code == 403
    assert client.get(url("round_cards", uid=open_round.uid)).status_code == 403
    assert "take the next spare" not in client.get(url("plot_detail", uid=plot.uid)).content.decode()
    block_page = client.get(
        reverse("projects:block_detail", kwargs={"org": "hill", "uid": laid_out.block.uid})
    )
    assert f"{plot.latitude:.4f}" not in block_page.content.decode()


def test_the_draw_page_asks_a_constant_number_of_questions(
    page, actor, ground, django_assert_max_num_queries
):
    counts = []
    for n in (3, 30):
        made = plot_draws.lay_out(
            actor=actor, block=ground, frame=factories.SQUARE, plan=Plan("random", n, 1, n, 4.0)
        )
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        with CaptureQueriesContext(connection) as asked:
            page.get(url("plot_draw_detail", uid=made.uid))
        counts.append(len(asked))
    assert counts[0] == counts[1]
