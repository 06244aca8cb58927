"""Stored bounds: what survival could be once everything that is open is decided."""

from collections.abc import Iterable
from typing import Any

import numpy as np
from django.db.models import QuerySet

from monitoring.estimators.bounds import BOUND_MEASURES, OpenThings, bound_estimates
from monitoring.models import Estimate
from monitoring.selectors.open_things import open_things
from monitoring.selectors.round_counts import RoundCounts
from monitoring.services import derived, estimates


def part(
    counts: RoundCounts,
    settings: estimates.EstimateSettings,
    scopes: Iterable[str],
    block_id: int | None = None,
) -> derived.Part:
    """The bounds of a block of a round, or those pooled over its blocks."""
    things = open_things(counts, block_id)
    found = bound_estimates(counts.table, things, settings, scopes=scopes)
    mark = estimates.stamp(counts, *marks_of(counts, things))
    return derived.Part(
        owned(counts.survey_round.organisation_id, counts.survey_round.pk, block_id),
        estimates.estimates(counts, found, mark),
    )


def owned(organisation_id: int, round_id: int, block_id: int | None = None) -> QuerySet[Estimate]:
    """The bounds of one block, or those of no single block."""
    rows = Estimate.objects.filter(
        organisation_id=organisation_id, round_id=round_id, measure__in=BOUND_MEASURES
    )
    return rows.filter(block__isnull=True) if block_id is None else rows.filter(block_id=block_id)


def marks_of(counts: RoundCounts, things: OpenThings) -> list[Any]:
    """What is open, as it enters the digest: by plot, since two like rows of one plot stand in any order."""
    plots, doubted = counts.table.plot, things.row
    cases = sorted(zip(plots[doubted].tolist(), things.low.tolist(), things.high.tolist(), strict=True))
    uncertain = np.bincount(plots, things.uncertain, int(plots.max(initial=-1)) + 1)
    missed = (things.missing_block, things.missing_planted, things.missing_weight)
    return [cases, uncertain.tobytes(), *(column.tobytes() for column in missed)]
