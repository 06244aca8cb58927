"""Survival over time of a project: what changed since the last round, and the curve of every planting."""

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from monitoring import access
from monitoring.change_words import DAYS_PER_MONTH
from monitoring.charts.drawing import drawn
from monitoring.charts.specs import CurvePanel, Words, curves_chart
from monitoring.estimators.curves import SEPARATE_POINTS
from monitoring.models import SurvivalCurve
from monitoring.selectors import survival_over_time as reader
from monitoring.views.charts import apart, svg
from projects import figures
from projects.access import project_for
from projects.paging import page
from projects.views.saving import crumb

BLOCKS_ON_A_PAGE = 12


@require_GET
def survival_over_time(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Show the project, then its blocks a page at a time."""
    project = project_for(request.actor, uid, "result.view")
    found = page(reader.blocks_with_curves(project), request, size=BLOCKS_ON_A_PAGE)
    context = {
        "project": project,
        "over_time": reader.over_time(project, found.rows),
        "found": found,
        "crumbs": [
            crumb(request, _("Projects"), "projects:project_list"),
            crumb(request, project.name, "projects:project_detail", uid=uid),
        ],
    }
    return render(request, "monitoring/survival_over_time.html", context)


@require_GET
def curve_chart(request: HttpRequest, uid: UUID) -> HttpResponse:
    return svg(curve_picture(access.curve_for(request.actor, uid)))


def curve_picture(row: SurvivalCurve) -> bytes:
    """One curve, and for a block those of its plantings beside it."""
    project, found = row.project, reader.panels_of(row)
    labels = apart(label or _("All together") for label, _curve in found)
    panels = [panel(curve, label) for label, (_label, curve) in zip(labels, found, strict=True)]
    short = len(panels) > 1  # small pictures have room for the figures alone
    target = (
        _("%(share)s at %(months)s months") if short else _("target %(share)s at %(months)s months")
    ) % {
        "share": figures.percent(project.target_survival),
        "months": figures.quantity(project.check_age_months),
    }
    spec = curves_chart(
        panels, float(project.target_survival), float(project.check_age_months),
        Words(_("living of planted"), target), _("age in months"),
    )  # fmt: skip
    return drawn(spec, title=_("Survival over time"))


def panel(row: SurvivalCurve, label: str) -> CurvePanel:
    """The points of a curve whose age is known."""
    joined = row.method != SEPARATE_POINTS
    points = [
        (point["age_days"] / DAYS_PER_MONTH, point["survival"], point["lower"], point["upper"])
        for point in row.points
        if point["age_days"] is not None and (joined or point["round"])
    ]
    return CurvePanel(label, points, joined)
