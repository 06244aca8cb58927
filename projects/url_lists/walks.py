"""Walks between counts, and what befell a site."""

from django.urls import path

from projects.views import walks

urlpatterns = [
    path("walk/", walks.walk_list, name="walk_list"),
    path("walk/<uuid:uid>/", walks.walk_detail, name="walk_detail"),
    path("walk/<uuid:uid>/void/", walks.walk_void, name="walk_void"),
    path("block/<uuid:uid>/walk/new/", walks.walk_new, name="walk_new"),
    path("block/<uuid:uid>/walk/nothing/", walks.walk_nothing, name="walk_nothing"),
    path("site/<uuid:uid>/event/new/", walks.site_event_new, name="site_event_new"),
    path("event/<uuid:uid>/void/", walks.site_event_void, name="site_event_void"),
]
