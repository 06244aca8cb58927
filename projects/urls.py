"""Pages of projects, under /o/<organisation-slug>/. The slug is taken by ActorMiddleware."""

from projects.url_lists import people, places, stock

app_name = "projects"
urlpatterns = [*people.urlpatterns, *places.urlpatterns, *stock.urlpatterns]
