"""From a survival figure down to lots, deliveries, days and crews, and back up."""

from django.urls import path

from monitoring.views import trace


def where_from(noun: str, word: str = "") -> object:
    """The address of one noun's page."""
    kwargs = {"noun": noun}
    return path(f"where-from/{word or noun}/<uuid:uid>/", trace.where_from, kwargs, name=f"trace_{noun}")


urlpatterns = [
    where_from("block"),
    where_from("project"),
    where_from("cohort"),
    where_from("lot"),
    where_from("delivery"),
    where_from("nursery"),
    where_from("order"),
    where_from("day"),
    where_from("crew_day", "crew-day"),
    path("where-from/crew/", trace.crew, name="trace_crew"),
]
