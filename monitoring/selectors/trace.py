"""From a figure down to lots, deliveries, days and crews, and back up to what else came the same way.

Figures are read, never computed; the number of queries is fixed, and lists that could grow are cut and say so.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Q, QuerySet, Sum

from monitoring import access, trace_words
from monitoring.calc.standing_out import of_day
from monitoring.models import SurveyRound
from monitoring.selectors.panels import Point, latest, points, read
from monitoring.selectors.trace_lots import LotCame, lots_that_came
from monitoring.selectors.trace_subjects import Subject
from projects.access import Actor, visible_cohorts, visible_planting_days, visible_quality_checks
from projects.models import Cohort, CrewDayState, PlantingDay, QualityCheck

MOST_DAYS, MOST_BESIDE = 120, 30


@dataclass(frozen=True)
class Looked:
    """Trees looked at just after planting, over all checks of a day."""

    inspected: int = 0
    acceptable: int = 0


@dataclass(frozen=True)
class Day:
    """One planting day with how long its plants had waited and how well they were planted."""

    row: PlantingDay
    looked: Looked

    @property
    def stands_out(self) -> list[str]:
        state = self.row.crew_day.state if self.row.crew_day else ""
        found = of_day(self.looked.inspected, self.looked.acceptable, is_no_go=state == CrewDayState.NO_GO)
        return [trace_words.stands_out(one) for one in found]


@dataclass(frozen=True)
class Planted:
    """One planting with its figure as last counted, if any."""

    cohort: Cohort
    planted: int
    point: Point | None


@dataclass(frozen=True)
class Beside:
    """What else came the same way: a kind of tie ("lot", "family", "delivery", "day") and the plantings it ties."""

    kind: str
    rows: list[Planted]
    is_cut: bool


@dataclass(frozen=True)
class Traced:
    """Everything the page says."""

    subject: Subject
    figure: list[Point]
    rows: list[Planted]
    lots: list[LotCame]
    days: list[Day]
    days_cut: bool
    beside: list[Beside]
    rounds: list[SurveyRound]  # whose comparison sets these lots beside their peers

    @property
    def lots_that_stand_out(self) -> list[LotCame]:
        return [one for one in self.lots if one.stands_out]

    @property
    def days_that_stand_out(self) -> list[Day]:
        return [one for one in self.days if one.stands_out]

    @property
    def not_written_down(self) -> list[str]:
        no_lifting = [one.lot.code for one in self.lots if one.is_timeless]
        no_check = [one.lot.code for one in self.lots if not one.handling.checks]
        return trace_words.not_written_down(
            no_lifting, no_check, sum(row.cohort.lot_id is None for row in self.rows)
        )

    @property
    def compared(self) -> list[LotCame]:
        """Lots that did better or worse than their peers in the same blocks."""
        return [one for one in self.lots if one.peer and one.peer.verdict in ("better", "worse")]


def plantings_of(actor: Actor, subject: Subject) -> QuerySet[Cohort]:
    """The plantings a subject stands for, of projects the actor may read."""
    return visible_cohorts(actor).filter(subject.cohorts).select_related(*RELATED)


RELATED = ("block__site", "block__project", "species", "season", "lot", "replaces")


def traced(actor: Actor, subject: Subject, cohorts: Sequence[Cohort]) -> Traced:
    """Follow some plantings of a subject down to how they came, and back up."""
    ids = [cohort.pk for cohort in cohorts]
    mine = visible_planting_days(actor).filter(subject.days, cohort_id__in=ids, voided_at__isnull=True)
    days = list(
        mine.select_related("block", "lot", "crew_day", "holding").order_by("planted_on", "id")[
            : MOST_DAYS + 1
        ]
    )
    shown = days[:MOST_DAYS]
    looked = looks_at(actor, shown)
    lots = lots_that_came(actor, shown, subject.lots)
    others = {kind: rows[: MOST_BESIDE + 1] for kind, rows in ties(actor, cohorts, shown, lots).items()}
    figures = figures_of(actor, [*cohorts, *(row for rows in others.values() for row in rows)])
    sums = planted_in(actor, figures.keys() | set(ids), subject, ids)
    rows = [Planted(cohort, sums.get(cohort.pk, 0), figures.get(cohort.pk)) for cohort in cohorts]
    beside = [
        Beside(
            kind,
            [Planted(row, sums.get(row.pk, 0), figures.get(row.pk)) for row in found[:MOST_BESIDE]],
            len(found) > MOST_BESIDE,
        )
        for kind, found in others.items()
        if found
    ]
    return Traced(
        subject, figure_of(actor, subject), rows, lots, [Day(day, looked.get(day.pk, Looked())) for day in shown],
        len(days) > MOST_DAYS, beside, rounds_of(lots),
    )  # fmt: skip


def figure_of(actor: Actor, subject: Subject) -> list[Point]:
    """The subject's own figure in each project, as last counted."""
    if not subject.scope:
        return []
    held = access.visible_estimates(actor).filter(scope=subject.scope, key=subject.key)
    if subject.project_id is not None:
        held = held.filter(project_id=subject.project_id)
    return [point for point in latest(points(read(held))) if point.line.survival is not None]


def figures_of(actor: Actor, cohorts: Iterable[Cohort]) -> dict[int, Point | None]:
    """Each planting's figure as last counted, by its id; None where there is none."""
    rows = list(cohorts)
    held = access.visible_estimates(actor).filter(scope="cohort", key__in=[str(row.uid) for row in rows])
    found = {point.line.key: point for point in latest(points(read(held))) if point.line.survival is not None}
    return {row.pk: found.get(str(row.uid)) for row in rows}


def planted_in(actor: Actor, ids: Collection[int], subject: Subject, own: Collection[int]) -> dict[int, int]:
    """Trees of each planting; of the subject's own only those of its days."""
    rows = visible_planting_days(actor).filter(cohort_id__in=ids, voided_at__isnull=True)
    rows = rows.filter(subject.days | ~Q(cohort_id__in=own))
    return dict(rows.order_by().values("cohort_id").annotate(n=Sum("quantity")).values_list("cohort_id", "n"))


def looks_at(actor: Actor, days: Iterable[PlantingDay]) -> dict[int, Looked]:
    """Quality checks by planting day: those of its crew day, else of its block that name its lot or none."""
    days = list(days)
    held = visible_quality_checks(actor).filter(
        block_id__in={day.block_id for day in days}, voided_at__isnull=True
    )
    of_block: dict[int, list[QualityCheck]] = defaultdict(list)
    for check in held:
        of_block[check.block_id].append(check)
    found = {}
    for day in days:
        mine = [check for check in of_block[day.block_id] if belongs(check, day)]
        found[day.pk] = Looked(sum(c.inspected for c in mine), sum(c.acceptable for c in mine))
    return found


def belongs(check: QualityCheck, day: PlantingDay) -> bool:
    """Whether a check looked at the trees of a day."""
    if check.lot_id is not None and check.lot_id != day.lot_id:
        return False
    if check.crew_day_id is not None:
        return check.crew_day_id == day.crew_day_id
    return check.checked_on == day.planted_on


def ties(
    actor: Actor, cohorts: Sequence[Cohort], days: Sequence[PlantingDay], lots: Sequence[LotCame]
) -> dict[str, list[Cohort]]:
    """Other plantings by what ties them to these, the nearest tie first; each stands under one tie only."""
    seen = {cohort.pk for cohort in cohorts}
    ids = {one.lot.pk for one in lots}
    relatives = {other.pk for one in lots for other, _n in [*one.parents, *one.children]}
    deliveries = {one.lot.delivery_id for one in lots} - {None}
    together = Q(pk__in=[])
    for crew, day in sorted({(day.crew, day.planted_on) for day in days if day.crew}):
        together |= Q(planting_days__crew=crew, planting_days__planted_on=day)
    found = {}
    for kind, tie in (
        ("lot", Q(lot_id__in=ids)),
        ("family", Q(lot_id__in=relatives)),
        ("delivery", Q(lot__delivery_id__in=deliveries)),
        ("day", together & Q(planting_days__voided_at__isnull=True)),
    ):
        rows = visible_cohorts(actor).filter(tie).exclude(pk__in=seen).select_related(*RELATED).distinct()
        found[kind] = list(rows.order_by("block__name", "-season__starts_on", "id")[: MOST_BESIDE + 1])
        seen |= {row.pk for row in found[kind]}
    return found


def rounds_of(lots: Iterable[LotCame]) -> list[SurveyRound]:
    """The rounds whose comparisons hold these lots, by name."""
    found = {one.peer.row.round.pk: one.peer.row.round for one in lots if one.peer}
    return sorted(found.values(), key=lambda row: (row.name, row.pk))
