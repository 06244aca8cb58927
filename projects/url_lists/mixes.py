"""The mix of a plan."""

from django.urls import path

from projects.views import mixes

urlpatterns = [
    path("plan/<uuid:uid>/mix/", mixes.plan_mix, name="plan_mix"),
    path("plan/<uuid:uid>/mix/search/", mixes.plan_mix_search, name="plan_mix_search"),
    path("plan/<uuid:uid>/mix/take/", mixes.plan_mix_take, name="plan_mix_take"),
    path("plan/<uuid:uid>/mix/line/", mixes.plan_mix_line, name="plan_mix_line"),
    path("plan/<uuid:uid>/mix/block/<uuid:block>/", mixes.plan_mix_block, name="plan_mix_block"),
    path("plan/<uuid:uid>/mix/sums/<uuid:block>/", mixes.plan_mix_sums, name="plan_mix_sums"),
]
