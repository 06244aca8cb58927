"""From units to curves: what each unit adds to each round, which rounds are joined, and the sums over units.

A *code* is one curve of a scope. Between two rounds a curve falls by the share of the trees at risk that died, on
the plots both rounds counted; trees removed on purpose are withdrawn on their day.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitoring.estimators import intervals
from monitoring.estimators.history import History
from monitoring.estimators.sums import distinct, summed
from monitoring.estimators.table import Floats, Ints

FEWEST_COMMON = 2  # plots seen twice that it takes to join two rounds
PLANTING, NOT_SEEN = -1, -2


@dataclass(frozen=True, slots=True)
class Links:
    """What each unit adds to each round; arrays `(n_units, n_rounds)` unless said otherwise.

    Attributes
    ----------
    living, at_risk : trees alive at the visit, and trees at risk since the round before; both count removed trees
        for the part of the time that they were there.
    inside : the unit was seen at both ends.
    before : (n_codes, n_rounds) the round before in which the curve was seen, `PLANTING` or `NOT_SEEN`.
    """

    living: Floats
    at_risk: Floats
    inside: NDArray[np.bool_]
    before: Ints


def links(counts: History, code: Ints, n_codes: int) -> Links:
    """Link each round to the one before in which the curve was seen; the first to planting."""
    seen = np.zeros((n_codes, counts.n_rounds), bool)
    np.logical_or.at(seen, code, counts.seen)
    last = np.maximum.accumulate(np.where(seen, np.arange(counts.n_rounds), PLANTING), axis=1)
    start = np.full((n_codes, 1), PLANTING)
    before = np.where(seen, np.concatenate([start, last[:, :-1]], axis=1), NOT_SEEN)
    back, unit = before[code], np.arange(code.size)[:, None]
    at = np.maximum(back, 0)
    from_planting = back == PLANTING
    entering = np.where(from_planting, counts.planted, counts.alive[unit, at])
    inside = counts.seen & (from_planting | ((back >= 0) & counts.seen[unit, at]))
    at_risk = np.maximum(entering - counts.removed, 0) + counts.stayed
    return Links((counts.alive + counts.stayed) * inside, at_risk * inside, inside, before)


class CurveSums:
    """Sums of one scope; `joined` `(n_codes,)` says which curves are one line and which are separate points.

    Curves whose blocks were all counted whole, `census` `(n_codes,)`, are joined by a single plot too.
    """

    def __init__(self, counts: History, code: Ints, n_codes: int, census: NDArray[np.bool_]) -> None:
        self.counts, self.code, self.size = counts, code, (n_codes, counts.n_rounds)
        self.links = links(counts, code, n_codes)
        self.n_linked = self.plots_where(self.links.inside)
        self.n_seen = self.plots_where(counts.seen)
        fewest = np.where(census, 1, FEWEST_COMMON)[:, None]
        linked = (self.links.before < 0) | (self.n_linked >= fewest)
        self.joined: NDArray[np.bool_] = np.logical_and.reduce(linked, axis=1)
        self.weight = np.repeat(counts.weight[:, None], counts.n_rounds, axis=1)

    @property
    def n_plots(self) -> Ints:
        """(n_codes, n_rounds) plots behind each point: those that link it, or those of its round alone."""
        return np.where(self.joined[:, None], self.n_linked, self.n_seen)

    @property
    def living(self) -> Floats:
        """(n_units, n_rounds) weighted living trees, as the way of the unit's curve takes them."""
        joined = self.joined[self.code, None]
        return self.weight * np.where(joined, self.links.living, self.counts.counted_alive)

    @property
    def at_risk(self) -> Floats:
        """(n_units, n_rounds) weighted trees at risk, as the way of the unit's curve takes them."""
        joined = self.joined[self.code, None]
        return self.weight * np.where(joined, self.links.at_risk, self.counts.counted)

    def summed(self, values: NDArray) -> Floats:
        """(n_codes, n_rounds) sums over units."""
        n_codes, n_rounds = self.size
        place = self.code[:, None] * n_rounds + np.arange(n_rounds)
        return summed(place.ravel(), values.ravel(), n_codes * n_rounds).reshape(self.size)

    def plots_where(self, condition: NDArray[np.bool_]) -> Ints:
        """(n_codes, n_rounds) distinct plots of the units that meet a condition."""
        n_plots = len(self.counts.plots)
        pairs, where = distinct(self.code * n_plots + self.counts.plot)
        found = np.zeros((pairs.size, self.size[1]), bool)
        np.logical_or.at(found, where, condition)
        total = np.zeros(self.size, dtype=np.int64)
        np.add.at(total, pairs // n_plots, found.astype(np.int64))
        return total

    def share(self, living: Floats, at_risk: Floats, codes: Ints) -> Floats:
        """Survival from sums `(..., n, n_rounds)` of some codes: chained over rounds, or each round by itself."""
        one = np.divide(living, at_risk, out=np.full(living.shape, np.nan), where=at_risk > 0)
        known = self.links.before[codes] != NOT_SEEN
        chained = np.cumprod(np.where(known, one, 1.0), axis=-1)
        return np.where(known, np.where(self.joined[codes, None], chained, one), np.nan)

    def effective(self, edge_icc: float) -> Floats:
        """(n_codes, n_rounds) independent trees that those counted are worth at an assumed correlation."""
        n_plots, n_rounds = len(self.counts.plots), self.size[1]
        pairs, where = distinct(self.code * n_plots + self.counts.plot)
        trees = np.where(self.at_risk > 0, self.counts.counted, 0)
        place = (where[:, None] * n_rounds + np.arange(n_rounds)).ravel()
        plot = summed(place, trees.ravel(), pairs.size * n_rounds).reshape(-1, n_rounds)
        squares, total = np.zeros(self.size), self.summed(trees)
        np.add.at(squares, pairs // n_plots, plot**2)
        return intervals.edge_trees(total, squares / np.maximum(total, 1), edge_icc)

    def ages(self) -> Floats:
        """(n_codes, n_rounds) mean age of the trees, NaN unknown. [days]"""
        known = self.counts.seen & np.isfinite(self.counts.age_days)
        planted = self.summed(self.counts.planted * known)
        days = self.summed(np.where(known, self.counts.age_days, 0) * self.counts.planted)
        return np.divide(days, planted, out=np.full(self.size, np.nan), where=planted > 0)


def weigh_blocks(sums: CurveSums, planted: Ints) -> NDArray[np.bool_]:
    """Weigh the units of pooled curves by trees planted in the block over those in its plots, in place.

    Parameters
    ----------
    planted : (n_cohorts,) trees planted of each cohort by the ledger, −1 unknown.

    Returns
    -------
    (n_codes,) curves over several blocks of which one lacks its trees planted.
    """
    counts, (n_codes, n_rounds) = sums.counts, sums.size
    n_blocks, n_cohorts = len(counts.blocks), len(counts.cohorts)
    stratum = sums.code * n_blocks + counts.block
    pairs, _ = distinct(stratum * n_cohorts + counts.cohort)
    of_pair, size = planted[pairs % n_cohorts], n_codes * n_blocks
    ledger = summed(pairs // n_cohorts, np.maximum(of_pair, 0), size)
    lacks = (np.bincount(pairs // n_cohorts, of_pair <= 0, size) > 0).reshape(n_codes, n_blocks)
    held = (np.bincount(stratum, minlength=size) > 0).reshape(n_codes, n_blocks)
    several = held.sum(axis=1) > 1
    enters = np.where(sums.joined[sums.code, None], sums.links.inside, counts.seen)
    place = (stratum[:, None] * n_rounds + np.arange(n_rounds)).ravel()
    sampled = summed(place, (sums.weight * counts.planted * enters).ravel(), size * n_rounds)
    sampled = sampled.reshape(size, n_rounds)[stratum]
    factor = np.divide(ledger[stratum][:, None], sampled, out=np.zeros_like(sampled), where=sampled > 0)
    sums.weight = np.where(several[sums.code, None], sums.weight * factor, sums.weight)
    return (lacks & held).any(axis=1) & several
