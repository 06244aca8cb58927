"""Stored figures about those who count: how two counts of a plot agree, and how often living trees are found."""

from collections.abc import Iterator, Sequence
from typing import Any

from django.db.models import QuerySet

from monitoring.estimators import observers, rows
from monitoring.estimators.rows import EstimateRow, EstimateSettings
from monitoring.models import Estimate
from monitoring.selectors import double_counts
from monitoring.selectors.double_counts import ALIVE, DoubleCount, Followed
from monitoring.selectors.round_counts import RoundCounts
from monitoring.services import derived, estimates

OBSERVER_MEASURES = (
    rows.OBSERVER_DIFFERENCE, rows.OBSERVER_KAPPA, rows.ALIVE_FOUND, rows.NOT_FOUND_LATER_ALIVE,
)  # fmt: skip
MOST_PAIRS = 60  # plots named beside the figure
Told = tuple[EstimateRow, dict[str, Any]]


def owned(organisation_id: int, round_id: int) -> QuerySet[Estimate]:
    """The rows this module writes."""
    rows_ = Estimate.objects.filter(organisation_id=organisation_id, round_id=round_id)
    return rows_.filter(measure__in=OBSERVER_MEASURES)


def part(counts: RoundCounts, settings: EstimateSettings) -> derived.Part:
    """What a round says about those who counted; nothing where nobody counted or looked twice."""
    survey_round = counts.survey_round
    pairs, later = double_counts.double_counts(survey_round), double_counts.followed(survey_round)
    key = str(survey_round.project.uid)
    told = [
        *of_pairs(pairs, key, settings),
        *of_searches(pairs, key, settings),
        *of_later(later, key, settings),
    ]
    mark = estimates.stamp(counts, [repr(pair) for pair in pairs], [repr(one) for one in later])
    stored = estimates.estimates(counts, [row for row, _facts in told], mark)
    for row, (_figure, facts) in zip(stored, told, strict=True):
        row.facts = facts
    return derived.Part(owned(survey_round.organisation_id, survey_round.pk), stored)


def of_pairs(pairs: Sequence[DoubleCount], key: str, settings: EstimateSettings) -> Iterator[Told]:
    """Difference of two counts of one plot, as a share of its trees and in trees."""
    if not pairs:
        return
    level = settings.level
    shares = observers.agreement(
        [pair.first.alive / pair.trees for pair in pairs],
        [pair.second.alive / pair.trees for pair in pairs],
        level,
    )
    trees = observers.agreement(
        [pair.first.alive for pair in pairs], [pair.second.alive for pair in pairs], level
    )
    row = EstimateRow(
        "project", key, rows.OBSERVER_DIFFERENCE, rows.LIMITS_OF_AGREEMENT, level, shares.mean, shares.sd,
        shares.lower, shares.upper, n_plots=len(pairs), n_trees=sum(pair.trees for pair in pairs),
        is_headline=True, **refusal(shares.reason),
    )  # fmt: skip
    yield row, {
        "mean_lower": shares.mean_lower, "mean_upper": shares.mean_upper,
        "trees": [trees.mean, trees.lower, trees.upper],
        "pairs": [
            [str(pair.plot_uid), pair.first.alive, pair.second.alive, pair.trees] for pair in pairs[:MOST_PAIRS]
        ],
    }  # fmt: skip


def of_searches(pairs: Sequence[DoubleCount], key: str, settings: EstimateSettings) -> Iterator[Told]:
    """Kappa and detection, from spots that both people recorded one by one."""
    tagged = [spot for pair in pairs for spot in pair.tagged]
    if not tagged:
        return
    first, second = [one for one, _other in tagged], [other for _one, other in tagged]
    n_plots, level = sum(bool(pair.tagged) for pair in pairs), settings.level
    table = observers.cross_table(first, second, 3)
    same = observers.kappa(table, level)
    yield EstimateRow(
        "project", key, rows.OBSERVER_KAPPA, rows.COHEN_KAPPA, level, same.value, same.se, same.lower,
        same.upper, n_plots=n_plots, n_trees=same.n, n_alive=same.agreed, is_headline=True,
        **refusal(same.reason),
    ), {"agreed": same.agreed, "spots": same.n, "table": table.tolist()}  # fmt: skip
    both = int(table[ALIVE, ALIVE])
    found = observers.detection(int(table[ALIVE].sum()), int(table[:, ALIVE].sum()), both, level)
    yield share_row(rows.ALIVE_FOUND, key, found.first, n_plots), {
        "found_first": found.found_first, "found_second": found.found_second, "found_both": both,
        "second": [found.second.value, found.second.lower, found.second.upper],
        "first_of_either": found.first_of_either.value,
        "living": [found.living, found.living_lower, found.living_upper],
    }  # fmt: skip


def of_later(later: Sequence[Followed], key: str, settings: EstimateSettings) -> Iterator[Told]:
    """Of the trees not found in the round before, those that must have lived."""
    if not later:
        return
    found = observers.found_later(
        [one.not_found for one in later],
        [one.alive_before for one in later],
        [one.alive_after for one in later],
        settings.level,
    )
    yield share_row(rows.NOT_FOUND_LATER_ALIVE, key, found, 0), {"found": found.found, "not_found": found.n}


def share_row(measure: str, key: str, share: observers.Share, n_plots: int) -> EstimateRow:
    return EstimateRow(
        "project", key, measure, rows.WILSON_TREES, share.level, share.value, None, share.lower, share.upper,
        n_plots=n_plots, n_trees=share.n, n_alive=share.found, is_headline=True, **refusal(share.reason),
    )  # fmt: skip


def refusal(reason: str) -> dict[str, Any]:
    """Status and reason of a row: an empty reason says that it has its figure."""
    return {"status": rows.NOT_ESTIMABLE if reason else rows.OK, "reason": reason}
