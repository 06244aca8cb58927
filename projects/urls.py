"""Pages of projects, under /o/<organisation-slug>/. The slug is taken by ActorMiddleware."""

from projects.url_lists import (
    aftercare,
    crew_days,
    day_rules,
    mixes,
    offers,
    orders,
    own_species,
    people,
    places,
    plans,
    receiving,
    stock,
    telling,
    value,
    walks,
)

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
    *orders.urlpatterns,
    *receiving.urlpatterns,
    *crew_days.urlpatterns,
    *walks.urlpatterns,
    *aftercare.urlpatterns,
    *telling.urlpatterns,
]
