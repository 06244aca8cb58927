"""An organisation's own species and values, and the whole table as a file."""

from django.urls import path

from projects.views import own_species, species_table

urlpatterns = [
    path("species/new/", own_species.species_new, name="species_new"),
    path("species/table.csv", species_table.species_table, name="species_table"),
    path("species/table-schema.json", species_table.species_table_schema, name="species_table_schema"),
    path("species/import/", species_table.species_import, name="species_import"),
    path("species/<slug:slug>/edit/", own_species.own_species_edit, name="own_species_edit"),
    path("species/<slug:slug>/own/", own_species.own_values, name="own_values"),
    path("species/<slug:slug>/own/status/", own_species.own_status_new, name="own_status_new"),
    path("species/<slug:slug>/own/status/remove/", own_species.own_status_remove, name="own_status_remove"),
    path("species/<slug:slug>/own/<slug:fact>/", own_species.own_facts, name="own_facts"),
    path(
        "species/<slug:slug>/own/<slug:fact>/remove/", own_species.own_facts_remove, name="own_facts_remove"
    ),
]
