"""Price lists, stock types compared, quantities, seed calculations."""

from django.urls import URLPattern, path

from projects.views import offers, plan_quantities, seed_amounts, stated_survival, stock_choices

urlpatterns: list[URLPattern] = [
    path("nursery/<uuid:uid>/offer/new/", offers.offer_new, name="offer_new"),
    path("nursery/<uuid:uid>/price-list/", offers.price_list_read, name="price_list_read"),
    path("offer/<uuid:uid>/edit/", offers.offer_edit, name="offer_edit"),
    path("offer/<uuid:uid>/archive/", offers.offer_archive, name="offer_archive"),
    path("survival/", stated_survival.survival_prior_list, name="survival_prior_list"),
    path("survival/new/", stated_survival.survival_prior_new, name="survival_prior_new"),
    path("survival/<uuid:uid>/edit/", stated_survival.survival_prior_edit, name="survival_prior_edit"),
    path("survival/<uuid:uid>/remove/", stated_survival.survival_prior_remove, name="survival_prior_remove"),
    path("plan/<uuid:uid>/quantities/", plan_quantities.plan_quantities, name="plan_quantities"),
    path("plan/<uuid:uid>/quantities/enough/", plan_quantities.plan_enough, name="plan_enough"),
    path("plan/<uuid:uid>/quantities/orders/", plan_quantities.plan_orders, name="plan_orders"),
    path("block/<uuid:uid>/stock-types/", stock_choices.stock_compare, name="stock_compare"),
    path("seed/how-much/", seed_amounts.seed_amount, name="seed_amount"),
]
