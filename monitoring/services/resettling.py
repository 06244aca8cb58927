"""Settle plots again when what their visits are held against changes: a round's dates and plots, planting days.

Flags are worked out when a record arrives; without this they would say what was true then.
"""

from datetime import date

from django.db.models import Max, Q, QuerySet

from monitoring.models import SurveyRound, SurvivalPlot, Visit
from monitoring.services import settling
from projects.models import Block, Organisation, PlantingDay
from projects.services import chain


def hold_the_log(organisation: Organisation) -> None:
    """Let no record in until the transaction ends; to be called before anything else is locked."""
    chain.locked_head(organisation)


def after_round_changed(survey_round: SurveyRound, closed_on: date) -> None:
    """Settle the plots whose visits are late by the old or the new closing day, or doubted already."""
    first = min(closed_on, survey_round.closes_on)
    heads = Visit.objects.filter(round=survey_round, is_head=True)
    settle_plots_of(heads.filter(Q(observed_on__gt=first) | Q(n_flags__gt=0)))


def after_planting_changed(block: Block) -> None:
    """Settle the plots whose visits lie before the last planting day, or are doubted already."""
    hold_the_log(block.organisation)
    last = PlantingDay.objects.filter(block=block).aggregate(last=Max("planted_on"))["last"]
    heads = Visit.objects.filter(plot__block=block, is_head=True)
    settle_plots_of(heads.filter(Q(observed_on__lt=last or date.min) | Q(n_flags__gt=0)))


def settle_plots_of(visits: QuerySet[Visit]) -> None:
    """Settle the plots of some visits and mark what changed."""
    plots = SurvivalPlot.objects.filter(pk__in=visits.order_by().values("plot_id"))
    for plot in plots.select_related("block__site").order_by("id"):
        settling.mark_touched(settling.settle_plot(plot))
