"""What monitoring asks people to decide: orders for gaps, plots still to count, cases, outcomes not settled."""

import logging
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.db.models import Count, Exists, Max, OuterRef, Q, QuerySet, Sum

from monitoring.estimators import CODE_VERSION
from monitoring.models import (
    Case,
    Estimate,
    PlotBaseline,
    Purpose,
    ReplacementNeed,
    RoundPlot,
    RoundStatus,
    SurveyRound,
    SurvivalPlot,
    Visit,
)
from monitoring.selectors import need_inputs
from monitoring.services import dirty
from projects import clocks
from projects.announcements import listen
from projects.models import Block, Cohort, OrderLine, OrderStatus, Organisation, Project, Unit
from projects.services import reminder_rows
from projects.services.reminder_rows import Days, Family, ReminderRow

logger = logging.getLogger(__name__)

ROUND_KINDS = ("case_open", "round_due")
BLOCK_KINDS = ("replace_order", "falls_short", "look_again", "not_settled")
REPLACEMENT_KINDS = ("baseline_visit",)
KINDS = (*BLOCK_KINDS, *ROUND_KINDS, *REPLACEMENT_KINDS)
BASELINE_WITHIN = timedelta(weeks=4)  # later, a dead tree can no longer be told from one never planted
ON_ITS_WAY = (OrderStatus.DRAFT, OrderStatus.PLACED, OrderStatus.CONFIRMED)


@dataclass(frozen=True)
class Renewal:
    """The reminders of monitoring for one organisation, as something a recomputation writes."""

    organisation_id: int

    def write(self) -> int:
        """Make them afresh; return how many there are."""
        return renew(Organisation.objects.get(pk=self.organisation_id))


ROUNDS = Family(ROUND_KINDS, lambda organisation, days: of_rounds(organisation, days.today))
BLOCKS = Family(BLOCK_KINDS, lambda organisation, days: of_blocks(organisation))
REPLACEMENTS = Family(REPLACEMENT_KINDS, lambda organisation, days: of_replacements(organisation))
FAMILIES = (ROUNDS, BLOCKS, REPLACEMENTS)


def register_families() -> None:
    """Put what monitoring asks on the list; an order on its way ends what asks for it, at once."""
    for family in FAMILIES:
        reminder_rows.register(family.kinds, family.rows)
    listen("orders_changed", after_orders_changed)
    listen("planting_changed", after_planting_changed)


def after_orders_changed(organisation: Organisation) -> None:
    reminder_rows.renew_family(organisation, BLOCKS, Days.of(organisation))


def after_planting_changed(block: Block) -> None:
    organisation = block.organisation
    reminder_rows.renew_family(organisation, REPLACEMENTS, Days.of(organisation))


def renew(organisation: Organisation, *, today: date | None = None) -> int:
    """Make every reminder of monitoring again, as of the organisation's day; return how many there are."""
    days = Days.of(organisation, today)
    return sum(
        reminder_rows.replace(organisation, family.kinds, family.rows(organisation, days))
        for family in FAMILIES
    )


def renew_all() -> None:
    """Bring the reminders of every organisation up to its day; mark figures that the day or a release outdated.

    One that fails keeps the list it had and holds up none of the others.
    """
    for organisation in Organisation.objects.order_by("id"):
        try:
            mark_outdated(organisation)
            reminder_rows.renew(organisation)
        except Exception:
            logger.exception("the list of organisation %s could not be renewed", organisation.pk)


def mark_outdated(organisation: Organisation) -> None:
    """Mark projects whose latest order date has passed, and rounds whose figures another release computed."""
    today = clocks.today_of(organisation)
    passed = ReplacementNeed.objects.filter(organisation=organisation, order_by__lt=today)
    projects = sorted(set(passed.order_by().values_list("project_id", flat=True)))
    dirty.mark(organisation, [dirty.Key(dirty.PROJECT, str(pk)) for pk in projects])
    older = Estimate.objects.filter(organisation=organisation).exclude(code_version=CODE_VERSION)
    rounds = SurveyRound.objects.filter(pk__in=older.order_by().values("round_id").distinct())
    dirty.mark(organisation, dirty.keys_of_rounds(rounds))


def page(organisation: Organisation, noun: str, uid: UUID | None = None) -> str:
    """The address of a page. Addresses are fixed, so a worker need not load the views to know them."""
    return f"/o/{organisation.slug}/{noun}/" + (f"{uid}/" if uid else "")


# --- rounds ---------------------------------------------------------------------------------
def of_rounds(organisation: Organisation, today: date) -> Iterator[ReminderRow]:
    """Open rounds with plots left, and rounds with doubts to settle."""
    doubts = per_round(Case.objects.filter(organisation=organisation, settled_seq__isnull=True))
    rounds = SurveyRound.objects.filter(organisation=organisation, project__archived_at__isnull=True)
    rounds = rounds.filter(Q(status=RoundStatus.OPEN) | Q(pk__in=list(doubts))).select_related("project")
    planned, reported = plots_of_open_rounds(organisation)
    for survey_round in rounds.order_by("id"):
        facts = {"round": survey_round.name, "project": survey_round.project.name}
        plots = planned.get(survey_round.pk, 0)
        left = plots - reported.get(survey_round.pk, 0)
        if survey_round.status == RoundStatus.OPEN and left > 0 and survey_round.opens_on <= today:
            link = page(organisation, "round", survey_round.uid)
            told = facts | {"plots_left": left, "plots": plots}
            yield row_of("round_due", survey_round, link, 40, told, due_on=survey_round.closes_on)
        if n := doubts.get(survey_round.pk):
            link = f"{page(organisation, 'case')}?round={survey_round.uid}"
            yield row_of("case_open", survey_round, link, 30, facts | {"n_cases": n})


def plots_of_open_rounds(organisation: Organisation) -> tuple[dict[int, int], dict[int, int]]:
    """Plots drawn for each open round, and those of them that were reported on, reached or not."""
    drawn = RoundPlot.objects.filter(organisation=organisation, round__status=RoundStatus.OPEN)
    visit = Visit.objects.filter(round=OuterRef("round"), plot=OuterRef("plot"), is_counting=True)
    return per_round(drawn), per_round(drawn.filter(Exists(visit)))


def per_round(rows: QuerySet[Any]) -> dict[int, int]:
    """Count rows by round."""
    counted = rows.filter(round__isnull=False).order_by().values_list("round").annotate(n=Count("id"))
    return dict(counted)


def row_of(
    kind: str,
    survey_round: SurveyRound,
    link: str,
    rank: int,
    facts: dict[str, Any],
    due_on: date | None = None,
) -> ReminderRow:
    return ReminderRow(
        kind,
        survey_round.uid,
        link,
        due_on=due_on,
        project_id=survey_round.project_id,
        rank=rank,
        facts=facts,
    )


# --- plantings ------------------------------------------------------------------------------
def of_replacements(organisation: Organisation) -> Iterator[ReminderRow]:
    """Replacement plantings in blocks with plots where nobody counted the new trees into a plot yet."""
    plots = SurvivalPlot.objects.filter(
        organisation=organisation, block=OuterRef("block"), retired_at__isnull=True
    )
    counted = PlotBaseline.objects.filter(cohort=OuterRef("pk"), is_current=True)
    rows = Cohort.objects.filter(
        organisation=organisation, replaces__isnull=False, unit=Unit.TREE, block__archived_at__isnull=True
    )
    rows = rows.filter(Exists(plots), ~Exists(counted), planting_days__voided_at__isnull=True)
    rows = rows.annotate(last_on=Max("planting_days__planted_on"), trees=Sum("planting_days__quantity"))
    visited = last_baseline_visits(organisation)
    for cohort in rows.select_related("block__project").order_by("id"):
        if visited.get(cohort.block_id, date.min) >= cohort.last_on:
            continue
        yield ReminderRow(
            "baseline_visit", cohort.uid, page(organisation, "block", cohort.block.uid),
            due_on=cohort.last_on + BASELINE_WITHIN, project_id=cohort.block.project_id, rank=28,
            facts={"block": cohort.block.name, "cohort": cohort.label, "trees": cohort.trees},
        )  # fmt: skip


def last_baseline_visits(organisation: Organisation) -> dict[int, date]:
    """The last day of a baseline visit to a plot, by block."""
    rows = Visit.objects.filter(organisation=organisation, purpose=Purpose.BASELINE, is_head=True)
    return dict(rows.order_by().values_list("plot__block").annotate(last_on=Max("observed_on")))


# --- blocks ---------------------------------------------------------------------------------
def of_blocks(organisation: Organisation) -> Iterator[ReminderRow]:
    """What the latest figures of each block ask for."""
    projects = Project.objects.filter(organisation=organisation).current().order_by("id")
    ordered = set(
        OrderLine.objects.filter(organisation=organisation, order__status__in=ON_ITS_WAY, block__isnull=False)
        .order_by().values_list("block_id", flat=True)
    )  # fmt: skip
    for project in projects:
        needs = needs_of(project)
        for block_id, figure in sorted(need_inputs.latest_block_figures(project.pk).items()):
            yield from of_block(organisation, figure, needs.get(block_id), is_ordered=block_id in ordered)


def needs_of(project: Project) -> dict[int, ReplacementNeed]:
    """The need of each whole block."""
    rows = ReplacementNeed.objects.filter(project=project, species__isnull=True).order_by("id")
    return {need.block_id: need for need in rows}


def of_block(
    organisation: Organisation, figure: Estimate, need: ReplacementNeed | None, *, is_ordered: bool
) -> Iterator[ReminderRow]:
    """An order where trees are missing, else a word on an outcome that falls short; and what would settle it."""
    block_link = page(organisation, "block", figure.block.uid)
    round_link = page(organisation, "round", figure.round.uid)
    facts = {"block": figure.block.name, "project": figure.project.name, "round": figure.round.name}

    def row(kind: str, rank: int, link: str, due_on: date | None = None, **more: Any) -> ReminderRow:
        told = facts | more
        return ReminderRow(
            kind, figure.block.uid, link, due_on=due_on, project_id=figure.project_id, rank=rank, facts=told
        )

    if need is not None and need.status == "ok" and need.n_expected and not is_ordered:
        yield row("replace_order", 20, block_link, need.order_by, **need_facts(need))
    elif figure.outcome == "falls_short" and not is_ordered:
        yield row("falls_short", 25, block_link)
    if figure.outcome == "not_settled" and figure.next_step == "look_again":
        yield row(
            "look_again", 35, round_link, open_until(figure), not_found=figure.facts.get("not_found", 0)
        )
    if figure.outcome == "not_settled" and figure.next_step == "more_plots":
        yield row("not_settled", 45, round_link, open_until(figure), more_plots=figure.more_plots)


def need_facts(need: ReplacementNeed) -> dict[str, Any]:
    """The numbers a reminder to order is worded from."""
    opens_on = need.window_opens_on
    return {
        "n_expected": need.n_expected,
        "n_assured": need.n_assured,
        "assurance": need.assurance,
        "stock_type": need.stock_type,
        "window_opens_on": opens_on.isoformat() if opens_on else None,
    }


def open_until(figure: Estimate) -> date | None:
    """The day by which plots of the round can still be counted."""
    return figure.round.closes_on if figure.round.status == RoundStatus.OPEN else None
