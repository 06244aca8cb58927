"""Counts in by hand: the desk form and the sheets to print."""

from django.urls import path

from monitoring.views import desk

urlpatterns = [
    path("round/<uuid:round>/plot/<uuid:uid>/enter/", desk.desk_entry, name="desk_entry"),
    path("round/<uuid:uid>/sheets/", desk.sheet_print, name="sheet_print"),
]
