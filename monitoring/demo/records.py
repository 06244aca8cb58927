"""One record as a phone would send it."""

import json
from dataclasses import dataclass, replace
from datetime import date
from uuid import UUID

from monitoring.demo.identities import identity
from monitoring.demo.shapes import RoundPlan


@dataclass(frozen=True)
class Sheet:
    """One record as a phone would send it. `round` is None for visits that only set baselines."""

    id: UUID
    author: str
    round: RoundPlan | None
    block: str
    plot: str
    observed_on: date
    body: str
    personal: str


def negative_count(sheet: Sheet, slug: str) -> Sheet:
    """Return a record that has to be refused: somebody typed a minus sign."""
    body = json.loads(sheet.body)
    uid = identity(slug, "record", sheet.block, sheet.plot, "refused")
    body |= {"visit": str(uid), "parents": []}
    body["lines"][0]["alive"] = -1
    return replace(sheet, id=uid, body=json.dumps(body, ensure_ascii=False))
