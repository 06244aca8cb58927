"""What a share link opens, without a sign-in."""

from django.urls import path

from monitoring.views import share

app_name = "share"
urlpatterns = [
    path("<str:token>/", share.opened, name="open"),
    path("<str:token>/chart/<slug:kind>.svg", share.opened_chart, name="chart"),
]
