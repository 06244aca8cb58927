"""Plot cards: what stands on them, the code that opens the phone form, and who may print them."""

import base64
import re

import pytest
import segno
from django.urls import reverse

from monitoring.calc.plot_frames import Plan
from monitoring.models import RoundBlock, RoundPlot
from monitoring.services import plot_draws, rounds
from projects.models import BlockGround, Holding
from tests import factories
from tests.rounds.conftest import url

pytestmark = pytest.mark.django_db


@pytest.fixture
def drawn(actor, block, site):
    BlockGround.objects.filter(block=block).update(geometry=factories.SQUARE)
    site.emergency_contact = "Valley post 112"
    site.save()
    plan = Plan("random", 30, 0, 3, radius_m=8.0)
    return plot_draws.lay_out(actor=actor, block=block, frame=factories.SQUARE, plan=plan, slope_percent=40)


def cards_of(answer):
    return {row["card"].plot.name: row["card"] for row in answer.context["cards"]}


def text_of(answer, name):
    """One card as it reads."""
    parts = answer.content.decode().split('<article class="plot-card">')[1:]
    text = next(part for part in parts if f"<h2>{name}</h2>" in part).split("</article>")[0]
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text))


def test_a_card_says_where_the_plot_is_how_wide_and_whom_to_call(page, drawn, block, oak):
    plot = drawn.plots.get(draw_order=1)
    factories.baseline(plot, oak, 21)
    answer = page.get(url("draw_cards", uid=drawn.uid))
    text = text_of(answer, plot.name)
    assert block.name in text and block.site.name in text
    assert f"{plot.latitude:.6f}, {plot.longitude:.6f}" in text
    # 8 m × √√(1 + 0.4²) = 8.30 m, not 8 × √(1 + 0.4²) = 8.62 m
    assert "8.00 m held level" in text
    assert "8.30 m laid along the ground" in text
    assert "Quercus robur 21" in text and "Valley post 112" in text
    assert "Take this card home again" in text


def test_a_card_of_a_level_plot_gives_one_radius(page, drawn):
    drawn.plots.update(slope_percent=None)
    text = text_of(page.get(url("draw_cards", uid=drawn.uid)), "NS-01")
    assert "held level" in text and "laid along the ground" not in text


def test_a_plot_over_the_border_says_how_much_is_inside_and_what_to_count(page, drawn):
    shares = {point["order"]: point["share_inside"] for point in drawn.points}
    cut = next(plot for plot in drawn.plots.all() if shares[plot.draw_order] < 0.9)
    whole = next(plot for plot in drawn.plots.all() if shares[plot.draw_order] == 1)
    answer = page.get(url("draw_cards", uid=drawn.uid))
    assert f"{shares[cut.draw_order] * 100:.0f} % of it is inside" in text_of(answer, cut.name)
    assert "of it is inside" not in text_of(answer, whole.name)


def test_the_code_opens_the_phone_form_at_that_plot_in_that_round(page, survey_round, plots):
    answer = page.get(url("round_cards", uid=survey_round.uid))
    cards = cards_of(answer)
    assert sorted(cards) == ["N1", "N2", "N3"]
    address = f"http://testserver{reverse('phone:shell')}#/plot/{survey_round.uid}/{plots[0].uid}"
    expected = segno.make(address, error="m").svg_data_uri(dark="#000", scale=2, border=2)
    assert cards["N1"].qr == expected
    assert len({card.qr for card in cards.values()}) == 3
    assert expected.replace("'", "&#x27;") in answer.content.decode() or expected in answer.content.decode()


def test_a_draw_nobody_counts_yet_has_no_code_and_says_why(page, drawn, survey_round):
    answer = page.get(url("draw_cards", uid=drawn.uid))
    assert not any(card.qr for card in cards_of(answer).values())
    assert "no open round wants this plot yet" in text_of(answer, "NS-01")


def test_a_draw_that_joined_a_round_leads_to_it(page, actor, drawn, survey_round):
    rounds.join(survey_round, list(drawn.plots.all()))
    cards = cards_of(page.get(url("draw_cards", uid=drawn.uid)))
    assert {card.survey_round for card in cards.values()} == {survey_round}
    rounds.close_round(actor=actor, survey_round=survey_round)
    assert {card.qr for card in cards_of(page.get(url("draw_cards", uid=drawn.uid))).values()} == {""}


def test_cards_of_a_round_are_its_plots_in_use_and_of_one_block_when_asked(
    page, hill, project, site, survey_round
):
    other = factories.block(hill, project, site, name="South slope")
    plot, gone = factories.plot(other, "S1"), factories.plot(other, "S2", retired_at="2026-01-01T00:00Z")
    RoundBlock.objects.create(organisation=hill, round=survey_round, block=other)
    for each in (plot, gone):
        RoundPlot.objects.create(organisation=hill, round=survey_round, plot=each)
    assert sorted(cards_of(page.get(url("round_cards", uid=survey_round.uid)))) == ["N1", "N2", "N3", "S1"]
    chosen = page.get(url("round_cards", uid=survey_round.uid), {"block": str(other.uid)})
    assert list(cards_of(chosen)) == ["S1"]
    assert f'<option value="{other.uid}" selected>' in chosen.content.decode()


def test_holdings_and_rows_say_what_they_are(page, hill, block, survey_round):
    farm = Holding.objects.create(organisation=hill, block=block, label="Farm <7>", trees_received=40)
    plots = [
        factories.plot(block, "H1", shape="holding", holding=farm, radius_m=None),
        factories.plot(block, "R1", shape="row", spots=20, radius_m=None, directions="spots 41 to 60"),
    ]
    for plot in plots:
        RoundPlot.objects.create(organisation=hill, round=survey_round, plot=plot)
    answer = page.get(url("round_cards", uid=survey_round.uid))
    assert "Farm &lt;7&gt;" in text_of(answer, "H1")
    assert "20 planting spots" in text_of(answer, "R1") and "spots 41 to 60" in text_of(answer, "R1")


def test_those_who_tend_are_given_no_cards(signed_in, vera, fred, drawn, survey_round):
    for member in (vera, fred):
        client = signed_in(member)
        assert client.get(url("round_cards", uid=survey_round.uid)).status_code == 403
        assert client.get(url("draw_cards", uid=drawn.uid)).status_code == 403


def test_the_codes_are_black_on_white_pictures_of_this_page_alone(page, survey_round):
    card = cards_of(page.get(url("round_cards", uid=survey_round.uid)))["N1"]
    assert card.qr.startswith("data:image/svg+xml")
    assert (
        "#000" in card.qr or "%23000" in card.qr or b"#000" in base64.b64decode(card.qr.split(",")[-1] + "==")
    )
