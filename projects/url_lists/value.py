"""Purposes, benefits, carbon, the budget by season, seed trees and collections."""

from django.urls import path

from projects.views import money, purposes, seed, value

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
    path("site/<uuid:uid>/seed/", seed.site_seed, name="site_seed"),
    path("site/<uuid:uid>/seed-tree/new/", seed.seed_tree_new, name="seed_tree_new"),
    path("seed-tree/<uuid:uid>/edit/", seed.seed_tree_edit, name="seed_tree_edit"),
    path("seed-tree/<uuid:uid>/remove/", seed.seed_tree_remove, name="seed_tree_remove"),
    path("site/<uuid:uid>/seed-lot/new/", seed.seed_collection_new, name="seed_collection_new"),
    path("seed-lot/<uuid:uid>/", seed.seed_collection_detail, name="seed_collection_detail"),
    path("seed-lot/<uuid:uid>/edit/", seed.seed_collection_edit, name="seed_collection_edit"),
    path("seed-lot/<uuid:uid>/share/", seed.seed_share_new, name="seed_share_new"),
    path("seed-share/<uuid:uid>/remove/", seed.seed_share_remove, name="seed_share_remove"),
]
