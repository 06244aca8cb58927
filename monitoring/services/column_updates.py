"""Update a few columns of many rows with one prepared statement."""

from collections.abc import Sequence
from typing import Any

from django.db import connection


def write_columns(rows: Sequence[Any], names: Sequence[str]) -> None:
    """Store the named fields of rows that are in the database already.

    `bulk_update` builds an expression for every value, which costs more than everything else a visit asks for.
    """
    if not rows:
        return
    meta = rows[0]._meta
    fields = [field for field in meta.concrete_fields if field.name in names]
    columns = ", ".join(f"{connection.ops.quote_name(field.column)} = %s" for field in fields)
    table, key = connection.ops.quote_name(meta.db_table), connection.ops.quote_name(meta.pk.column)
    values = [
        [*(field.get_db_prep_save(getattr(row, field.attname), connection) for field in fields), row.pk]
        for row in rows
    ]
    with connection.cursor() as cursor:
        cursor.executemany(f"UPDATE {table} SET {columns} WHERE {key} = %s", values)  # noqa: S608  (our own names)
