"""Plans of a project: versions, approval, documents."""

from django.urls import path

from projects.views import plans

urlpatterns = [
    path("project/<uuid:uid>/plan/", plans.plan_list, name="plan_list"),
    path("project/<uuid:uid>/plan/new/", plans.plan_new, name="plan_new"),
    path("plan/<uuid:uid>/", plans.plan_detail, name="plan_detail"),
    path("plan/<uuid:uid>/edit/", plans.plan_edit, name="plan_edit"),
]
