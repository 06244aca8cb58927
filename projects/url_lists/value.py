"""Purposes, benefits, carbon, the budget by season, seed trees and collections."""

from django.urls import path

from projects.views import money, purposes, value

urlpatterns = [
    path("project/<uuid:uid>/money/", money.project_money, name="project_money"),
    path("project/<uuid:uid>/money/set-aside/", money.project_contingency, name="project_contingency"),
    path("plan/<uuid:uid>/costs/", money.plan_costs, name="plan_costs"),
    path("project/<uuid:uid>/purpose/", purposes.project_purposes, name="project_purposes"),
    path("project/<uuid:uid>/value/", value.project_value, name="project_value"),
    path("project/<uuid:uid>/benefit/new/", value.benefit_new, name="benefit_new"),
    path("benefit/<uuid:uid>/edit/", value.benefit_edit, name="benefit_edit"),
    path("benefit/<uuid:uid>/remove/", value.benefit_remove, name="benefit_remove"),
    path("site/<uuid:uid>/zone/", value.site_zone, name="site_zone"),
]
