"""Which species and lots did well: comparison rows of a round, grouped by what can be compared at all."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from django.utils.translation import gettext as _

from monitoring import result_words
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
    def verdict(self) -> str:
        """better | worse | alike | unknown: its difference to its peers in the same blocks, with its interval."""
        low, high = self.row.within_lower, self.row.within_upper
        if low is None or high is None:
            return "unknown"
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
    names = subjects((row.scope, row.key) for row in rows)
    peers = [peer_of(row, names.get((row.scope, row.key))) for row in rows]
    found = [compared(scope, [peer for peer in peers if peer.row.scope == scope]) for scope in SCOPES]
    return [one for one in found if one.groups or one.apart or one.alone or one.few]


def peer_of(row: PerformanceRow, subject: object) -> Peer:
    if row.scope == "stock_type":
        return Peer(row, str(StockType(row.key).label) if row.key in StockType.values else row.key)
    if row.scope == "lot" and subject is not None:
        lot = subject
        note = _("%(species)s, %(stock_type)s") % {
            "species": lot.species.scientific_name, "stock_type": lot.get_stock_type_display(),  # type: ignore[attr-defined]
        }  # fmt: skip
        return Peer(row, str(lot), note)
    return Peer(row, str(subject) if subject is not None else row.key)


def compared(scope: str, peers: Iterable[Peer]) -> Compared:
    peers = list(peers)
    ranked = [peer for peer in peers if peer.row.status == "ok"]
    groups = [Group(n, best_first(rows)) for n, rows in groupby(ranked, key=lambda peer: peer.row.group)]

    def having(status: str) -> list[Peer]:
        return best_first(peer for peer in peers if peer.row.status == status)

    return Compared(scope, groups, having("cannot_separate"), having("alone"), having("too_few_plots"))


def best_first(peers: Iterable[Peer]) -> list[Peer]:
    return sorted(peers, key=lambda peer: (-(peer.row.pooled or 0), peer.label))
