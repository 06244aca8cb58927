"""A token of what a person was looking at, so that an edit never silently undoes somebody else's."""

import hashlib
import json
from typing import Any

from django.db.models import Model

from projects.history import plain


def token(row: Model) -> str:
    """Return a short digest of a row's stored fields; it changes when any of them does."""
    values: dict[str, Any] = {
        field.attname: plain(getattr(row, field.attname)) for field in row._meta.concrete_fields
    }
    text = json.dumps(values, sort_keys=True, default=str)
    return hashlib.sha256(text.encode()).hexdigest()[:16]
