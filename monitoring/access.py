"""The only ways to plots, rounds, cases and results: one queryset and one getter per concept."""

from uuid import UUID

from django.db.models import Q, QuerySet

from monitoring import models
from projects.access import Actor, get_or_404, in_visible_projects, visible_field_passes
from projects.models import Organisation, RefusedItem, ShareLink
from species.models import Species


def visible_species(organisation: Organisation) -> QuerySet[Species]:
    """The shared reference and the organisation's own species."""
    return Species.objects.filter(
        Q(owner_organisation_uid__isnull=True) | Q(owner_organisation_uid=organisation.uid)
    )


def visible_plots(actor: Actor) -> QuerySet[models.SurvivalPlot]:
    return in_visible_projects(actor, models.SurvivalPlot.objects.all(), "block__project_id")


def plot_for(actor: Actor, uid: UUID, verb: str = "plot.view") -> models.SurvivalPlot:
    related = ("block__site", "block__project", "draw", "stands_for")
    plot = get_or_404(visible_plots(actor).select_related(*related), uid=uid)
    actor.require(verb)
    return plot


def visible_draws(actor: Actor) -> QuerySet[models.PlotDraw]:
    return in_visible_projects(actor, models.PlotDraw.objects.all(), "block__project_id")


def draw_for(actor: Actor, uid: UUID, verb: str = "plot.edit") -> models.PlotDraw:
    """A draw shows where plots lie, so only those who lay them out see it."""
    row = get_or_404(
        visible_draws(actor).select_related("block__site", "block__project", "drawn_by"), uid=uid
    )
    actor.require(verb)
    return row


def visible_rounds(actor: Actor) -> QuerySet[models.SurveyRound]:
    return in_visible_projects(actor, models.SurveyRound.objects.all())


def round_for(actor: Actor, uid: UUID, verb: str = "round.view") -> models.SurveyRound:
    row = get_or_404(visible_rounds(actor).select_related("project", "season"), uid=uid)
    actor.require(verb)
    return row


def visible_visits(actor: Actor) -> QuerySet[models.Visit]:
    return in_visible_projects(actor, models.Visit.objects.all(), "plot__block__project_id")


def visible_cases(actor: Actor) -> QuerySet[models.Case]:
    """Cases about plots, and those about a whole round, which have none."""
    rows = models.Case.objects.filter(organisation=actor.organisation)
    if actor.project_ids is None:
        return rows
    of_plot = Q(plot__block__project_id__in=actor.project_ids)
    return rows.filter(of_plot | Q(plot__isnull=True, round__project_id__in=actor.project_ids))


def case_for(actor: Actor, uid: UUID, verb: str = "case.view") -> models.Case:
    row = get_or_404(visible_cases(actor).select_related("plot__block", "round"), uid=uid)
    actor.require(verb)
    return row


def visible_refused(actor: Actor) -> QuerySet[RefusedItem]:
    """Refused records. They belong to no project, so a limited lead sees those of phones of granted projects."""
    rows = RefusedItem.objects.filter(organisation=actor.organisation).select_related("field_pass__person")
    return rows if actor.project_ids is None else rows.filter(field_pass__in=visible_field_passes(actor))


def refused_for(actor: Actor, uid: UUID, verb: str = "case.view") -> RefusedItem:
    row = get_or_404(visible_refused(actor), uid=uid)
    actor.require(verb)
    return row


def visible_estimates(actor: Actor) -> QuerySet[models.Estimate]:
    return in_visible_projects(actor, models.Estimate.objects.all())


def visible_needs(actor: Actor) -> QuerySet[models.ReplacementNeed]:
    return in_visible_projects(actor, models.ReplacementNeed.objects.all())


def need_for(actor: Actor, uid: UUID, verb: str = "need.view") -> models.ReplacementNeed:
    row = get_or_404(visible_needs(actor).select_related("block", "species", "project", "round"), uid=uid)
    actor.require(verb)
    return row


def visible_causes(actor: Actor) -> QuerySet[models.LossCause]:
    """Causes of loss, the withdrawn ones too."""
    return in_visible_projects(actor, models.LossCause.objects.all(), "block__project_id")


def cause_for(actor: Actor, uid: UUID, verb: str = "case.settle") -> models.LossCause:
    row = get_or_404(visible_causes(actor).select_related("block", "round"), uid=uid)
    actor.require(verb)
    return row


def visible_performance(actor: Actor) -> QuerySet[models.PerformanceRow]:
    return in_visible_projects(actor, models.PerformanceRow.objects.all())


def visible_curves(actor: Actor) -> QuerySet[models.SurvivalCurve]:
    return in_visible_projects(actor, models.SurvivalCurve.objects.all())


def curve_for(actor: Actor, uid: UUID, verb: str = "result.view") -> models.SurvivalCurve:
    row = get_or_404(visible_curves(actor).select_related("project"), uid=uid)
    actor.require(verb)
    return row


def visible_summaries(actor: Actor) -> QuerySet[models.SeasonSummary]:
    return in_visible_projects(actor, models.SeasonSummary.objects.all())


def summary_for(actor: Actor, uid: UUID, verb: str = "summary.view") -> models.SeasonSummary:
    row = get_or_404(visible_summaries(actor).select_related("project", "season"), uid=uid)
    actor.require(verb)
    return row


def visible_uploads(actor: Actor) -> QuerySet[models.Upload]:
    """Uploads without their bytes, which only a check and an import read."""
    return in_visible_projects(actor, models.Upload.objects.defer("content"))


def upload_for(actor: Actor, uid: UUID, verb: str = "upload.add") -> models.Upload:
    row = get_or_404(visible_uploads(actor).select_related("round", "project"), uid=uid)
    actor.require(verb)
    return row


def visible_links(actor: Actor) -> QuerySet[ShareLink]:
    """Share links to summaries the actor may see."""
    uids = visible_summaries(actor).values("uid")
    return ShareLink.objects.filter(
        organisation=actor.organisation, kind="season_summary", target_uid__in=uids
    )


def link_for(actor: Actor, uid: UUID, verb: str = "summary.share") -> ShareLink:
    row = get_or_404(visible_links(actor), uid=uid)
    actor.require(verb)
    return row
