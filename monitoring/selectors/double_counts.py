"""Plots that two people counted in one round, and trees not found that a later round can tell of."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import Count

from monitoring.models import Case, CountLine, PlotStatus, Purpose, SurveyRound, Visit
from projects.models import Unit

ALIVE, DEAD, NOT_FOUND = range(3)  # codes of what a spot was recorded as
STATUS_CODES = {"alive": ALIVE, "dead_stem": DEAD, "empty_spot": DEAD, "not_found": NOT_FOUND}
Spot = tuple[str, str]  # baseline line, tag


@dataclass(frozen=True, slots=True)
class PlotCount:
    """One person's count of the planted trees of a plot; `spots` as codes, where they are tagged."""

    alive: int
    trees: int
    spots: Mapping[Spot, int]


@dataclass(frozen=True, slots=True)
class DoubleCount:
    """Two counts of one plot in one round, the first by day, then by identity."""

    plot_uid: UUID
    first: PlotCount
    second: PlotCount

    @property
    def trees(self) -> int:
        """Trees planted, as the fuller of the two sheets has it."""
        return max(self.first.trees, self.second.trees)

    @property
    def tagged(self) -> list[tuple[int, int]]:
        """What each recorded of the spots both recorded, in the order of the tags."""
        both = sorted(self.first.spots.keys() & self.second.spots.keys())
        return [(self.first.spots[spot], self.second.spots[spot]) for spot in both]


def double_counts(survey_round: SurveyRound) -> list[DoubleCount]:
    """Every plot of a round with two counts or more, in the order of the plots' identities.

    Counts that a lead put aside are left out: they say nothing about how well people count.
    """
    aside = Case.objects.filter(round=survey_round, settled_as="discard").values("visit_root")
    heads = Visit.objects.filter(
        round=survey_round, purpose=Purpose.SURVIVAL, is_head=True, status=PlotStatus.COUNTED
    ).exclude(root__in=aside)
    twice = heads.order_by().values("plot_id").annotate(n=Count("id")).filter(n__gt=1)
    visits: dict[UUID, list[int]] = defaultdict(list)
    chosen = heads.filter(plot_id__in=twice.values("plot_id")).order_by("plot__uid", "observed_on", "root")
    for plot_uid, pk in chosen.values_list("plot__uid", "id"):
        visits[plot_uid].append(pk)
    counts = counts_of([pk for pks in visits.values() for pk in pks[:2]])
    nothing = PlotCount(0, 0, {})
    found = [
        DoubleCount(uid, counts.get(pks[0], nothing), counts.get(pks[1], nothing))
        for uid, pks in visits.items()
    ]
    return [pair for pair in found if pair.trees]


def counts_of(visit_ids: Iterable[int]) -> dict[int, PlotCount]:
    """What each visit says of planted trees."""
    lines = CountLine.objects.filter(visit_id__in=list(visit_ids), unit=Unit.TREE, planted__isnull=False)
    told: dict[int, list[tuple[Any, ...]]] = defaultdict(list)
    columns = ("visit_id", "baseline_lines", "alive", "planted", "spots")
    for visit_id, *row in lines.order_by("visit_id", "position").values_list(*columns):
        told[visit_id].append(tuple(row))
    return {
        visit_id: PlotCount(
            alive=sum(alive for _lines, alive, _planted, _spots in rows),
            trees=sum(planted for _lines, _alive, planted, _spots in rows),
            spots={key: code for lines, _a, _p, spots in rows for key, code in coded(lines, spots)},
        )
        for visit_id, rows in told.items()
    }


def coded(lines: Iterable[str], spots: Iterable[Mapping[str, str]]) -> Iterable[tuple[Spot, int]]:
    """Tagged spots of a line with their codes; spots not assessed say nothing."""
    name = ":".join(sorted(lines))
    return [
        ((name, spot["spot"]), STATUS_CODES[spot["status"]])
        for spot in spots
        if spot["status"] in STATUS_CODES
    ]


@dataclass(frozen=True, slots=True)
class Followed:
    """A line with trees not found, and the same baseline in the next round. [trees]"""

    not_found: int
    alive_before: int
    alive_after: int  # resprouts left out


def round_before(survey_round: SurveyRound) -> SurveyRound | None:
    """The round of the project that opened last before this one."""
    earlier = SurveyRound.objects.filter(
        project_id=survey_round.project_id, opens_on__lt=survey_round.opens_on
    )
    return earlier.order_by("-opens_on", "-uid").first()


def followed(survey_round: SurveyRound) -> list[Followed]:
    """Lines of the round before with trees not found, whose baseline this round counted again.

    Tagged spots are followed one by one, the others by their number.
    """
    before = round_before(survey_round)
    if before is None:
        return []
    counting = CountLine.objects.filter(
        visit__is_counting=True, unit=Unit.TREE, baseline__isnull=False, visit__status=PlotStatus.COUNTED
    )
    missed = counting.filter(visit__round=before, not_found__gt=0)
    earlier = missed.order_by("baseline__line").values_list("baseline_id", "not_found", "alive", "spots")
    again = counting.filter(visit__round=survey_round, baseline_id__in=missed.values("baseline_id"))
    later = {
        baseline: rest for baseline, *rest in again.values_list("baseline_id", "alive", "resprout", "spots")
    }
    found = []
    for baseline, not_found, alive, spots in earlier:
        if baseline in later:
            alive_after, resprout, spots_after = later[baseline]
            found.append(
                of_spots(spots, spots_after)
                if spots and spots_after
                else Followed(not_found, alive, alive_after - resprout)
            )
    return found


def of_spots(before: Iterable[Mapping[str, str]], after: Iterable[Mapping[str, str]]) -> Followed:
    """How many tagged spots were not found, and how many of them live."""
    missed = {spot["spot"] for spot in before if spot["status"] == "not_found"}
    living = {spot["spot"] for spot in after if spot["status"] == "alive"}
    return Followed(len(missed), 0, len(missed & living))
