"""Price lists, stock types compared, quantities, seed calculations."""

from django.urls import URLPattern, path

from projects.views import offers

urlpatterns: list[URLPattern] = [
    path("nursery/<uuid:uid>/offer/new/", offers.offer_new, name="offer_new"),
    path("nursery/<uuid:uid>/price-list/", offers.price_list_read, name="price_list_read"),
    path("offer/<uuid:uid>/edit/", offers.offer_edit, name="offer_edit"),
    path("offer/<uuid:uid>/archive/", offers.offer_archive, name="offer_archive"),
]
