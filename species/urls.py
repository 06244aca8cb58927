"""Addresses under /o/<organisation-slug>/species/."""

from django.urls import path

from species.views import reference

app_name = "species"
urlpatterns = [
    path("", reference.species_list, name="list"),
    path("<slug:slug>/", reference.species_detail, name="detail"),
]
