"""Stock orders: their lines, what is confirmed and promised, the sheet that is sent, and papers."""

from django.urls import URLPattern, path

from projects.views import papers

urlpatterns: list[URLPattern] = [
    path("order/<uuid:uid>/paper/new/", papers.paper_new, {"of": "order"}, name="order_paper_new"),
    path("delivery/<uuid:uid>/paper/new/", papers.paper_new, {"of": "delivery"}, name="delivery_paper_new"),
    path("lot/<uuid:uid>/paper/new/", papers.paper_new, {"of": "lot"}, name="lot_paper_new"),
    path("lot-check/<uuid:uid>/paper/new/", papers.paper_new, {"of": "check"}, name="lot_check_paper_new"),
    path("sighting/<uuid:uid>/paper/new/", papers.paper_new, {"of": "sighting"}, name="sighting_paper_new"),
    path("care/<uuid:uid>/paper/new/", papers.paper_new, {"of": "care"}, name="care_paper_new"),
    path("paper/<uuid:uid>/file/", papers.paper_file, name="paper_file"),
    path("paper/<uuid:uid>/void/", papers.paper_void, name="paper_void"),
]
