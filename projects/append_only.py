"""Database triggers that refuse UPDATE, DELETE and TRUNCATE on the log, on both databases."""

from typing import Any

TABLES = ("projects_submission", "projects_decision")

POSTGRESQL_FUNCTION = """
CREATE OR REPLACE FUNCTION tallygrove_refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION 'the log is append-only: % on % is refused', TG_OP, TG_TABLE_NAME
    USING ERRCODE = 'restrict_violation';
END $$;
"""


def install(schema_editor: Any) -> None:
    """Create the triggers."""
    for statement in creating(schema_editor.connection.vendor):
        schema_editor.execute(statement, params=None)


def remove(schema_editor: Any) -> None:
    """Drop the triggers; only a backwards migration and the tests' clean-up do this."""
    for statement in dropping(schema_editor.connection.vendor):
        schema_editor.execute(statement, params=None)


def creating(vendor: str) -> list[str]:
    """Return the statements that make the triggers."""
    if vendor == "postgresql":
        return [POSTGRESQL_FUNCTION] + [
            statement
            for table in TABLES
            for statement in (
                f"CREATE TRIGGER {table}_rows BEFORE UPDATE OR DELETE ON {table} "
                "FOR EACH ROW EXECUTE FUNCTION tallygrove_refuse_change()",
                f"CREATE TRIGGER {table}_all BEFORE TRUNCATE ON {table} "
                "FOR EACH STATEMENT EXECUTE FUNCTION tallygrove_refuse_change()",
            )
        ]
    return [
        f"CREATE TRIGGER {table}_{verb.lower()} BEFORE {verb} ON {table} "
        f"BEGIN SELECT RAISE(ABORT, 'the log is append-only: {verb} on {table} is refused'); END"
        for table in TABLES
        for verb in ("UPDATE", "DELETE")
    ]


def dropping(vendor: str) -> list[str]:
    """Return the statements that drop the triggers."""
    if vendor == "postgresql":
        return [f"DROP TRIGGER IF EXISTS {t}_{part} ON {t}" for t in TABLES for part in ("rows", "all")]
    return [f"DROP TRIGGER IF EXISTS {t}_{verb}" for t in TABLES for verb in ("update", "delete")]
