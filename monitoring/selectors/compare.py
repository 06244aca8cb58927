"""Which species and lots did well: comparison rows of a round, grouped by what can be compared at all."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any

from django.utils.translation import gettext as _

from monitoring import comparison_words, result_words
from monitoring.models import PerformanceRow, SurveyRound
from monitoring.selectors.headlines import subjects
from projects.models import StockType

SCOPES = ("species", "lot", "stock_type", "nursery")


@dataclass(frozen=True)
class Peer:
    """One thing beside its peers; reads like a figure, so that it is drawn like one."""

    row: PerformanceRow
    label: str
    note: str = ""
    stands_in: str = ""
    way_to_tell: str = ""

    @property
    def pooled(self) -> dict[str, object]:
        """Survival drawn towards the peers, as an interval bar takes it."""
        return {
            "measure": "survival", "value": self.row.pooled, "lower": self.row.lower, "upper": self.row.upper,
            "level": self.row.facts.get("level"), "uid": self.row.uid, "explained_by": "performance",
        }  # fmt: skip

    @property
    def limits_words(self) -> str:
        """The limits of the difference to its peers, in words."""
        return result_words.points_between(self.row.within_lower, self.row.within_upper)

    @property
    def chance_words(self) -> str:
        """How often chance alone would do as much, the number of comparisons reckoned in."""
        return comparison_words.chance_words(self.row.facts.get("p_adjusted"))

    @property
    def handling_words(self) -> str:
        """What else differed: planting date, crew."""
        facts = self.row.facts
        return comparison_words.handling_words(
            self.label, facts.get("days_later"), bool(facts.get("crews_apart"))
        )

    @property
    def best_words(self) -> str:
        """How likely it is the best of its group."""
        return comparison_words.best_words(self.row.facts.get("chance_best"))

    @property
    def odds_words(self) -> str:
        """The common odds ratio with its limits, or empty."""
        return comparison_words.odds_words(
            *(self.row.facts.get(name) for name in ("odds", "odds_lower", "odds_upper"))
        )

    @property
    def verdict(self) -> str:
        """better | worse | alike | unknown: its difference to its peers in the same blocks.

        A difference counts only if its interval leaves 0 out and chance would rarely do as much among as many.
        """
        low, high = self.row.within_lower, self.row.within_upper
        if low is None or high is None:
            return "unknown"
        facts = self.row.facts
        if facts.get("p_adjusted") is None or facts["p_adjusted"] > 1 - facts["level"]:
            return "alike"
        if low > 0:
            return "better"
        return "worse" if high < 0 else "alike"


@dataclass(frozen=True)
class Group:
    """Things that share blocks, directly or through each other, and so can be compared."""

    number: int
    peers: list[Peer]

    @property
    def better(self) -> list[Peer]:
        return [peer for peer in self.peers if peer.verdict == "better"]

    @property
    def worse(self) -> list[Peer]:
        return [peer for peer in self.peers if peer.verdict == "worse"]

    @property
    def handled_apart(self) -> list[Peer]:
        """Those whose planting date or crew may be part of the difference."""
        return [peer for peer in self.peers if peer.handling_words]


@dataclass(frozen=True)
class Compared:
    """One scope: its comparable groups, what cannot be separated from its blocks, what too few plots hold."""

    scope: str
    groups: list[Group]
    apart: list[Peer]
    alone: list[Peer]
    few: list[Peer]


def comparisons(survey_round: SurveyRound) -> list[Compared]:
    """Every scope of a round that has rows, in three queries or so however many rows there are."""
    rows = list(
        PerformanceRow.objects.filter(round=survey_round).order_by("scope", "group", "rank_low", "key")
    )
    names = subjects(keys_of(rows))
    least = survey_round.project.min_plots_per_species
    peers = [peer_of(row, names, least) for row in rows]
    found = [compared(scope, [peer for peer in peers if peer.row.scope == scope]) for scope in SCOPES]
    return [one for one in found if one.groups or one.apart or one.alone or one.few]


def keys_of(rows: Iterable[PerformanceRow]) -> Iterator[tuple[str, str]]:
    """Everything the rows speak of: themselves, the blocks they stand in, and what to set them beside."""
    for row in rows:
        yield row.scope, row.key
        if row.status == "cannot_separate":
            yield from (("block", uid) for uid in row.facts["blocks"] + row.facts["beside_blocks"])
            yield row.scope, row.facts["beside"]


def peer_of(row: PerformanceRow, names: Mapping[tuple[str, str], Any], least: int) -> Peer:
    lot = names.get((row.scope, row.key)) if row.scope == "lot" else None
    note = ""
    if lot is not None:
        note = _("%(species)s, %(stock_type)s") % {
            "species": lot.species.scientific_name, "stock_type": lot.get_stock_type_display(),
        }  # fmt: skip
    peer = Peer(row, label_of(row.scope, row.key, names), note)
    if row.status != "cannot_separate":
        return peer
    own, other = (
        [label_of("block", uid, names) for uid in row.facts[field]] for field in ("blocks", "beside_blocks")
    )
    beside = label_of(row.scope, row.facts["beside"], names)
    return replace(
        peer,
        stands_in=comparison_words.blocks_words(own[:3], row.n_blocks),
        way_to_tell=comparison_words.way_to_tell(own[0], beside, other[0], least),
    )


def label_of(scope: str, key: str, names: Mapping[tuple[str, str], Any]) -> str:
    """The name of a thing or block; its key where it is gone."""
    if scope == "stock_type":
        return str(StockType(key).label) if key in StockType.values else key
    subject = names.get((scope, key))
    return str(subject) if subject is not None else key


def compared(scope: str, peers: Iterable[Peer]) -> Compared:
    peers = list(peers)
    ranked = [peer for peer in peers if peer.row.status == "ok"]
    groups = [Group(n, by_rank(rows)) for n, rows in groupby(ranked, key=lambda peer: peer.row.group)]

    def having(status: str) -> list[Peer]:
        return best_first(peer for peer in peers if peer.row.status == status)

    return Compared(scope, groups, having("cannot_separate"), having("alone"), having("too_few_plots"))


def best_first(peers: Iterable[Peer]) -> list[Peer]:
    return sorted(peers, key=lambda peer: (-(peer.row.pooled or 0), peer.label))


def by_rank(peers: Iterable[Peer]) -> list[Peer]:
    """The likeliest to be best on the same ground first, whatever ground it happened to stand on."""
    return sorted(
        peers,
        key=lambda peer: (
            (peer.row.rank_low or 0) + (peer.row.rank_high or 0), -(peer.row.facts.get("chance_best") or 0), peer.label,
        ),
    )  # fmt: skip
