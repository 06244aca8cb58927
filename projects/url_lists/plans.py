"""Plans of a project: versions, approval, documents."""

from django.urls import path

from projects.views import plan_papers, plans

urlpatterns = [
    path("project/<uuid:uid>/plan/", plans.plan_list, name="plan_list"),
    path("project/<uuid:uid>/plan/new/", plans.plan_new, name="plan_new"),
    path("plan/<uuid:uid>/", plans.plan_detail, name="plan_detail"),
    path("plan/<uuid:uid>/edit/", plans.plan_edit, name="plan_edit"),
    path("plan/<uuid:uid>/approve/", plan_papers.plan_approve, name="plan_approve"),
    path("plan/<uuid:uid>/compare/", plan_papers.plan_compare, name="plan_compare"),
    path("plan/<uuid:uid>/document.pdf", plan_papers.plan_document, name="plan_document"),
    path("plan/<uuid:uid>/workbook.xlsx", plan_papers.plan_workbook, name="plan_workbook"),
    path("planning-worksheet.pdf", plan_papers.planning_worksheet, name="planning_worksheet"),
]
