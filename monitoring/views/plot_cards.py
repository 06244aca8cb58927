"""Plot cards to print: of a round or of a draw, several to a sheet, each with a code that opens the phone form."""

from collections.abc import Sequence
from typing import Any
from uuid import UUID

import segno
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from monitoring import access, design_words
from monitoring.selectors import plot_cards, rounds
from monitoring.selectors.plot_cards import PlotCard
from projects.paging import page
from projects.views.saving import crumb


@require_GET
def round_cards(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Cards of a round's plots, sixty at a time, of one block with ?block=."""
    survey_round = access.round_for(request.actor, uid, "plot.edit")
    rows = plot_cards.wanted(survey_round)
    blocks = list(rounds.blocks_of_round(survey_round))
    chosen = next((block for block in blocks if str(block.uid) == request.GET.get("block")), None)
    found = page(rows.filter(plot__block=chosen) if chosen else rows, request, plot_cards.IN_ORDER, size=60)
    plots = [row.plot for row in found.rows]
    context: dict[str, Any] = {
        "found": found,
        "blocks": blocks,
        "chosen_block": chosen,
        "of": survey_round.name,
        "crumbs": [crumb(request, survey_round.name, "monitoring:round_detail", uid=uid)],
    }
    return printed(request, plot_cards.cards(plots, {plot.pk: survey_round for plot in plots}), context)


@require_GET
def draw_cards(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Cards of the plots of one draw; the code leads to the open round that wants them, if there is one."""
    draw = access.draw_for(request.actor, uid)
    plots = plot_cards.plots_of_draw(draw)
    context = {
        "of": draw.block.name,
        "crumbs": [crumb(request, _("How they were drawn"), "monitoring:plot_draw_detail", uid=uid)],
    }
    return printed(request, plot_cards.cards(plots, plot_cards.open_rounds(plots)), context)


def printed(request: HttpRequest, cards: Sequence[PlotCard], context: dict[str, Any]) -> HttpResponse:
    """Draw the codes, then the page."""
    start = request.build_absolute_uri(reverse("phone:shell"))
    units = request.actor.organisation.units
    shown = []
    for card in cards:
        if card.survey_round is not None:
            address = f"{start}#/plot/{card.survey_round.uid}/{card.plot.uid}"
            card.qr = segno.make(address, error="m").svg_data_uri(dark="#000", scale=2, border=2)
        shown.append({"card": card, "radii": radii(card, units)})
    return render(request, "monitoring/plot_cards.html", {**context, "cards": shown})


def radii(card: PlotCard, units: str) -> dict[str, str]:
    """The radius held level, and the one along the ground where the plot lies on a slope."""
    level, along = card.plot.radius_m, card.radius_on_slope_m
    return {
        "level": design_words.radius(level, units) if level else "",
        "along": design_words.radius(along, units) if along else "",
    }
