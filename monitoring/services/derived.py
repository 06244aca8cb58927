"""Writing derived rows: what a computation owns is replaced, and only rows that differ are touched."""

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Model, QuerySet

BATCH = 500


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
