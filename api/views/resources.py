"""Read-only resources of one organisation: a list and a detail of each concept. Changes are made on the pages."""

from collections.abc import Callable
from typing import Any

from django.db.models import Model, Prefetch, QuerySet
from drf_spectacular.utils import extend_schema, extend_schema_view
from rest_framework.generics import GenericAPIView
from rest_framework.mixins import ListModelMixin, RetrieveModelMixin
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters
from api.paging import KeysetPages
from api.serializers import resources as shapes
from api.views.base import ApiView
from monitoring import access as monitoring_access
from monitoring.models import Estimate, ReplacementNeed, Scope, SurveyRound, SurvivalPlot
from projects import access
from projects.access import Actor
from projects.models import Block, BlockGround, Project, Site

COMPARED_SCOPES = (Scope.LOT, Scope.STOCK_TYPE, Scope.NURSERY)


class ResourceView(ApiView, GenericAPIView):
    """What list and detail share: the rows an actor may see, and their shape."""

    visible: Callable[[Actor], QuerySet]
    lookup_field = "uid"
    pagination_class = KeysetPages

    def get_queryset(self) -> QuerySet:
        """Return the rows of the actor; none while the schema is being written."""
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return type(self).visible(self.request.actor)


class ListView(ListModelMixin, ResourceView):
    def get(self, request: Request, org: str) -> Response:
        """Answer one page of rows, in the order they were made."""
        return self.list(request)


class DetailView(RetrieveModelMixin, ResourceView):
    filter_backends: list[Any] = []

    def get(self, request: Request, org: str, uid: Any) -> Response:
        """Answer one row, or 404 where the caller may not see it."""
        return self.retrieve(request)


def resource(
    name: str,
    plural: str,
    model: type[Model],
    verb: str,
    visible: Callable[[Actor], QuerySet],
    shape: type,
    narrowed: type,
) -> tuple[type[ListView], type[DetailView]]:
    """Return the list and the detail view of one concept, documented."""
    shared = {
        "verbs": {"GET": verb}, "queryset": model.objects.none(), "visible": staticmethod(visible),
        "serializer_class": shape, "__module__": __name__,
    }  # fmt: skip
    rows = type(f"{name.title()}List", (ListView,), {**shared, "filterset_class": narrowed})
    row = type(f"{name.title()}Detail", (DetailView,), shared)
    list_told = extend_schema(operation_id=f"{name}_list", summary=f"List {plural}", tags=[plural])
    detail_told = extend_schema(operation_id=f"{name}_detail", summary=f"One {name}", tags=[plural])
    return extend_schema_view(get=list_told)(rows), extend_schema_view(get=detail_told)(row)


def visible_blocks(actor: Actor) -> QuerySet[Block]:
    """Blocks with their ground, newest version first."""
    grounds = Prefetch("grounds", BlockGround.objects.order_by("-version"))
    return access.visible_blocks(actor).select_related("site", "project").prefetch_related(grounds)


def visible_plots(actor: Actor) -> QuerySet[SurvivalPlot]:
    return monitoring_access.visible_plots(actor).select_related("block__site", "block__project")


def visible_rounds(actor: Actor) -> QuerySet[SurveyRound]:
    return monitoring_access.visible_rounds(actor).select_related("project", "season")


def visible_estimates(actor: Actor) -> QuerySet[Estimate]:
    """Estimates; those of lots, stock types and nurseries only for who may compare them."""
    rows = monitoring_access.visible_estimates(actor).select_related("project", "round", "block")
    return rows if actor.may("performance.view") else rows.exclude(scope__in=COMPARED_SCOPES)


def visible_needs(actor: Actor) -> QuerySet[ReplacementNeed]:
    return monitoring_access.visible_needs(actor).select_related("project", "round", "block", "species")


RESOURCES = {
    "projects": resource(
        "project", "projects", Project, "project.view", access.visible_projects, shapes.ProjectSerializer,
        filters.ProjectFilter,
    ),
    "sites": resource(
        "site", "sites", Site, "site.view", access.visible_sites, shapes.SiteSerializer, filters.SiteFilter
    ),
    "blocks": resource(
        "block", "blocks", Block, "block.view", visible_blocks, shapes.BlockSerializer, filters.BlockFilter
    ),
    "plots": resource(
        "plot", "plots", SurvivalPlot, "plot.view", visible_plots, shapes.PlotSerializer, filters.PlotFilter
    ),
    "rounds": resource(
        "round", "rounds", SurveyRound, "round.view", visible_rounds, shapes.RoundSerializer, filters.RoundFilter
    ),
    "estimates": resource(
        "estimate", "estimates", Estimate, "result.view", visible_estimates, shapes.EstimateSerializer,
        filters.EstimateFilter,
    ),
    "needs": resource(
        "need", "needs", ReplacementNeed, "need.view", visible_needs, shapes.NeedSerializer, filters.NeedFilter
    ),
}  # fmt: skip
