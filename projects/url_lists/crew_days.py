"""Planting days as they are prepared, decided on and closed; quality checks."""

from django.urls import path

from projects.views import crew_day_course as course
from projects.views import crew_days as views
from projects.views import quality_checks as checks

urlpatterns = [
    path("crew-day/", views.crew_day_list, name="crew_day_list"),
    path("block/<uuid:uid>/planting-log/", views.block_log, name="block_log"),
    path("block/<uuid:uid>/crew-day/new/", views.crew_day_new, name="crew_day_new"),
    path("crew-day/<uuid:uid>/", views.crew_day_detail, name="crew_day_detail"),
    path("crew-day/<uuid:uid>/edit/", views.crew_day_edit, name="crew_day_edit"),
    path("crew-day/<uuid:uid>/people/", views.crew_day_people, name="crew_day_people"),
    path("crew-day/<uuid:uid>/lot/new/", views.crew_day_lot_new, name="crew_day_lot_new"),
    path("crew-day-lot/<uuid:uid>/edit/", views.crew_day_lot_edit, name="crew_day_lot_edit"),
    path("crew-day-lot/<uuid:uid>/remove/", views.crew_day_lot_remove, name="crew_day_lot_remove"),
    path("crew-day/<uuid:uid>/sheet/", course.crew_day_sheet, name="crew_day_sheet"),
    path("crew-day/<uuid:uid>/decide/", course.crew_day_decide, name="crew_day_decide"),
    path("crew-day/<uuid:uid>/close/", course.crew_day_close, name="crew_day_close"),
    path("crew-day/<uuid:uid>/call-off/", course.crew_day_off, name="crew_day_off"),
    path("crew-day/<uuid:uid>/open-again/", course.crew_day_reopen, name="crew_day_reopen"),
    path("block/<uuid:uid>/quality-check/new/", checks.quality_check_new, name="quality_check_new"),
    path("quality-check/<uuid:uid>/void/", checks.quality_check_void, name="quality_check_void"),
]
