"""The API, version 1. Field addresses have no slash at their end; resources do."""

from django.urls import path, re_path

from api.views import counts_file, field, nothing, schema, session
from api.views.resources import RESOURCES

app_name = "api"

resource_patterns = [
    pattern
    for name, (rows, row) in RESOURCES.items()
    for pattern in (
        path(f"o/<slug:org>/{name}/", rows.as_view(), name=f"{name}_list"),
        path(f"o/<slug:org>/{name}/<uuid:uid>/", row.as_view(), name=f"{name}_detail"),
    )
]
urlpatterns = [
    path("session", session.SessionView.as_view(), name="session"),
    path("field/enrol", session.EnrolView.as_view(), name="field_enrol"),
    path("field/leave", session.LeaveView.as_view(), name="field_leave"),
    path("field/pack", field.PackView.as_view(), name="field_pack"),
    path("field/items", field.ItemsView.as_view(), name="field_items"),
    path("field/photos", field.PhotosView.as_view(), name="field_photos"),
    path("schema/", schema.SchemaView.as_view(), name="schema"),
    *resource_patterns,
    path("o/<slug:org>/rounds/<uuid:uid>/counts.csv", counts_file.CountsView.as_view(), name="round_counts"),
    path(
        "o/<slug:org>/rounds/<uuid:uid>/counts.schema.json",
        counts_file.CountsSchemaView.as_view(),
        name="round_counts_schema",
    ),
    re_path(r"^.*$", nothing.NothingView.as_view(), name="nothing"),
]
