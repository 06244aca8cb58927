"""Pages of monitoring, under /o/<organisation-slug>/."""

from monitoring.url_lists import entry, results, rounds, trace

app_name = "monitoring"
urlpatterns = [*rounds.urlpatterns, *results.urlpatterns, *entry.urlpatterns, *trace.urlpatterns]
