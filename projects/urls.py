"""Pages of projects, under /o/<organisation-slug>/. The slug is taken by ActorMiddleware."""

from projects.url_lists import day_rules, mixes, offers, own_species, people, places, plans, stock, value

app_name = "projects"
urlpatterns = [
    *people.urlpatterns,
    *places.urlpatterns,
    *stock.urlpatterns,
    *plans.urlpatterns,
    *mixes.urlpatterns,
    *offers.urlpatterns,
    *value.urlpatterns,
    *day_rules.urlpatterns,
    *own_species.urlpatterns,
]
