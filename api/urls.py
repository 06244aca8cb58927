"""The API, version 1."""

app_name = "api"
urlpatterns: list = []
