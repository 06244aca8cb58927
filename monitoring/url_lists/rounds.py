"""Rounds, plots, phones, cases and refused records."""

from django.urls import path

from monitoring.views import (
    cases,
    design,
    passes,
    plot_cards,
    plot_draws,
    plots,
    refused,
    rounds,
    second_stage,
    trust,
)

urlpatterns = [
    path("round/", rounds.round_list, name="round_list"),
    path("round/new/", rounds.round_new, name="round_new"),
    path("round/<uuid:uid>/", rounds.round_detail, name="round_detail"),
    path("round/<uuid:uid>/trust/", trust.trust, name="round_trust"),
    path("round/<uuid:uid>/edit/", rounds.round_edit, name="round_edit"),
    path("round/<uuid:uid>/close/", rounds.round_close, name="round_close"),
    path("round/<uuid:uid>/cards/", plot_cards.round_cards, name="round_cards"),
    path("round/<uuid:uid>/second-stage/", second_stage.second_stage, name="second_stage"),
    path("design/<uuid:uid>/", design.survey_design_page, name="survey_design"),
    path("design/<uuid:uid>/chance.svg", design.design_chart, name="design_chart"),
    path("block/<uuid:uid>/draw/", plot_draws.plot_draw_new, name="plot_draw_new"),
    path("draw/<uuid:uid>/", plot_draws.plot_draw_detail, name="plot_draw_detail"),
    path("draw/<uuid:uid>/cards/", plot_cards.draw_cards, name="draw_cards"),
    path("block/<uuid:uid>/plot/new/", plots.plot_new, name="plot_new"),
    path("plot/<uuid:uid>/", plots.plot_detail, name="plot_detail"),
    path("plot/<uuid:uid>/edit/", plots.plot_edit, name="plot_edit"),
    path("plot/<uuid:uid>/retire/", plots.plot_retire, name="plot_retire"),
    path("plot/<uuid:uid>/unreachable/", plot_draws.plot_unreachable, name="plot_unreachable"),
    path("plot/<uuid:uid>/baseline/", plots.baseline_set, name="baseline_set"),
    path("pass/", passes.pass_list, name="pass_list"),
    path("pass/new/", passes.pass_new, name="pass_new"),
    path("pass/<uuid:uid>/", passes.pass_detail, name="pass_detail"),
    path("pass/<uuid:uid>/revoke/", passes.pass_revoke, name="pass_revoke"),
    path("case/", cases.case_list, name="case_list"),
    path("case/<uuid:uid>/", cases.case_detail, name="case_detail"),
    path("refused/", refused.refused_list, name="refused_list"),
    path("refused/<uuid:uid>/", refused.refused_detail, name="refused_detail"),
]
