"""Sites, projects and their money, blocks and their aftercare, holdings, seasons."""

from django.urls import path

from projects.views import blocks, budget, care, chooser, projects, seasons, sites, windows

urlpatterns = [
    path("site/", sites.site_list, name="site_list"),
    path("site/new/", sites.site_new, name="site_new"),
    path("site/<uuid:uid>/", sites.site_detail, name="site_detail"),
    path("site/<uuid:uid>/edit/", sites.site_edit, name="site_edit"),
    path("site/<uuid:uid>/archive/", sites.site_archive, name="site_archive"),
    path("site/<uuid:uid>/block/new/", blocks.block_new, name="block_new"),
    path("project/", projects.project_list, name="project_list"),
    path("project/new/", projects.project_new, name="project_new"),
    path("project/<uuid:uid>/", projects.project_detail, name="project_detail"),
    path("project/<uuid:uid>/edit/", projects.project_edit, name="project_edit"),
    path("project/<uuid:uid>/archive/", projects.project_archive, name="project_archive"),
    path("block/<uuid:uid>/", blocks.block_detail, name="block_detail"),
    path("block/<uuid:uid>/edit/", blocks.block_edit, name="block_edit"),
    path("block/<uuid:uid>/ground/", blocks.block_ground, name="block_ground"),
    path("block/<uuid:uid>/archive/", blocks.block_archive, name="block_archive"),
    path("block/<uuid:uid>/holding/new/", blocks.holding_new, name="holding_new"),
    path("holding/<uuid:uid>/edit/", blocks.holding_edit, name="holding_edit"),
    path("block/<uuid:uid>/care/new/", care.care_new, name="care_new"),
    path("care/<uuid:uid>/done/", care.care_done, name="care_done"),
    path("care/<uuid:uid>/edit/", care.care_edit, name="care_edit"),
    path("project/<uuid:uid>/budget/new/", budget.budget_line_new, name="budget_line_new"),
    path("budget/<uuid:uid>/edit/", budget.budget_line_edit, name="budget_line_edit"),
    path("site/<uuid:uid>/climate/", windows.site_climate, name="site_climate"),
    path("block/<uuid:uid>/species/", chooser.species_chooser, name="species_chooser"),
    path("block/<uuid:uid>/windows/", windows.block_windows, name="block_windows"),
    path("block/<uuid:uid>/windows/keep/", windows.windows_keep, name="windows_keep"),
    path("block/<uuid:uid>/window/new/", windows.window_new, name="window_new"),
    path("window/<uuid:uid>/remove/", windows.window_remove, name="window_remove"),
    path("season/", seasons.season_list, name="season_list"),
    path("season/new/", seasons.season_new, name="season_new"),
    path("season/<uuid:uid>/edit/", seasons.season_edit, name="season_edit"),
]
