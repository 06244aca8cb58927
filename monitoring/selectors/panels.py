"""Figures that pages of projects show: how a site, block, project, lot, nursery or planting fares over its rounds."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from monitoring import access
from monitoring.estimators import rows
from monitoring.models import Estimate, SeasonSummary, SurveyRound, SurvivalPlot
from monitoring.selectors.headlines import Line, lines_by_scope
from monitoring.selectors.needs import BlockNeeds, need_page
from monitoring.selectors.stocking_gaps import map_of_gaps
from projects.access import Actor
from projects.models import Block, Cohort, Nursery, Organisation, Project, Site, StockLot

MOST = 2000  # headline rows a panel reads; a hill of blocks has far fewer
SHOWN = (rows.SURVIVAL, rows.SURVIVAL_IF_FOUND)


@dataclass(frozen=True)
class Point:
    """One thing in one round."""

    line: Line
    survey_round: SurveyRound
    project: Project
    is_permanent: bool = True

    @property
    def label(self) -> str:
        return self.line.label


def read(estimates: QuerySet[Estimate], measures: Sequence[str] = SHOWN) -> list[Estimate]:
    """Headline rows with their rounds, oldest season first."""
    chosen = estimates.filter(is_headline=True, measure__in=measures, round__isnull=False)
    order = ("round__season__starts_on", "round__opens_on", "round_id", "key")
    return list(chosen.select_related("round__season", "project").order_by(*order)[:MOST])


def points(figures: Iterable[Estimate]) -> list[Point]:
    """One point for each thing and round, in the order given; subjects looked up once for all."""
    figures = list(figures)
    by_round: dict[int, list[Estimate]] = defaultdict(list)
    for figure in figures:
        by_round[figure.round_id].append(figure)
    subjects = {(line.scope, line.key): line for lines in lines_by_scope(figures).values() for line in lines}
    found = []
    for held in by_round.values():
        measured: dict[tuple[str, str], dict[str, Estimate]] = defaultdict(dict)
        for figure in held:
            measured[figure.scope, figure.key][figure.measure] = figure
        for key, values in measured.items():
            known = subjects[key]
            line = Line(known.scope, known.key, known.subject, values, known.stocking_target)
            found.append(Point(line, held[0].round, held[0].project))
    return found


def latest(found: Iterable[Point]) -> list[Point]:
    """Of each thing the point of the last round that has one, by name."""
    last = {(point.line.scope, point.line.key, point.project.pk): point for point in found}
    return sorted(last.values(), key=lambda point: (point.label, point.line.key))


def history(actor: Actor, scope: str, key: str) -> list[Point]:
    """One thing over its rounds."""
    return [
        point for point in points(read(access.visible_estimates(actor).filter(scope=scope, key=key)))
        if point.line.survival is not None
    ]  # fmt: skip


# --- one reader for each page ------------------------------------------------------------------
def of_block(actor: Actor, block: Block) -> dict[str, Any]:
    """A block: its rounds as separate points, its stocking, what to replant, its plots."""
    mine = access.visible_estimates(actor).filter(scope="block", block=block)
    found = points(read(mine, (*SHOWN, rows.STOCKING, rows.SPOT_OCCUPANCY, rows.SHARE_OF_VISIBLE_SPOTS)))
    plots = SurvivalPlot.objects.filter(block=block, retired_at__isnull=True)
    permanence = list(plots.values_list("is_permanent", flat=True))
    return {
        "block": block,
        "target": block.project.target_survival,
        "history": found,
        "latest": found[-1] if found else None,
        "n_plots": len(permanence),
        "has_temporary": not all(permanence),
        "draws": list(access.visible_draws(actor).filter(block=block)) if actor.may("plot.edit") else [],
        "needs": (needs := block_need(actor, block)),
        "gap_shapes": map_of_gaps(actor, block, needs.gaps if needs else None),
    }


def block_need(actor: Actor, block: Block) -> BlockNeeds | None:
    if not actor.may("need.view"):
        return None
    page = need_page(actor, block=block)
    return next(iter([*page.to_order, *page.others]), None)


def of_site(actor: Actor, site: Site) -> dict[str, Any]:
    """A site: the latest figures of its blocks, and the strip of its reporting seasons."""
    estimates = access.visible_estimates(actor)
    blocks = latest(
        points(read(estimates.filter(scope="block", block__site=site, block__archived_at__isnull=True)))
    )
    strip = seasons(points(read(estimates.filter(scope="site", key=str(site.uid)))))
    return {"blocks": blocks, "strip": strip, "by_project": len({point.project.pk for point in strip}) > 1}


def of_project(actor: Actor, project: Project) -> dict[str, Any]:
    """A project: its survival by season, the latest figures of its blocks, where to read on."""
    estimates = access.visible_estimates(actor).filter(project=project)
    whole = points(read(estimates.filter(scope="project")))
    blocks = latest(points(read(estimates.filter(scope="block", block__archived_at__isnull=True))))
    editions = access.visible_summaries(actor).filter(project=project).defer("rows").select_related("season")
    latest_edition: SeasonSummary | None = editions.order_by("-season__starts_on", "-edition").first()
    return {
        "project": project,
        "history": [point for point in whole if point.line.survival is not None],
        "blocks": blocks,
        "edition": latest_edition,
        "round": whole[-1].survey_round if whole else None,
    }


def of_home(actor: Actor, organisation: Organisation) -> dict[str, Any]:
    """Sites as strips of reporting seasons, each with how its trees fared."""
    estimates = access.visible_estimates(actor).filter(scope="site", project__archived_at__isnull=True)
    found = points(read(estimates))
    current = Site.objects.filter(organisation=organisation).current().order_by("name", "id")
    sites = {str(site.uid): site for site in current}
    strips: dict[str, list[Point]] = defaultdict(list)
    for point in found:
        strips[point.line.key].append(point)
    shown = [{"site": site, "strip": seasons(strips[uid])} for uid, site in sites.items() if uid in strips]
    return {"strips": shown}


def seasons(found: Iterable[Point]) -> list[Point]:
    """Of each project and reporting season the point of its last round, oldest season first."""
    last = {(point.project.pk, point.survey_round.season_id): point for point in found}
    return sorted(last.values(), key=lambda point: (point.survey_round.season.starts_on, point.project.name))


def of_lot(actor: Actor, lot: StockLot) -> dict[str, Any]:
    """A lot: its own survival over its rounds, and each of its plantings."""
    cohorts = Cohort.objects.filter(organisation=actor.organisation, lot=lot)
    return {
        "lot": lot,
        "history": history(actor, "lot", str(lot.uid)),
        "plantings": plantings(actor, cohorts),
    }


def of_nursery(actor: Actor, nursery: Nursery) -> dict[str, Any]:
    """A nursery: its survival over its rounds, and each of its lots."""
    lots = StockLot.objects.filter(organisation=actor.organisation, nursery=nursery)
    keys = [str(uid) for uid in lots.values_list("uid", flat=True)]
    found = latest(points(read(access.visible_estimates(actor).filter(scope="lot", key__in=keys))))
    return {"nursery": nursery, "history": history(actor, "nursery", str(nursery.uid)), "lots": found}


def of_cohort(actor: Actor, cohort: Cohort) -> dict[str, Any]:
    """A planting: its survival over its rounds."""
    return {
        "cohort": cohort,
        "history": history(actor, "cohort", str(cohort.uid)),
        "target": cohort.block.project.target_survival,
    }


def plantings(actor: Actor, cohorts: QuerySet[Cohort]) -> list[Point]:
    """The latest figure of each of some plantings."""
    keys = [str(uid) for uid in cohorts.values_list("uid", flat=True)]
    return latest(points(read(access.visible_estimates(actor).filter(scope="cohort", key__in=keys))))
