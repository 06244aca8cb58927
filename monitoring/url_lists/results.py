"""Results: needs, comparisons, summaries with their links, methods, charts."""

from django.urls import path

from monitoring.views import charts, compare, loss_causes, methods, needs, share, summaries, survival

urlpatterns = [
    path("need/", needs.need_list, name="need_list"),
    path("need/order/", needs.need_order, name="need_order"),
    path("round/<uuid:round>/losses/<uuid:uid>/", loss_causes.loss_causes, name="loss_causes"),
    path("cause/<uuid:uid>/withdraw/", loss_causes.cause_withdraw, name="cause_withdraw"),
    path("compare/<uuid:uid>/", compare.compare, name="compare"),
    path("survival/<uuid:uid>/", survival.survival_over_time, name="survival_over_time"),
    path("summary/", summaries.summary_list, name="summary_list"),
    path("summary/new/", summaries.summary_make, name="summary_make"),
    path("summary/<uuid:uid>/", summaries.summary_detail, name="summary_detail"),
    path("summary/<uuid:uid>/share/", share.summary_share, name="summary_share"),
    path("link/<uuid:uid>/revoke/", share.link_revoke, name="link_revoke"),
    path("chart/evidence.svg", charts.evidence_chart, name="evidence_chart"),
    path("method/", methods.method_list, name="method_list"),
    path("method/<slug:name>/", methods.method, name="method"),
    path("chart/round/<uuid:uid>/<slug:kind>.svg", charts.round_chart, name="round_chart"),
    path("chart/summary/<uuid:uid>/<slug:kind>.svg", charts.summary_chart, name="summary_chart"),
    path("chart/curve/<uuid:uid>.svg", survival.curve_chart, name="curve_chart"),
]
