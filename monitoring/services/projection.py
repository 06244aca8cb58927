"""From the log to rows: what a `visit` submission writes, and how all of it is written again."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils.translation import gettext as _

from monitoring import access
from monitoring.models import (
    Case,
    CountLine,
    FieldPassRound,
    PlotBaseline,
    RegenerationLine,
    Removal,
    SurveyRound,
    SurvivalPlot,
    Visit,
)
from monitoring.services import dirty, invasives, settling
from monitoring.services.plot_records import place_of
from monitoring.services.visit_body import VisitBody, read_visit
from projects.access import Actor
from projects.identifiers import derived_uid
from projects.models import Cohort, Organisation, Submission
from projects.services import chain, log
from projects.services.log import Fault, Item, Rejected
from species.models import Species


@dataclass(frozen=True)
class Screened:
    """A readable record whose plot, round and species are known."""

    body: VisitBody
    plot: SurvivalPlot
    round: SurveyRound | None
    species: dict[str, Species]


class VisitHandler:
    """What the log does with records of kind `visit`."""

    def screen(self, actor: Actor, item: Item) -> Screened:
        """Refuse what cannot be attributed; everything odd but readable goes on."""
        body = read_visit(item.schema, item.body)
        plot = access.visible_plots(actor).select_related("block__site").filter(uid=body.plot).first()
        if plot is None:
            raise Rejected(
                "plot_unknown",
                [Fault("/plot", _("This plot is not one you may count. Ask your field lead."))],
            )
        survey_round = round_of(actor, body, plot)
        refuse_baselines_elsewhere(body, plot)
        return Screened(body, plot, survey_round, named_species(actor.organisation, body))

    def project(self, submission: Submission, parsed: Screened) -> Sequence[str]:
        """Write the visit, settle its plot, and mark what has to be computed again."""
        visit = write_visit(submission, parsed)
        settled = settling.settle_plot(parsed.plot)
        invasives.open_tasks(parsed.plot)
        settling.mark_touched(settled, place_of(visit))
        return settled.visit(visit.uid).flags


def register() -> None:
    """Hand the handler to the log."""
    log.kinds.submissions["visit"] = VisitHandler()
    log.kinds.around_batch = dirty.gathering


# --- screening ------------------------------------------------------------------------------
def round_of(actor: Actor, body: VisitBody, plot: SurvivalPlot) -> SurveyRound | None:
    """Return the round of a record; a phone reaches only the rounds of its pass."""
    if body.round is None:
        return None
    rounds = access.visible_rounds(actor).filter(uid=body.round, project_id=plot.block.project_id)
    if actor.field_pass is not None:
        rounds = rounds.filter(
            id__in=FieldPassRound.objects.filter(field_pass=actor.field_pass).values("round_id")
        )
    found = rounds.first()
    if found is None:
        raise Rejected(
            "round_unknown", [Fault("/round", _("This round is not open to you. Ask your field lead."))]
        )
    return found


def refuse_baselines_elsewhere(body: VisitBody, plot: SurvivalPlot) -> None:
    """Refuse to set a baseline that another project's plot has: no right to that plot follows from this one."""
    lines = [row.line for row in body.baselines]
    if not lines:
        return
    ours = PlotBaseline.objects.filter(organisation_id=plot.organisation_id, line__in=lines)
    taken = set(ours.exclude(plot__block__project_id=plot.block.project_id).values_list("line", flat=True))
    faults = [
        Fault(f"/baselines/{n}/uid", _("This baseline belongs to a plot of another project. Add a new one."))
        for n, row in enumerate(body.baselines)
        if row.line in taken
    ]
    if faults:
        raise Rejected("baseline_elsewhere", faults)


def named_species(organisation: Organisation, body: VisitBody) -> dict[str, Species]:
    """Return the species a record names, or refuse with each slug that is not in the reference."""
    slugs = body.species_slugs()
    found = {row.slug: row for row in access.visible_species(organisation).filter(slug__in=slugs)}
    faults = [
        Fault(
            f"/{part}/{n}/species",
            _("“%(slug)s” is not in the species reference. Choose a species of the list.")
            % {"slug": row.species},
        )
        for part in ("baselines", "lines", "regeneration")
        for n, row in enumerate(getattr(body, part))
        if row.species and row.species not in found
    ]
    if faults:
        raise Rejected("species_unknown", faults)
    return found


# --- writing --------------------------------------------------------------------------------
def write_visit(submission: Submission, parsed: Screened) -> Visit:
    """Write the rows of one submission, without looking at any other visit."""
    body = parsed.body
    visit = Visit.objects.create(
        uid=submission.client_id, organisation_id=submission.organisation_id, root=body.visit,
        parents=[str(parent) for parent in body.parents], submission_seq=submission.seq, purpose=body.purpose,
        plot=parsed.plot, round=parsed.round if body.purpose == "survival" else None,
        observed_on=body.observed_on, clock_offset_ms=body.clock_offset_ms, status=body.status, reason=body.reason,
    )  # fmt: skip
    write_baselines(submission, parsed)
    CountLine.objects.bulk_create(count_lines(visit, parsed))
    RegenerationLine.objects.bulk_create(regeneration_lines(visit, parsed))
    Removal.objects.bulk_create(removal_rows(visit, parsed))
    return visit


def write_baselines(submission: Submission, parsed: Screened) -> None:
    """Add a revision for every baseline line a visit sets; the settling says which is current."""
    if not parsed.body.baselines:
        return
    cohorts = {
        row.uid: row
        for row in Cohort.objects.filter(
            organisation_id=submission.organisation_id, block=parsed.plot.block,
            uid__in=[line.cohort for line in parsed.body.baselines if line.cohort],
        )
    }  # fmt: skip
    PlotBaseline.objects.bulk_create(
        PlotBaseline(
            uid=derived_uid("baseline", parsed.plot.uid, line.line, submission.seq),
            organisation_id=submission.organisation_id,
            line=line.line, revision=submission.seq, is_current=False, plot=parsed.plot,
            species=parsed.species[line.species], cohort=cohorts.get(line.cohort), planted=line.planted,
            unit=line.unit, source=line.source, counted_on=line.counted_on, submission_seq=submission.seq,
        )
        for line in parsed.body.baselines
    )  # fmt: skip


def count_lines(visit: Visit, parsed: Screened) -> list[CountLine]:
    """Return the count lines of a visit as they were written."""
    return [
        CountLine(
            visit=visit, organisation_id=visit.organisation_id, position=position,
            baseline_lines=[str(uid) for uid in line.baselines], species=parsed.species[line.species],
            unit=line.unit, alive=line.alive, dead_stem=line.dead_stem, empty_spot=line.empty_spot,
            not_found=line.not_found or 0, not_found_stated=line.not_found, not_assessed=line.not_assessed,
            resprout=line.resprout, origin_uncertain=line.origin_uncertain, seedlings=line.seedlings,
            signs=line.signs, heights_cm=list(line.heights_cm), spots=list(line.spots),
        )
        for position, line in enumerate(parsed.body.lines)
    ]  # fmt: skip


def regeneration_lines(visit: Visit, parsed: Screened) -> list[RegenerationLine]:
    return [
        RegenerationLine(
            visit=visit, organisation_id=visit.organisation_id, species=parsed.species.get(row.species or ""),
            name=row.name, height_class=row.height_class, count=row.count, capped=row.capped,
            subplot_area_m2=row.subplot_area_m2,
        )
        for row in parsed.body.regeneration
    ]  # fmt: skip


def removal_rows(visit: Visit, parsed: Screened) -> list[Removal]:
    return [
        Removal(
            uid=derived_uid("removal", parsed.plot.uid, visit.uid, number),
            organisation_id=visit.organisation_id, visit=visit,
            plot=parsed.plot, baseline_line=row.baseline, removed_on=row.removed_on,
            alive_removed=row.alive_removed, reason=row.reason,
        )
        for number, row in enumerate(parsed.body.removals)
    ]  # fmt: skip


# --- writing again --------------------------------------------------------------------------
@transaction.atomic
def rebuild(organisation: Organisation) -> int:
    """Drop every row that came from visits and write it again from the log; return how many visits.

    The chain's head is locked meanwhile: a count that arrives waits, and is written once.
    """
    chain.locked_head(organisation)
    drop(organisation)
    plots: dict[int, SurvivalPlot] = {}
    count = 0
    for submission in submissions_in_order(organisation):
        parsed = read_again(organisation, submission)
        write_visit(submission, parsed)
        plots[parsed.plot.pk] = parsed.plot
        count += 1
    for plot in plots.values():
        settling.settle_plot(plot)
        invasives.open_tasks(plot)
    return count


def drop(organisation: Organisation) -> None:
    """Delete the projected rows of an organisation, children first."""
    for model in (Case, CountLine, RegenerationLine, Removal, Visit):
        model.objects.filter(organisation=organisation).delete()
    PlotBaseline.objects.filter(organisation=organisation, submission_seq__isnull=False).delete()


def submissions_in_order(organisation: Organisation) -> Iterable[Submission]:
    return Submission.objects.filter(organisation=organisation, kind="visit").order_by("seq").iterator(2000)


def read_again(organisation: Organisation, submission: Submission) -> Screened:
    """Read a stored record against today's tables; it was attributable when it was stored."""
    body = read_visit(submission.schema, submission.body)
    plot = SurvivalPlot.objects.select_related("block__site").get(organisation=organisation, uid=body.plot)
    survey_round = (
        SurveyRound.objects.filter(organisation=organisation, uid=body.round).first() if body.round else None
    )
    return Screened(body, plot, survey_round, named_species(organisation, body))
