"""Every figure of a file of counts, round by round, by the functions the service uses."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from monitoring.estimators import rows
from monitoring.estimators.bounds import bound_estimates
from monitoring.estimators.change_rows import change_estimates
from monitoring.estimators.count_file import CountFile, FileRound
from monitoring.estimators.measures import domains_of
from monitoring.estimators.outcome import Outcome, judge
from monitoring.estimators.round_estimates import round_estimates
from monitoring.estimators.rows import EstimateRow, EstimateSettings
from monitoring.estimators.stocking import stocking_estimates
from monitoring.estimators.sums import distinct
from monitoring.estimators.table import TREE
from monitoring.estimators.two_rounds import Occasion

DAYS_PER_MONTH = 365.25 / 12
Subject = tuple[str, str, str]  # scope, key, measure


@dataclass(frozen=True, slots=True)
class RoundFigures:
    """The rows of one round of a file, and the outcome of each headline that was held against a target.

    Rows of change compare with the round `since`, the one before.
    """

    name: str
    since: str
    rows: tuple[EstimateRow, ...]
    outcomes: Mapping[Subject, Outcome]


def figures_of(
    counts: CountFile,
    settings: EstimateSettings,
    target: float | None = None,
    check_age_months: int | None = None,
) -> tuple[RoundFigures, ...]:
    """Estimate every round of a file.

    Parameters
    ----------
    counts : the rounds of the file.
    settings : levels and conventions.
    target : survival the headlines are held against; None for no outcome of survival. Stocking is held
        against the targets that stand in the file.
    check_age_months : before this mean age a survival figure is "so far"; None where any age will do.

    Returns
    -------
    tuple of RoundFigures
        For each round survival, bounds for what is open, stocking, and the change since the round before.

    Notes
    -----
    A figure that pools trees of several planting seasons has no outcome, nor has one of unknown age where a
    check age is given.
    """
    before: tuple[FileRound | None, ...] = (None, *counts.rounds)
    return tuple(
        _figures(one, earlier, settings, target, check_age_months)
        for one, earlier in zip(counts.rounds, before, strict=False)
    )


def _figures(
    one: FileRound,
    earlier: FileRound | None,
    settings: EstimateSettings,
    target: float | None,
    check_age_months: int | None,
) -> RoundFigures:
    found = [*round_estimates(one.table, settings), *bound_estimates(one.table, one.things, settings)]
    if one.stocking is not None:
        found += stocking_estimates(one.stocking, settings)
    if earlier is not None:
        found += [change.row for change in change_estimates(_occasion(earlier), _occasion(one), settings)]
    heads = {(row.scope, row.key, row.measure): row for row in found if row.is_headline}
    outcomes = _survival_outcomes(one, heads, settings, target, check_age_months) if target else {}
    outcomes |= _stocking_outcomes(one, heads, settings)
    return RoundFigures(one.name, earlier.name if earlier else "", tuple(found), outcomes)


def _occasion(one: FileRound) -> Occasion:
    unknown = np.full(len(one.table.labels.get("cohort", ())), -1)
    return Occasion(one.table, one.plots, one.day, one.age_days, cohort_planted=unknown)


def _survival_outcomes(
    one: FileRound,
    heads: Mapping[Subject, EstimateRow],
    settings: EstimateSettings,
    target: float,
    check_age_months: int | None,
) -> dict[Subject, Outcome]:
    plots = {one.table.label("block", code): int(held) for code, held in enumerate(one.table.blocks.plots)}
    reached = _ages_reached(one, check_age_months)
    return {
        (scope, key, measure): judge(
            row,
            heads.get((scope, key, rows.SURVIVAL_IF_FOUND)),
            target,
            check_age_reached=reached.get((scope, key), True),
            block_plots=plots.get(key) if scope == "block" and plots.get(key, 0) > 0 else None,
            settings=settings,
        )
        for (scope, key, measure), row in heads.items()
        if measure == rows.SURVIVAL
    }


def _ages_reached(one: FileRound, check_age_months: int | None) -> dict[tuple[str, str], bool | None]:
    """Whether the check age is behind each figure; None where seasons are mixed or an age is unknown."""
    trees = (one.table.unit == TREE) & (one.table.planted > 0)
    found: dict[tuple[str, str], bool | None] = {}
    for scope in rows.SCOPES:
        domains = domains_of(one.table, scope)
        enters, size = trees & (domains.code >= 0), len(domains.keys)
        code, planted = domains.code[enters], one.table.planted[enters]
        width = int(one.season.max(initial=0)) + 2
        pairs, _where = distinct(code * width + one.season[enters] + 1)
        mixed = np.bincount(pairs // width, minlength=size) > 1
        days = np.bincount(code, planted * one.age_days[enters], size) / np.maximum(
            np.bincount(code, planted, size), 1
        )
        for place, key in enumerate(domains.keys):
            if mixed[place] or (check_age_months is not None and np.isnan(days[place])):
                found[scope, key] = None
            elif check_age_months is not None:
                found[scope, key] = bool(days[place] >= check_age_months * DAYS_PER_MONTH)
    return found


def _stocking_outcomes(
    one: FileRound, heads: Mapping[Subject, EstimateRow], settings: EstimateSettings
) -> dict[Subject, Outcome]:
    """Blocks against their own targets; the project only where all blocks share one."""
    if one.stocking is None:
        return {}
    targets = one.stocking.target_per_ha
    wanted = {("block", one.stocking.label("block", code)): each for code, each in enumerate(targets)}
    shared = np.unique(targets)
    wanted["project", one.stocking.label("project", 0)] = shared[0] if shared.size == 1 else np.nan
    return {
        (scope, key, rows.STOCKING): judge(heads[scope, key, rows.STOCKING], None, float(each), settings=settings)
        for (scope, key), each in wanted.items()
        if np.isfinite(each) and (scope, key, rows.STOCKING) in heads
    }  # fmt: skip
