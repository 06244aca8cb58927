"""Writing derived rows: what a computation owns is replaced, and only rows that differ are touched."""

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Model, QuerySet

from monitoring.models import Estimate, PerformanceRow, ReplacementNeed
from projects.models import Organisation

BATCH = 500
TABLES: tuple[type[Model], ...] = (Estimate, ReplacementNeed, PerformanceRow)


@dataclass(frozen=True)
class Part:
    """Rows of one table that replace everything in `owned`."""

    owned: QuerySet
    rows: Sequence[Any]

    def write(self) -> int:
        """Replace and return how many rows were touched."""
        return replace(self)


def replace(part: Part) -> int:
    """Insert new rows, update changed ones, delete those no longer produced; touch nothing else."""
    model = part.owned.model
    names = value_names(model)
    stored = {row["uid"]: row for row in part.owned.order_by().values("uid", *names)}
    wanted = {row.uid: row for row in part.rows}
    changed = [row for uid, row in sorted(wanted.items()) if stored.get(uid) != values_of(row, names)]
    gone = [uid for uid in stored if uid not in wanted]
    for start in range(0, len(gone), BATCH):
        model.objects.filter(uid__in=gone[start : start + BATCH]).delete()
    model.objects.bulk_create(
        changed, update_conflicts=True, unique_fields=["uid"], update_fields=names, batch_size=BATCH
    )
    return len(changed) + len(gone)


def value_names(model: type[Model]) -> list[str]:
    """Columns that say something: all but the row's number and its identity."""
    return [field.attname for field in model._meta.concrete_fields if field.attname not in ("id", "uid")]


def values_of(row: Model, names: Iterable[str]) -> dict[str, Any]:
    return {"uid": row.uid, **{name: getattr(row, name) for name in names}}  # type: ignore[attr-defined]


def digest(*parts: Any) -> str:
    """SHA-256 over bytes and plain values, each with its length, so that no two inputs run together."""
    total = hashlib.sha256()
    for part in parts:
        data = part if isinstance(part, bytes) else json.dumps(part, sort_keys=True, default=str).encode()
        total.update(len(data).to_bytes(8, "big") + data)
    return total.hexdigest()


def derived_digest(organisation: Organisation) -> str:
    """SHA-256 over every derived figure of an organisation, in the order of identities, row numbers left out.

    Two rebuilds of one log print the same digest, whatever order the records arrived in and whatever the
    machine's language or time zone.
    """
    total = hashlib.sha256()
    for model in TABLES:
        names = [name for name in portable_names(model)]
        rows = model.objects.filter(organisation=organisation).order_by("uid")
        for row in rows.values_list("uid", *names).iterator(2000):
            text = json.dumps([str(value) if not plain(value) else value for value in row], sort_keys=True)
            total.update(text.encode() + b"\n")
    return total.hexdigest()


def portable_names(model: type[Model]) -> list[str]:
    """Value columns that are not row numbers of other tables; the identity already holds their uids."""
    return [
        f.attname for f in model._meta.concrete_fields if not f.is_relation and f.attname not in ("id", "uid")
    ]


def plain(value: Any) -> bool:
    return value is None or isinstance(value, bool | int | float | str | dict | list)
