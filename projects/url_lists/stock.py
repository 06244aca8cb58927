"""Nurseries, lots, planting days, cohorts."""

from django.urls import path

from projects.views import lots, planting, stock

urlpatterns = [
    path("stock/", stock.stock, name="stock"),
    path("nursery/new/", stock.nursery_new, name="nursery_new"),
    path("nursery/<uuid:uid>/", stock.nursery_detail, name="nursery_detail"),
    path("nursery/<uuid:uid>/edit/", stock.nursery_edit, name="nursery_edit"),
    path("nursery/<uuid:uid>/archive/", stock.nursery_archive, name="nursery_archive"),
    path("lot/new/", lots.lot_new, name="lot_new"),
    path("lot/<uuid:uid>/", lots.lot_detail, name="lot_detail"),
    path("lot/<uuid:uid>/edit/", lots.lot_edit, name="lot_edit"),
    path("lot/<uuid:uid>/archive/", lots.lot_archive, name="lot_archive"),
    path("lot/<uuid:uid>/move/", lots.lot_move, name="lot_move"),
    path("lot/<uuid:uid>/count/", lots.lot_count, name="lot_count"),
    path("lot/<uuid:uid>/store/", lots.lot_store, name="lot_store"),
    path("movement/<uuid:uid>/void/", lots.movement_void, name="movement_void"),
    path("block/<uuid:uid>/planting-day/new/", planting.planting_day_new, name="planting_day_new"),
    path("planting-day/<uuid:uid>/", planting.planting_day_detail, name="planting_day_detail"),
    path("planting-day/<uuid:uid>/void/", planting.planting_day_void, name="planting_day_void"),
    path("cohort/<uuid:uid>/", planting.cohort_detail, name="cohort_detail"),
]
