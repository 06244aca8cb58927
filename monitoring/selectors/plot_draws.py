"""What the pages of draws read: a block as it stands, the points of a draw with their plots, maps of both."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, QuerySet
from django.utils.translation import gettext as _

from monitoring import access
from monitoring.calc.plot_frames import EQUAL, HOLDINGS, ROW
from monitoring.models import PlotDraw, RoundPlot, Shape, SurveyRound, SurvivalPlot
from projects.access import Actor
from projects.calc.spacing import pattern_per_ha
from projects.models import Block, Layout, Pattern
from projects.selectors.grounds import with_ground

WORTH_SAYING = 0.995  # a plot with more than this inside its block is told as whole
USUAL_TREES = 20  # trees a plot should hold (count sheet: 15 to 25)


@dataclass(frozen=True)
class BlockFacts:
    """What a design needs to know of a block."""

    block: Block
    net_area_ha: float | None
    trees: int  # planted, else seed spots, else what the spacing would give
    are_spots: bool
    trees_are_nominal: bool
    density_per_ha: float | None
    is_drawn: bool
    n_plots: int
    n_holdings: int
    usual_radius_m: float | None
    usual_shape: str

    @property
    def is_list(self) -> bool:
        return self.block.layout == Layout.HOLDINGS

    @property
    def is_row(self) -> bool:
        return self.block.pattern == Pattern.ROW

    @property
    def is_census(self) -> bool:
        return self.usual_shape == Shape.WHOLE_BLOCK


def facts_of(blocks: QuerySet[Block]) -> list[BlockFacts]:
    """Areas, trees and plots in use of some blocks, in a fixed number of queries."""
    rows = with_ground(blocks).select_related("site", "project").prefetch_related("grounds", "holdings")
    in_use = plots_in_use(blocks)
    return [fact(row, in_use[row.pk]) for row in rows.order_by("site__name", "name", "id")]


def plots_in_use(blocks: QuerySet[Block]) -> dict[int, Counter[tuple[str, float | None]]]:
    """How many plots of each shape and radius are in use, by block id."""
    plots = SurvivalPlot.objects.filter(block__in=blocks.values("pk"), retired_at__isnull=True)
    counts = plots.order_by().values_list("block_id", "shape", "radius_m").annotate(n=Count("pk"))
    found: dict[int, Counter[tuple[str, float | None]]] = defaultdict(Counter)
    for block_id, shape, radius_m, n in counts:
        found[block_id][shape, radius_m] = n
    return found


def fact(row: Any, in_use: Counter[tuple[str, float | None]]) -> BlockFacts:
    """One block with its counts."""
    listed = sum(holding.trees_received for holding in row.holdings.all())
    planted = row.planted_trees or row.planted_spots or listed
    nominal = pattern_per_ha(row.pattern, row.row_spacing_m, row.in_row_spacing_m)
    area = row.net_area_ha
    trees = planted or (round(nominal * area) if nominal and area else 0)
    ground = max(row.grounds.all(), key=lambda each: each.version, default=None)
    return BlockFacts(
        block=row,
        net_area_ha=area,
        trees=trees,
        are_spots=not row.planted_trees and row.planted_spots > 0,
        trees_are_nominal=not planted and trees > 0,
        density_per_ha=trees / area if area and trees else None,
        is_drawn=bool(ground and ground.geometry),
        n_plots=in_use.total(),
        n_holdings=len(row.holdings.all()),
        usual_radius_m=commonest((radius_m, n) for (_shape, radius_m), n in in_use.items() if radius_m),
        usual_shape=commonest((shape, n) for (shape, _radius), n in in_use.items()) or "",
    )


def commonest(counts: Iterable[tuple[Any, int]]) -> Any:
    """The value met most often, the smallest of those met as often; None where there is none.

    >>> commonest([(6.31, 4), (5.64, 3), (5.64, 1)]), commonest([])
    (5.64, None)
    """
    counted: Counter[Any] = Counter()
    for value, n in counts:
        counted[value] += n
    return min(counted, key=lambda each: (-counted[each], each)) if counted else None


# --- one draw -----------------------------------------------------------------------------------
@dataclass(frozen=True)
class PointRow:
    """One point of a draw, the plot it became, and how far that plot stands from it now."""

    order: int
    is_spare: bool
    point: Mapping[str, Any]
    plot: SurvivalPlot | None
    where: str
    weight: float | None

    @property
    def share_inside(self) -> float | None:
        return self.point.get("share_inside")

    @property
    def is_cut(self) -> bool:
        return (self.share_inside or 1.0) < WORTH_SAYING


def visible_draw_rows(actor: Actor, block: Block) -> QuerySet[PlotDraw]:
    """The draws of a block, newest first."""
    return access.visible_draws(actor).filter(block=block).select_related("drawn_by").order_by("-id")


def point_rows(points: Sequence[Mapping[str, Any]], plots: Iterable[SurvivalPlot] = ()) -> list[PointRow]:
    """The points of a draw in order, each with its plot."""
    by_order = {plot.draw_order: plot for plot in plots}
    return [
        PointRow(
            point["order"], bool(point["spare"]), point, by_order.get(point["order"]), where(point),
            point.get("weight"),
        )
        for point in sorted(points, key=lambda each: each["order"])
    ]  # fmt: skip


def where(point: Mapping[str, Any]) -> str:
    """Where a point is, in words."""
    if "label" in point:
        return str(point["label"])
    if "first" in point:
        return _("spots %(first)s to %(last)s") % {"first": point["first"], "last": point["last"]}
    return f"{point['latitude']:.5f}, {point['longitude']:.5f}"


def plots_of(draw: PlotDraw) -> list[SurvivalPlot]:
    """The plots of a draw with what stands for them."""
    return list(draw.plots.select_related("stands_for").prefetch_related("stand_ins").order_by("draw_order"))


def frame_words(draw: PlotDraw) -> str:
    """What was drawn from, in words."""
    frame = draw.frame
    if frame["type"] == HOLDINGS:
        chance = _("equal chance") if frame["chance"] == EQUAL else _("chance by trees received")
        return _("a list of %(n)s holdings, %(chance)s") % {"n": len(frame["units"]), "chance": chance}
    if frame["type"] == ROW:
        return _("a row of %(spots)s spots in runs of %(each)s") % {
            "spots": frame["spots"],
            "each": frame["spots_per_plot"],
        }
    return _("the boundary of the block as it stood on the day of the draw")


# --- maps ---------------------------------------------------------------------------------------
def map_of(
    block: Block,
    frame: Mapping[str, Any] | None,
    points: Sequence[PointRow],
    others: Iterable[SurvivalPlot] = (),
) -> dict[str, Any]:
    """A block with the points of a draw and the plots it has beside them, as GeoJSON for a map."""
    features = []
    if frame and frame["type"] in ("Polygon", "MultiPolygon"):
        features.append(feature(dict(frame), "block", block.name))
    is_anywhere = any(row.point.get("latitude") is not None for row in points)
    for plot in others if is_anywhere else ():
        if plot.latitude is not None and plot.longitude is not None:
            features.append(
                feature(at(plot.latitude, plot.longitude), "kept", plot.name, _("in use already"))
            )
    for row in points:
        latitude, longitude = row.point.get("latitude"), row.point.get("longitude")
        if latitude is None or longitude is None:
            continue
        kind = "spare" if row.is_spare and row.plot is None else "plot"
        name = row.plot.name if row.plot else str(row.order)
        features.append(feature(at(latitude, longitude), kind, name, _("spare") if row.is_spare else ""))
    return {"type": "FeatureCollection", "features": features}


def at(latitude: float, longitude: float) -> dict[str, Any]:
    return {"type": "Point", "coordinates": [longitude, latitude]}


def feature(geometry: dict[str, Any], kind: str, name: str, note: str = "") -> dict[str, Any]:
    return {
        "type": "Feature",
        "geometry": geometry,
        "properties": {"kind": kind, "name": name, "note": note},
    }


def others_in_use(block: Block, draw: PlotDraw | None = None) -> list[SurvivalPlot]:
    """The plots in use of a block that are not of a draw."""
    rows = SurvivalPlot.objects.filter(block=block, retired_at__isnull=True)
    return list(rows.exclude(draw=draw) if draw else rows)


# --- rounds -------------------------------------------------------------------------------------
def not_covered(survey_round: SurveyRound) -> dict[str, float]:
    """Share of each block's net area that the buffer of its draw leaves out, by block uid."""
    held = RoundPlot.objects.filter(round=survey_round, plot__draw__share_not_covered__gt=0)
    rows = held.values_list("plot__block__uid", "plot__draw__share_not_covered").distinct()
    shares: dict[str, float] = {}
    for uid, share in rows:
        shares[str(uid)] = min(share, shares.get(str(uid), 1.0))
    return shares
