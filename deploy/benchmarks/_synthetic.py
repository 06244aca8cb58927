"""A made-up organisation of any size, written in bulk and as whole as one that grew: the log's chain verifies."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from uuid import UUID

import numpy as np
from django.db import transaction

from monitoring import models as m
from projects import models as p
from projects.identifiers import derived_uid
from projects.services import chain
from species.models import Species

BLOCKS, SPECIES, ROUNDS = 20, 10, 8
PLANTED = 4  # trees of one species in one plot
SEED = 20251


@dataclass(frozen=True)
class Size:
    """Plots in each block: lines = blocks × plots × species × rounds."""

    plots: int

    @classmethod
    def of_lines(cls, lines: int) -> "Size":
        return cls(max(lines // (BLOCKS * SPECIES * ROUNDS), 1))

    @property
    def lines(self) -> int:
        return BLOCKS * self.plots * SPECIES * ROUNDS


@transaction.atomic
def seed(size: Size) -> p.Organisation:
    """Write everything; the same size gives the same counts."""
    organisation = p.Organisation.objects.create(slug="bench", name="Bench", time_zone="Europe/Lisbon")
    project = p.Project.objects.create(organisation=organisation, name="Scale")
    site = p.Site.objects.create(
        organisation=organisation, name="Wide hills", country_code="PT", time_zone="Europe/Lisbon"
    )
    blocks, cohorts = planted_blocks(organisation, project, site, size)
    plots = plots_of(organisation, blocks, size)
    baselines = baselines_of(organisation, plots, cohorts)
    rng = np.random.default_rng(SEED)
    log = Log(organisation)
    alive = np.full((len(plots), SPECIES), PLANTED)
    for number in range(ROUNDS):
        alive = count_round(project, number, plots, baselines, alive, rng, log)
    log.close()
    return organisation


def species_rows() -> list[Species]:
    """Ten species of the bench's own making."""
    names = [f"bench-species-{n}" for n in range(SPECIES)]
    for slug in names:
        Species.objects.get_or_create(
            slug=slug,
            defaults={
                "scientific_name": slug.capitalize(),
                "genus": "Bench",
                "family": "Benchaceae",
                "growth_form": "tree",
                "source": "made up",
            },
        )
    return list(Species.objects.filter(slug__in=names).order_by("slug"))


def planted_blocks(
    organisation: p.Organisation, project: p.Project, site: p.Site, size: Size
) -> tuple[list[p.Block], dict[tuple[int, int], p.Cohort]]:
    """Blocks with their ground, one lot per species, a cohort with its planting day for each pair."""
    season = p.Season.objects.create(
        organisation=organisation,
        kind="planting",
        label="planting",
        starts_on=date(2017, 11, 1),
        ends_on=date(2018, 3, 31),
    )
    nursery = p.Nursery.objects.create(organisation=organisation, name="Nursery")
    blocks, cohorts = [], {}
    lots = [
        p.StockLot.objects.create(
            organisation=organisation, code=f"S{n}", nursery=nursery, species=species, stock_type="container",
            received_on=date(2018, 1, 2), received=BLOCKS * size.plots * PLANTED * 20,
        )
        for n, species in enumerate(species_rows())
    ]  # fmt: skip
    for n in range(BLOCKS):
        block = p.Block.objects.create(
            organisation=organisation, project=project, site=site, name=f"Block {n:02}"
        )
        p.BlockGround.objects.create(
            organisation=organisation, block=block, version=1, gross_area_ha=size.plots / 5,
            net_area_ha=size.plots / 5, valid_from=date(2018, 1, 1),
        )  # fmt: skip
        blocks.append(block)
        for lot in lots:
            cohort = p.Cohort.objects.create(
                organisation=organisation, block=block, lot=lot, season=season, species=lot.species,
                stock_type=lot.stock_type,
            )  # fmt: skip
            cohorts[block.pk, lot.species_id] = cohort
            p.PlantingDay.objects.create(
                organisation=organisation, block=block, cohort=cohort, lot=lot, planted_on=date(2018, 1, 20),
                quantity=size.plots * PLANTED * 20,
            )  # fmt: skip
    return blocks, cohorts


def plots_of(organisation: p.Organisation, blocks: list[p.Block], size: Size) -> list[m.SurvivalPlot]:
    rows = [
        m.SurvivalPlot(organisation=organisation, block=block, name=f"P{n:04}", radius_m=5.64, area_m2=99.93)
        for block in blocks
        for n in range(size.plots)
    ]
    return m.SurvivalPlot.objects.bulk_create(rows, batch_size=2000)


def baselines_of(
    organisation: p.Organisation, plots: list[m.SurvivalPlot], cohorts: dict[tuple[int, int], p.Cohort]
) -> dict[int, list[m.PlotBaseline]]:
    """Every species in every plot."""
    rows = [
        m.PlotBaseline(
            organisation=organisation, line=derived_uid("bench", plot.uid, species.slug), plot=plot, species=species,
            cohort=cohorts[plot.block_id, species.pk], planted=PLANTED, counted_on=date(2018, 2, 1),
        )
        for plot in plots
        for species in species_rows_cached()
    ]  # fmt: skip
    found: dict[int, list[m.PlotBaseline]] = {}
    for row in m.PlotBaseline.objects.bulk_create(rows, batch_size=2000):
        found.setdefault(row.plot_id, []).append(row)
    return found


_species: list[Species] = []


def species_rows_cached() -> list[Species]:
    if not _species:
        _species.extend(species_rows())
    return _species


class Log:
    """The organisation's log, chained in bulk."""

    def __init__(self, organisation: p.Organisation) -> None:
        self.organisation, self.seq, self.hash = organisation, 0, chain.START
        self.rows: list[p.Submission] = []

    def append(self, client_id: UUID, body: str, received_at: datetime) -> int:
        """Chain one visit and return its number."""
        digest, self.seq = chain.sha256_text(body), self.seq + 1
        link = chain.link_hash(
            prev=self.hash, organisation=self.organisation, seq=self.seq, client_id=client_id,
            kind="visit|visit/1|phone", received_at=received_at, leaves=chain.leaves(digest),
        )  # fmt: skip
        self.rows.append(
            p.Submission(
                organisation=self.organisation, seq=self.seq, client_id=client_id, kind="visit", schema="visit/1",
                body=body, body_sha256=digest, received_at=received_at, personal_hash="", prev_hash=self.hash,
                hash=link,
            )
        )  # fmt: skip
        self.hash = link
        return self.seq

    def flush(self) -> None:
        p.Submission.objects.bulk_create(self.rows, batch_size=1000)
        self.rows.clear()

    def close(self) -> None:
        self.flush()
        p.ChainHead.objects.update_or_create(
            organisation=self.organisation, defaults={"seq": self.seq, "hash": self.hash}
        )


def count_round(
    project: p.Project,
    number: int,
    plots: list[m.SurvivalPlot],
    baselines: dict[int, list[m.PlotBaseline]],
    before: np.ndarray,
    rng: np.random.Generator,
    log: Log,
) -> np.ndarray:
    """Count every plot once; of the trees alive before, plots keep different shares. Nothing comes to life again."""
    organisation = project.organisation
    day = date(2018 + number, 9, 10)
    survey_round = round_of(project, number, plots)
    chance = rng.beta(9, 1 if number == 0 else 0.4, size=len(plots))
    alive = rng.binomial(before, chance[:, None])
    visits = list(visits_of(survey_round, day, plots, baselines, alive, log))
    log.flush()
    stored = m.Visit.objects.bulk_create(visits, batch_size=1000)
    lines = (
        m.CountLine(
            organisation=organisation, visit=visit, position=n, baseline=baseline, baseline_lines=[str(baseline.line)],
            species_id=baseline.species_id, planted=PLANTED, alive=int(living[n]), dead_stem=PLANTED - int(living[n]),
        )
        for visit, living in zip(stored, alive, strict=True)
        for n, baseline in enumerate(baselines[visit.plot_id])
    )  # fmt: skip
    for part in slices(lines, 5000):
        m.CountLine.objects.bulk_create(part, batch_size=1000)
    return alive


def round_of(project: p.Project, number: int, plots: list[m.SurvivalPlot]) -> m.SurveyRound:
    organisation, year = project.organisation, 2018 + number
    season = p.Season.objects.create(
        organisation=organisation,
        kind="reporting",
        label=str(year),
        starts_on=date(year, 1, 1),
        ends_on=date(year, 12, 31),
    )
    survey_round = m.SurveyRound.objects.create(
        organisation=organisation, project=project, season=season, name=f"Autumn {year}",
        opens_on=date(year, 9, 1), closes_on=date(year, 10, 31), status="open" if number == ROUNDS - 1 else "closed",
    )  # fmt: skip
    m.RoundPlot.objects.bulk_create(
        [m.RoundPlot(organisation=organisation, round=survey_round, plot=plot) for plot in plots],
        batch_size=2000,
    )
    for block_id in sorted({plot.block_id for plot in plots}):
        m.RoundBlock.objects.create(organisation=organisation, round=survey_round, block_id=block_id)
    return survey_round


def visits_of(
    survey_round: m.SurveyRound,
    day: date,
    plots: list[m.SurvivalPlot],
    baselines: dict[int, list[m.PlotBaseline]],
    alive: np.ndarray,
    log: Log,
) -> Iterator[m.Visit]:
    """One visit per plot, its body in the log."""
    slugs = [species.slug for species in species_rows_cached()]
    for n, plot in enumerate(plots):
        uid = derived_uid("bench visit", survey_round.uid, plot.uid)
        living = [int(count) for count in alive[n]]
        lines = [
            {
                "baselines": [str(baseline.line)],
                "species": slugs[k],
                "alive": living[k],
                "dead_stem": PLANTED - living[k],
            }
            for k, baseline in enumerate(baselines[plot.pk])
        ]
        body = json.dumps(
            {
                "visit": str(uid), "parents": [], "plot": str(plot.uid), "round": str(survey_round.uid),
                "purpose": "survival", "observed_on": day.isoformat(), "captured_at": f"{day}T09:00:00Z",
                "clock_offset_ms": 0, "status": "counted", "reason": "", "lines": lines,
            }
        )  # fmt: skip
        received = datetime(day.year, day.month, day.day, 18, tzinfo=UTC) + timedelta(milliseconds=n)
        yield m.Visit(
            uid=uid, organisation=survey_round.organisation, root=uid, submission_seq=log.append(uid, body, received),
            plot=plot, round=survey_round, observed_on=day, status="counted", clock_offset_ms=0, is_head=True,
            is_counting=True,
        )  # fmt: skip


def slices(rows: Iterator[m.CountLine], size: int) -> Iterator[list[m.CountLine]]:
    """Cut a stream into lists."""
    part: list[m.CountLine] = []
    for row in rows:
        part.append(row)
        if len(part) == size:
            yield part
            part = []
    if part:
        yield part
