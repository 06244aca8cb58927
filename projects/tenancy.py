"""What keeps one organisation's rows apart from another's in the database itself.

Every tenant table has `organisation_id`. On PostgreSQL a row may only point at rows of its own
organisation: foreign keys ignore row security, so the pair (organisation_id, id) is the key.
SQLite has no way to add such a key later; there the services check.
"""

from typing import Any

from django.db import migrations, models

from projects.identifiers import uuid7


class TenantModel(models.Model):
    """A row of one organisation: a bigint key inside, a UUID outside."""

    uid = models.UUIDField(default=uuid7, unique=True, editable=False)
    organisation = models.ForeignKey("projects.Organisation", on_delete=models.PROTECT, related_name="+")

    class Meta:
        abstract = True


def unique_in_organisation(model_name: str) -> models.UniqueConstraint:
    """Return the constraint a parent table needs so that children can name (organisation, id)."""
    return models.UniqueConstraint(fields=["organisation", "id"], name=f"{model_name}_is_of_one_organisation")


class SameOrganisation(migrations.operations.base.Operation):
    """Add FOREIGN KEY (organisation_id, COLUMN) REFERENCES PARENT (organisation_id, id) on PostgreSQL."""

    reduces_to_sql = True
    reversible = True

    def __init__(self, table: str, column: str, parent: str) -> None:
        self.table, self.column, self.parent = table, column, parent
        self.name = f"{table}_{column}_same_organisation"[:63]

    def state_forwards(self, app_label: str, state: Any) -> None:
        """Leave Django's picture of the models as it is."""

    def database_forwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(
                f'ALTER TABLE "{self.table}" ADD CONSTRAINT "{self.name}" '
                f'FOREIGN KEY (organisation_id, "{self.column}") '
                f'REFERENCES "{self.parent}" (organisation_id, id) DEFERRABLE INITIALLY DEFERRED'
            )

    def database_backwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(f'ALTER TABLE "{self.table}" DROP CONSTRAINT IF EXISTS "{self.name}"')

    def describe(self) -> str:
        return f"Keep {self.table}.{self.column} inside one organisation"


def tenant_foreign_keys(app_config_models: Any) -> list[tuple[str, str, str]]:
    """List (table, column, parent table) for every foreign key between two tenant tables."""
    keys = []
    for model in app_config_models:
        if not has_organisation(model):
            continue
        for field in model._meta.concrete_fields:
            parent = field.related_model if field.is_relation else None
            if parent is not None and field.name != "organisation" and has_organisation(parent):
                keys.append((model._meta.db_table, field.column, parent._meta.db_table))
    return sorted(keys)


def has_organisation(model: Any) -> bool:
    """Say whether a model is a tenant table."""
    return any(field.name == "organisation" for field in model._meta.concrete_fields)
