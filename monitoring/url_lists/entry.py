"""Counts in by hand: the desk form, the sheets to print, files of counts and of phones."""

from django.urls import path

from monitoring.views import desk, unsent, uploads

urlpatterns = [
    path("round/<uuid:round>/plot/<uuid:uid>/enter/", desk.desk_entry, name="desk_entry"),
    path("round/<uuid:uid>/sheets/", desk.sheet_print, name="sheet_print"),
    path("round/<uuid:uid>/upload/", uploads.upload_new, name="upload_new"),
    path("round/<uuid:uid>/counts-to-fill-in.csv", uploads.upload_template, name="upload_template"),
    path("unsent/", unsent.unsent_new, name="unsent_new"),
    path("upload/<uuid:uid>/", uploads.upload_detail, name="upload_detail"),
    path("upload/<uuid:uid>/columns/", uploads.upload_map, name="upload_map"),
    path("upload/<uuid:uid>/import/", uploads.upload_import, name="upload_import"),
]
