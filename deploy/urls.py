"""Every address of the service. Each has a row in the access policy tests."""

from django.urls import include, path, re_path

from api.views.nothing import NothingView
from projects.views import start

urlpatterns = [
    path("", start.start, name="start"),
    path("accounts/", include("allauth.account.urls")),
    path("o/<slug:org>/", include("projects.urls")),
    path("o/<slug:org>/", include("monitoring.urls")),
    path("o/<slug:org>/species/", include("species.urls")),
    path("", include("projects.urls_secret")),
    path("s/", include("monitoring.urls_share")),
    path("field/", include("monitoring.urls_phone")),
    path("api/v1/", include("api.urls")),
    re_path(r"^api/", NothingView.as_view(), name="api_nothing"),
]
