"""Charts as pictures: of a round's blocks, and of a season summary."""

from collections import Counter
from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from monitoring import access
from monitoring.charts.drawing import drawn
from monitoring.charts.evidence import coverage_picture
from monitoring.charts.specs import Interval, Words, interval_chart, season_chart
from monitoring.models import SeasonSummary
from monitoring.selectors.evidence import coverage_study
from monitoring.selectors.results import round_results
from monitoring.selectors.summaries import Edition
from projects import figures
from projects.interval_bar import read

# A picture styles itself and carries its font; it may do nothing else, wherever it is opened.
PICTURE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; font-src data:; sandbox"


@require_GET
def round_chart(request: HttpRequest, uid: UUID, kind: str) -> HttpResponse:
    results = round_results(access.round_for(request.actor, uid))
    if kind != "survival":
        raise Http404(_("There is nothing at this address."))
    lines = [*results.survival_blocks, *([results.pooled] if results.pooled else [])]
    return svg(blocks_picture(lines, results.target, _("Survival by block"), whole=results.pooled))


@require_GET
def summary_chart(request: HttpRequest, uid: UUID, kind: str) -> HttpResponse:
    picture = summary_picture(access.summary_for(request.actor, uid), kind)
    if picture is None:
        raise Http404(_("There is nothing at this address."))
    return svg(picture)


@require_GET
def evidence_chart(request: HttpRequest) -> HttpResponse:
    """The coverage study as a picture."""
    request.actor.require("result.view")
    study = coverage_study()
    if study is None:
        raise Http404(_("There is nothing at this address."))
    spec, title = coverage_picture(study.cells)
    return svg(drawn(spec, title=title))


def summary_picture(summary: SeasonSummary, kind: str) -> bytes | None:
    """One picture of a summary: `survival` (by block), `species` or `seasons`."""
    edition = Edition(summary)
    if kind == "survival":
        return blocks_picture(edition.blocks, edition.target, _("Survival by block"))
    if kind == "species":
        return blocks_picture(edition.species, edition.target, _("Survival by species"))
    if kind == "seasons":
        return seasons_picture(edition)
    return None


def blocks_picture(lines: Iterable[Any], target: float, title: str, whole: Any = None) -> bytes:
    """Interval bars of every line that has a figure."""
    held = [line for line in lines if has_figure(line)]
    labels = apart(_("All blocks") if line is whole else line.label for line in held)
    bars = [bar(line, label) for line, label in zip(held, labels, strict=True)]
    return drawn(interval_chart(bars, target, words(target)), title=title)


def apart(labels: Iterable[str]) -> list[str]:
    """Labels of which no two are the same, since one label is one row of a picture."""
    seen: Counter[str] = Counter()
    found = []
    for label in labels:
        seen[label] += 1
        found.append(label if seen[label] == 1 else f"{label} ({seen[label]})")
    return found


def seasons_picture(edition: Edition) -> bytes:
    points = [interval(row["survival"], row["label"]) for row in edition.points]
    return drawn(season_chart(points, edition.target, words(edition.target)), title=_("Survival by season"))


def words(target: float) -> Words:
    return Words(_("living of planted"), _("target %(share)s") % {"share": figures.percent(target)})


def has_figure(line: Any) -> bool:
    return line.survival is not None and read(line.survival, "value") is not None


def bar(line: Any, label: str) -> Interval:
    found = read(line.if_found, "value") if line.if_found is not None else None
    return interval(line.survival, label, found)


def interval(figure: Any, label: str, found: float | None = None) -> Interval:
    return Interval(label, read(figure, "value"), read(figure, "lower"), read(figure, "upper"), found)


def svg(picture: bytes) -> HttpResponse:
    response = HttpResponse(picture, content_type="image/svg+xml; charset=utf-8")
    response.headers["Content-Security-Policy"] = PICTURE_POLICY
    return response
