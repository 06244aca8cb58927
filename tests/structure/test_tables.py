"""What the database itself guarantees: sentences for migrations, one organisation per row, a log that stays."""

import re
from uuid import UUID, uuid4

import pytest
from django.apps import apps
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from projects import append_only
from projects.models import Decision, Submission
from projects.tenancy import has_organisation, tenant_foreign_keys
from tests.structure.source import APPS, ROOT

# Tables that belong to no organisation, each with the reason.
SHARED = {
    "species_species": "a reference for all; owner_organisation_uid marks an organisation's own rows",
    "species_speciesname": "goes with its species",
    "species_speciessynonym": "goes with its species",
    "species_speciestrait": "goes with its species",
    "species_rangestatus": "goes with its species",
    "projects_user": "a sign-in may belong to several organisations",
    "projects_organisation": "is the organisation",
}


def our_models():
    return [model for app in APPS for model in apps.get_app_config(app).get_models()]


def test_every_migration_is_named_by_a_sentence():
    names = [path.stem for app in APPS for path in (ROOT / app).glob("migrations/[0-9]*.py")]
    assert names
    wrong = [
        name
        for name in names
        if len(name.split("_")) < 3 or re.search(r"_(auto|alter|squashed)(_|$)|\d{8}", name)
    ]
    assert wrong == []


def test_every_table_belongs_to_an_organisation_or_says_why_not():
    shared = {model._meta.db_table for model in our_models() if not has_organisation(model)}
    assert shared == set(SHARED)


def test_the_column_of_the_organisation_has_one_name():
    columns = {
        field.column
        for model in our_models()
        for field in model._meta.concrete_fields
        if field.is_relation and field.related_model._meta.db_table == "projects_organisation"
    }
    assert columns == {"organisation_id"}


def test_no_table_of_ours_joins_behind_our_back():
    """A many-to-many table would have no organisation of its own."""
    hidden = [model for model in apps.get_models(include_auto_created=True) if model._meta.auto_created]
    assert [model._meta.db_table for model in hidden if model._meta.app_label in APPS] == []


@pytest.mark.postgres
@pytest.mark.django_db
def test_every_key_between_tenant_tables_holds_the_organisation_too():
    keys = tenant_foreign_keys(our_models())
    assert len(keys) > 50
    assert [key for key in keys if key not in composite_keys()] == []


def composite_keys() -> set[tuple[str, str, str]]:
    """Return (table, column, parent) of every (organisation_id, column) → (organisation_id, id) in the catalogue."""
    with connection.cursor() as cursor:
        cursor.execute(
            """
            SELECT conrelid::regclass::text, confrelid::regclass::text,
                   ARRAY(SELECT attname FROM unnest(conkey) WITH ORDINALITY k(n, i)
                         JOIN pg_attribute ON attrelid = conrelid AND attnum = n ORDER BY i),
                   ARRAY(SELECT attname FROM unnest(confkey) WITH ORDINALITY k(n, i)
                         JOIN pg_attribute ON attrelid = confrelid AND attnum = n ORDER BY i)
            FROM pg_constraint WHERE contype = 'f' AND cardinality(conkey) = 2 AND convalidated
            """
        )
        rows = cursor.fetchall()
    return {
        (table, columns[1], parent)
        for table, parent, columns, parents in rows
        if columns[0] == "organisation_id" and list(parents) == ["organisation_id", "id"]
    }


@pytest.mark.postgres
@pytest.mark.django_db
def test_the_database_refuses_a_row_that_points_into_another_organisation(block, other):
    with pytest.raises(DatabaseError, match="same_organisation"), transaction.atomic():
        sql(f"UPDATE projects_block SET organisation_id = {other.pk} WHERE id = {block.pk}")
        sql("SET CONSTRAINTS ALL IMMEDIATE")


# --- the log -------------------------------------------------------------------------------


@pytest.fixture
def submission(hill):
    return Submission.objects.create(
        organisation=hill, seq=1, client_id=uuid4(), kind="visit", schema="visit/1", body="{}", body_sha256="a" * 64,
        received_at=timezone.now(), personal_hash="b" * 64, prev_hash="c" * 64, hash="d" * 64,
    )  # fmt: skip


@pytest.fixture
def decision(hill):
    return Decision.objects.create(
        organisation=hill, seq=2, client_id=uuid4(), kind="settle", subject_uid=UUID(int=1), body="{}",
        body_sha256="a" * 64, received_at=timezone.now(), prev_hash="d" * 64, hash="e" * 64,
    )  # fmt: skip


@pytest.fixture(params=["submission", "decision"])
def record(request):
    return request.getfixturevalue(request.param)


ATTEMPTS = {
    "save": lambda row: type(row)(**{**values(row), "body": "[]"}).save(force_update=True),
    "update": lambda row: type(row).objects.filter(pk=row.pk).update(hash="f" * 64),
    "delete one": lambda row: row.delete(),
    "delete all": lambda row: type(row).objects.all().delete(),
    "bulk update": lambda row: type(row).objects.bulk_update([row], ["seq"]),
    "SQL update": lambda row: sql(f"UPDATE {row._meta.db_table} SET body = 'x'"),
    "SQL delete": lambda row: sql(f"DELETE FROM {row._meta.db_table}"),
}


def values(row):
    return {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields}


def sql(statement):
    with connection.cursor() as cursor:
        cursor.execute(statement)


@pytest.mark.parametrize("attempt", ATTEMPTS)
def test_a_record_of_the_log_can_be_neither_changed_nor_deleted(record, attempt):
    before = type(record).objects.filter(pk=record.pk).values().get()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        ATTEMPTS[attempt](record)
    assert type(record).objects.filter(pk=record.pk).values().get() == before


@pytest.mark.postgres
@pytest.mark.django_db
@pytest.mark.parametrize("table", append_only.TABLES)
def test_the_log_cannot_be_emptied_by_truncate(table):
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        sql(f"TRUNCATE {table} CASCADE")


def test_the_tables_that_refuse_change_are_the_two_of_the_log():
    assert set(append_only.TABLES) == {Submission._meta.db_table, Decision._meta.db_table}
