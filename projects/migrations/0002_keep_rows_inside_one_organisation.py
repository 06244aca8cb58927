"""Composite foreign keys on PostgreSQL, and the append-only triggers on both databases."""

from django.db import migrations

from projects import append_only
from projects.tenancy import SameOrganisation

KEYS = [
    ("projects_block", "project_id", "projects_project"),
    ("projects_block", "site_id", "projects_site"),
    ("projects_blockground", "block_id", "projects_block"),
    ("projects_budgetline", "block_id", "projects_block"),
    ("projects_budgetline", "project_id", "projects_project"),
    ("projects_budgetline", "season_id", "projects_season"),
    ("projects_caretask", "block_id", "projects_block"),
    ("projects_cohort", "block_id", "projects_block"),
    ("projects_cohort", "lot_id", "projects_stocklot"),
    ("projects_cohort", "replaces_id", "projects_cohort"),
    ("projects_cohort", "season_id", "projects_season"),
    ("projects_decision", "decided_by_id", "projects_person"),
    ("projects_delivery", "nursery_id", "projects_nursery"),
    ("projects_delivery", "order_id", "projects_stockorder"),
    ("projects_fieldpass", "issued_by_id", "projects_person"),
    ("projects_fieldpass", "person_id", "projects_person"),
    ("projects_historyentry", "person_id", "projects_person"),
    ("projects_holding", "block_id", "projects_block"),
    ("projects_holding", "person_id", "projects_person"),
    ("projects_job", "created_by_id", "projects_person"),
    ("projects_lotmovement", "holding_id", "projects_holding"),
    ("projects_lotmovement", "lot_id", "projects_stocklot"),
    ("projects_lotstorage", "lot_id", "projects_stocklot"),
    ("projects_membership", "person_id", "projects_person"),
    ("projects_mixline", "block_id", "projects_block"),
    ("projects_mixline", "plan_id", "projects_plan"),
    ("projects_orderline", "block_id", "projects_block"),
    ("projects_orderline", "order_id", "projects_stockorder"),
    ("projects_plan", "project_id", "projects_project"),
    ("projects_plantingday", "block_id", "projects_block"),
    ("projects_plantingday", "cohort_id", "projects_cohort"),
    ("projects_plantingday", "holding_id", "projects_holding"),
    ("projects_plantingday", "lot_id", "projects_stocklot"),
    ("projects_plantingwindow", "block_id", "projects_block"),
    ("projects_projectgrant", "membership_id", "projects_membership"),
    ("projects_projectgrant", "project_id", "projects_project"),
    ("projects_refuseditem", "field_pass_id", "projects_fieldpass"),
    ("projects_reminder", "project_id", "projects_project"),
    ("projects_sharelink", "created_by_id", "projects_person"),
    ("projects_stocklot", "delivery_id", "projects_delivery"),
    ("projects_stocklot", "nursery_id", "projects_nursery"),
    ("projects_stockorder", "nursery_id", "projects_nursery"),
    ("projects_stockorder", "project_id", "projects_project"),
    ("projects_stocktake", "lot_id", "projects_stocklot"),
    ("projects_submission", "field_pass_id", "projects_fieldpass"),
    ("projects_submission", "submitted_by_id", "projects_person"),
    ("projects_submissionpersonal", "submission_id", "projects_submission"),
    ("projects_survivalprior", "project_id", "projects_project"),
]


class Migration(migrations.Migration):
    dependencies = [("projects", "0001_lay_down_the_tables")]

    operations = [
        migrations.RunPython(
            lambda apps, editor: append_only.install(editor), lambda apps, editor: append_only.remove(editor)
        ),
        *(SameOrganisation(table, column, parent) for table, column, parent in KEYS),
    ]
