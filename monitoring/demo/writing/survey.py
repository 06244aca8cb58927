"""Plots, rounds, phones and every record that phones sent."""

import hashlib
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from decimal import Decimal
from itertools import groupby

from django.db import transaction

from monitoring.demo import SCENARIO_DAY
from monitoring.demo.ground import place
from monitoring.demo.layout import PlotDraw, plan_of
from monitoring.demo.records import Sheet, negative_count
from monitoring.demo.shapes import BlockPlan, OrganisationPlan
from monitoring.demo.sheets import FIRST, LEAD, SECOND, Sheets
from monitoring.demo.writing.people import member
from monitoring.models import Case, CaseKind, Selection, SurveyRound, Visit
from monitoring.services import cases, loss_causes, passes, plot_draws, plots, rounds
from projects.access import Actor
from projects.models import Block, Person, Project, Role, Season
from projects.services import log
from species.models import Species

BATCH = 50
DRAWN_ON = date(2024, 11, 5)  # when the lead drew the plots of the one block that has a stored draw
DEMO_PHONE = "demo phone"
WHOLE = {"whole_block": Selection.CENSUS, "holding": Selection.LIST}


class SurveyBook:
    """Writes the survey of one organisation."""

    def __init__(self, actor: Actor, plan: OrganisationPlan, sheets: Sheets) -> None:
        self.actor, self.plan, self.sheets = actor, plan, sheets
        organisation = actor.organisation
        self.blocks = {row.name: row for row in Block.objects.filter(organisation=organisation)}
        self.projects = {row.name: row for row in Project.objects.filter(organisation=organisation)}
        self.seasons = {row.label: row for row in Season.objects.filter(organisation=organisation)}
        self.rounds: dict[str, SurveyRound] = {}
        self.authors: dict[str, Actor] = {LEAD: member(organisation, Role.FIELD_LEAD)}

    # --- plots --------------------------------------------------------------------------------
    def write_plots(self) -> None:
        """Lay out every plot where it was drawn."""
        for row in self.plan.blocks:
            block = self.blocks[row.name]
            holdings = {holding.label: holding for holding in block.holdings.all()}
            if row.drawn_by:
                self.draw_plots(row, block)
                continue
            for draw in self.sheets.drawn[row.name]:
                plots.make_plot(
                    actor=self.authors[LEAD], block=block, name=draw.name, shape=row.shape, seed=draw.seed,
                    radius_m=row.radius_m, spots=row.spots, holding=holdings.get(draw.name),
                    selection_method=WHOLE.get(row.shape, Selection.RANDOM), draw_note="drawn for the demo",
                    directions=directions(row, draw), **self.position(row, draw),
                )  # fmt: skip

    def draw_plots(self, row: BlockPlan, block: Block) -> None:
        """Draw the plots of a block as its lead would, and write down how to find each."""
        lead = self.authors[LEAD]
        plot_draws.lay_out(
            actor=lead, block=block, frame=plot_draws.ground_frame(block), plan=plan_of(row, self.sheets.seed),
            drawn_on=DRAWN_ON,
        )  # fmt: skip
        found = {plot.name: plot for plot in block.plots.all()}
        for draw in self.sheets.drawn[row.name]:
            plots.edit_plot(actor=lead, plot=found[draw.name], directions=directions(row, draw))

    def position(self, row: BlockPlan, draw: PlotDraw) -> dict[str, float]:
        """Return where a plot lies; a census needs no point."""
        if draw.point_m is None:
            return {}
        site = self.plan.site(row.site)
        latitude, longitude = place(site.latitude, site.longitude, *draw.point_m)
        return {"latitude": latitude, "longitude": longitude}

    # --- rounds and phones --------------------------------------------------------------------
    def open_rounds(self, today: date) -> None:
        """Open every round; those that are over are closed again after their counts are in."""
        for row in self.plan.rounds:
            chosen = [self.blocks[block.name] for block in self.sheets.blocks_of(row)]
            extra = today - SCENARIO_DAY if row.is_open else timedelta(0)
            self.rounds[row.name] = rounds.open_round(
                actor=self.authors[LEAD], project=self.projects[row.project], blocks=chosen, name=row.name,
                season=self.seasons[row.season], opens_on=row.opens_on, closes_on=row.closes_on + extra,
            )  # fmt: skip

    def issue_phones(self) -> None:
        """Give the two volunteers their phones."""
        phones = [person for person in self.plan.people if person.role == "phone"]
        for key, person in zip((FIRST, SECOND), phones, strict=True):
            issued = passes.issue(
                actor=self.actor,
                rounds=list(self.rounds.values()),
                person_name=person.name,
                label=person.name,
            )
            self.authors[key] = passes.actor_of(issued.field_pass)

    def issue_demo_phone(self) -> str:
        """Make the pass whose code the command shows; return the code."""
        volunteer = next(person for person in self.plan.people if person.role == Role.VOLUNTEER)
        person = Person.objects.get(organisation=self.actor.organisation, name=volunteer.name)
        still_open = [self.rounds[row.name] for row in self.plan.rounds if row.is_open]
        if not still_open:
            return ""
        issued = passes.issue(actor=self.actor, rounds=still_open, person=person, label=DEMO_PHONE)
        return issued.code

    def settle_cases(self) -> None:
        """Let the field lead settle the doubts that the scenario calls settled, in favour of what counts now."""
        for row in self.plan.specials:
            if row.settled:
                case = Case.objects.select_related("plot").get(
                    organisation=self.actor.organisation, kind=CaseKind.SECOND_ROOT,
                    plot__block__name=row.block, plot__name=row.plot,
                )  # fmt: skip
                counting = Visit.objects.get(plot=case.plot, round_id=case.round_id, is_counting=True)
                cases.settle_case(
                    actor=self.authors[LEAD],
                    case=case,
                    choice=f"{cases.USE}:{counting.root}",
                    reason=row.settled,
                )

    def assign_causes(self) -> None:
        """Let the field lead say what killed the trees where it is known."""
        species = {
            row.slug: row for row in Species.objects.filter(slug__in=[c.species for c in self.plan.causes])
        }
        for row in self.plan.causes:
            loss_causes.assign_cause(
                actor=self.authors[LEAD], survey_round=self.rounds[row.round], block=self.blocks[row.block],
                cause=row.cause, species=species.get(row.species),
                share=Decimal(row.share) if row.share else None, note=row.note,
            )  # fmt: skip

    def close_rounds(self) -> None:
        """Close the rounds that are over."""
        for row in self.plan.rounds:
            if not row.is_open:
                rounds.close_round(actor=self.authors[LEAD], survey_round=self.rounds[row.name])

    # --- records ------------------------------------------------------------------------------
    def records(self) -> Iterator[Sheet]:
        """Yield every record: baselines, then round by round, then the one that is refused."""
        yield from self.sheets.baseline_sheets()
        for row in self.plan.rounds:
            yield from self.sheets.round_sheets(row)
        if self.plan.specials:
            last = [
                sheet
                for sheet in self.sheets.round_sheets(self.plan.rounds[0])
                if '"lines": [{' in sheet.body
            ]
            yield negative_count(last[-1], self.plan.slug)

    def send(self) -> Iterator[int]:
        """Send the records as phones do, up to 50 at once, and yield how many went."""
        for author, group in groupby(self.records(), key=lambda sheet: sheet.author):
            for batch in batches(group, BATCH):
                with transaction.atomic():
                    log.append_items(self.authors[author], [item_of(sheet) for sheet in batch])
                yield len(batch)


def directions(row: BlockPlan, draw: PlotDraw) -> str:
    """Return how to find a plot."""
    if draw.point_m is None:
        return "every tree of the block"
    if draw.farm is not None:
        return "ask at the farm first"
    return f"{draw.point_m[0]:.0f} m east and {draw.point_m[1]:.0f} m north of the corner post of {row.site}"


def item_of(sheet: Sheet) -> log.Item:
    """Return a record as it travels."""
    return log.Item(
        id=sheet.id, kind="visit", schema="visit/1", sha256=hashlib.sha256(sheet.body.encode()).hexdigest(),
        body=sheet.body, personal=sheet.personal,
    )  # fmt: skip


def batches(rows: Iterable[Sheet], size: int) -> Iterator[list[Sheet]]:
    """Yield slices of at most `size`."""
    batch: list[Sheet] = []
    for row in rows:
        batch.append(row)
        if len(batch) == size:
            yield batch
            batch = []
    if batch:
        yield batch
