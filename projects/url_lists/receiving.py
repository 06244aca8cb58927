"""Deliveries, hand-over checks, lots split and merged, giving out."""

from django.urls import URLPattern, path

from projects.views import giving_out, lot_checks, lot_splits, receiving

urlpatterns: list[URLPattern] = [
    path("delivery/", receiving.delivery_list, name="delivery_list"),
    path("delivery/new/", receiving.delivery_new, name="delivery_new"),
    path("delivery/<uuid:uid>/", receiving.delivery_detail, name="delivery_detail"),
    path("delivery/<uuid:uid>/edit/", receiving.delivery_edit, name="delivery_edit"),
    path("order/<uuid:uid>/receive/", receiving.order_receive, name="order_receive"),
    path("lot/<uuid:uid>/check/", lot_checks.lot_check, name="lot_check"),
    path("lot-check/<uuid:uid>/void/", lot_checks.lot_check_void, name="lot_check_void"),
    path("lot/<uuid:uid>/split/", lot_splits.lot_split, name="lot_split"),
    path("lot/<uuid:uid>/merge/", lot_splits.lot_merge, name="lot_merge"),
    path("lot/<uuid:uid>/give-out/", giving_out.lot_give_out, name="lot_give_out"),
    path("lot/<uuid:uid>/sign-for/", giving_out.lot_sign_for, name="lot_sign_for"),
]
