"""Composite foreign keys on PostgreSQL."""

from django.db import migrations

from projects.tenancy import SameOrganisation

KEYS = [
    ("monitoring_case", "plot_id", "monitoring_survivalplot"),
    ("monitoring_case", "round_id", "monitoring_surveyround"),
    ("monitoring_countline", "baseline_id", "monitoring_plotbaseline"),
    ("monitoring_countline", "visit_id", "monitoring_visit"),
    ("monitoring_estimate", "block_id", "projects_block"),
    ("monitoring_estimate", "project_id", "projects_project"),
    ("monitoring_estimate", "round_id", "monitoring_surveyround"),
    ("monitoring_fieldpassround", "field_pass_id", "projects_fieldpass"),
    ("monitoring_fieldpassround", "round_id", "monitoring_surveyround"),
    ("monitoring_performancerow", "project_id", "projects_project"),
    ("monitoring_performancerow", "round_id", "monitoring_surveyround"),
    ("monitoring_plotbaseline", "cohort_id", "projects_cohort"),
    ("monitoring_plotbaseline", "plot_id", "monitoring_survivalplot"),
    ("monitoring_regenerationline", "visit_id", "monitoring_visit"),
    ("monitoring_removal", "plot_id", "monitoring_survivalplot"),
    ("monitoring_removal", "visit_id", "monitoring_visit"),
    ("monitoring_replacementneed", "block_id", "projects_block"),
    ("monitoring_replacementneed", "project_id", "projects_project"),
    ("monitoring_replacementneed", "round_id", "monitoring_surveyround"),
    ("monitoring_roundblock", "block_id", "projects_block"),
    ("monitoring_roundblock", "round_id", "monitoring_surveyround"),
    ("monitoring_roundplot", "plot_id", "monitoring_survivalplot"),
    ("monitoring_roundplot", "round_id", "monitoring_surveyround"),
    ("monitoring_seasonsummary", "made_by_id", "projects_person"),
    ("monitoring_seasonsummary", "project_id", "projects_project"),
    ("monitoring_seasonsummary", "season_id", "projects_season"),
    ("monitoring_surveyround", "project_id", "projects_project"),
    ("monitoring_surveyround", "season_id", "projects_season"),
    ("monitoring_survivalplot", "block_id", "projects_block"),
    ("monitoring_survivalplot", "holding_id", "projects_holding"),
    ("monitoring_upload", "created_by_id", "projects_person"),
    ("monitoring_upload", "job_id", "projects_job"),
    ("monitoring_upload", "project_id", "projects_project"),
    ("monitoring_upload", "round_id", "monitoring_surveyround"),
    ("monitoring_visit", "plot_id", "monitoring_survivalplot"),
    ("monitoring_visit", "round_id", "monitoring_surveyround"),
]


class Migration(migrations.Migration):
    dependencies = [("monitoring", "0002_join_the_tables"),
        ("projects", "0002_keep_rows_inside_one_organisation")]

    operations = [
        *(SameOrganisation(table, column, parent) for table, column, parent in KEYS),
    ]
