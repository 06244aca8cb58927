"""What decides whether a crew plants today."""

from django.urls import path

from projects.views import day_rules as views

OF = "project/<uuid:uid>/day-rules"
urlpatterns = [
    path("day-rules/", views.day_rules, name="day_rules"),
    path("day-rules/start/", views.day_rules_start, name="day_rules_start"),
    path("day-rules/new/", views.day_rule_new, name="day_rule_new"),
    path("day-rules/today/", views.day_rules_today, name="day_rules_today"),
    path(f"{OF}/", views.day_rules, name="project_day_rules"),
    path(f"{OF}/start/", views.day_rules_start, name="project_day_rules_start"),
    path(f"{OF}/drop/", views.day_rules_drop, name="project_day_rules_drop"),
    path(f"{OF}/new/", views.day_rule_new, name="project_day_rule_new"),
    path(f"{OF}/today/", views.day_rules_today, name="project_day_rules_today"),
    path(f"{OF}/card/", views.crew_card, name="crew_card"),
    path("day-rule/<uuid:uid>/edit/", views.day_rule_edit, name="day_rule_edit"),
    path("day-rule/<uuid:uid>/move/", views.day_rule_move, name="day_rule_move"),
    path("day-rule/<uuid:uid>/remove/", views.day_rule_remove, name="day_rule_remove"),
]
