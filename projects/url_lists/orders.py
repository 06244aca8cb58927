"""Stock orders: their lines, what is confirmed and promised, the sheet that is sent, and papers."""

from django.urls import URLPattern, path

from projects.views import order_lines, orders, papers

urlpatterns: list[URLPattern] = [
    path("order/", orders.order_list, name="order_list"),
    path("order/new/", orders.order_new, name="order_new"),
    path("order/<uuid:uid>/", orders.order_detail, name="order_detail"),
    path("order/<uuid:uid>/edit/", orders.order_edit, name="order_edit"),
    path("order/<uuid:uid>/confirm/", orders.order_confirm, name="order_confirm"),
    path("order/<uuid:uid>/close/", orders.order_close, name="order_close"),
    path("order/<uuid:uid>/reopen/", orders.order_reopen, name="order_reopen"),
    path("order/<uuid:uid>/sheet.pdf", orders.order_pdf, name="order_pdf"),
    path("order/<uuid:uid>/lines.csv", orders.order_csv, name="order_csv"),
    path("order/<uuid:uid>/line/new/", order_lines.order_line_new, name="order_line_new"),
    path("order-line/<uuid:uid>/edit/", order_lines.order_line_edit, name="order_line_edit"),
    path("order-line/<uuid:uid>/remove/", order_lines.order_line_remove, name="order_line_remove"),
    path("order-line/<uuid:uid>/agree/", order_lines.order_line_agree, name="order_line_agree"),
    path("order/<uuid:uid>/paper/new/", papers.paper_new, {"of": "order"}, name="order_paper_new"),
    path("delivery/<uuid:uid>/paper/new/", papers.paper_new, {"of": "delivery"}, name="delivery_paper_new"),
    path("lot/<uuid:uid>/paper/new/", papers.paper_new, {"of": "lot"}, name="lot_paper_new"),
    path("lot-check/<uuid:uid>/paper/new/", papers.paper_new, {"of": "check"}, name="lot_check_paper_new"),
    path("sighting/<uuid:uid>/paper/new/", papers.paper_new, {"of": "sighting"}, name="sighting_paper_new"),
    path("care/<uuid:uid>/paper/new/", papers.paper_new, {"of": "care"}, name="care_paper_new"),
    path("paper/<uuid:uid>/file/", papers.paper_file, name="paper_file"),
    path("paper/<uuid:uid>/void/", papers.paper_void, name="paper_void"),
]
