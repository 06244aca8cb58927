"""What each list can be narrowed by; things are named by uid, and an unreadable value is refused by its name."""

from django_filters import rest_framework as filters

from monitoring.models import Estimate, ReplacementNeed, RoundStatus, Scope, SurveyRound, SurvivalPlot
from projects.models import Block, Project, Site


class ArchivedFilter(filters.BooleanFilter):
    """`archived=true` keeps what was archived, `false` what was not."""

    def __init__(self, field_name: str = "archived_at") -> None:
        super().__init__(field_name=field_name, lookup_expr="isnull", exclude=True)


class ProjectFilter(filters.FilterSet):
    archived = ArchivedFilter()

    class Meta:
        model = Project
        fields: list[str] = []


class SiteFilter(filters.FilterSet):
    archived = ArchivedFilter()
    country = filters.CharFilter(field_name="country_code", lookup_expr="iexact")

    class Meta:
        model = Site
        fields: list[str] = []


class BlockFilter(filters.FilterSet):
    archived = ArchivedFilter()
    project = filters.UUIDFilter(field_name="project__uid")
    site = filters.UUIDFilter(field_name="site__uid")

    class Meta:
        model = Block
        fields: list[str] = []


class PlotFilter(filters.FilterSet):
    retired = ArchivedFilter("retired_at")
    project = filters.UUIDFilter(field_name="block__project__uid")
    site = filters.UUIDFilter(field_name="block__site__uid")
    block = filters.UUIDFilter(field_name="block__uid")

    class Meta:
        model = SurvivalPlot
        fields: list[str] = []


class RoundFilter(filters.FilterSet):
    project = filters.UUIDFilter(field_name="project__uid")
    status = filters.ChoiceFilter(choices=RoundStatus.choices)
    opens_after = filters.DateFilter(field_name="opens_on", lookup_expr="gte")
    opens_before = filters.DateFilter(field_name="opens_on", lookup_expr="lte")

    class Meta:
        model = SurveyRound
        fields: list[str] = []


class EstimateFilter(filters.FilterSet):
    project = filters.UUIDFilter(field_name="project__uid")
    round = filters.UUIDFilter(field_name="round__uid")
    block = filters.UUIDFilter(field_name="block__uid")
    scope = filters.ChoiceFilter(choices=Scope.choices)
    key = filters.CharFilter(field_name="key", max_length=120)
    measure = filters.CharFilter(field_name="measure", max_length=40)
    method = filters.CharFilter(field_name="method", max_length=40)
    headline = filters.BooleanFilter(field_name="is_headline")

    class Meta:
        model = Estimate
        fields: list[str] = []


class NeedFilter(filters.FilterSet):
    project = filters.UUIDFilter(field_name="project__uid")
    round = filters.UUIDFilter(field_name="round__uid")
    block = filters.UUIDFilter(field_name="block__uid")
    species = filters.CharFilter(field_name="species__slug", max_length=120)
    order_before = filters.DateFilter(field_name="order_by", lookup_expr="lte")

    class Meta:
        model = ReplacementNeed
        fields: list[str] = []
