"""What people were promised and may gain: agreements with their gains, and gains by years after planting."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from projects import access, figures, readiness_words
from projects.access import Actor
from projects.calc import benefits as calc
from projects.calc import readiness
from projects.models import BenefitKind, Consent, ConsentKind, ExpectedBenefit, Project
from projects.selectors.expected_living import ExpectedLiving, expected_living
from projects.selectors.grounds import with_ground

AGREED = (ConsentKind.COMMUNITY, ConsentKind.LANDHOLDER)


@dataclass(frozen=True)
class BenefitRow:
    """One expected gain with what it comes to; `total` is None where its multiplier is not known, and why."""

    benefit: ExpectedBenefit
    total: calc.Range | None
    basis: str


@dataclass(frozen=True)
class Agreement:
    """An agreement, how it stands today, and the gains written under it."""

    consent: Consent
    state: str
    state_words: str
    benefits: Sequence[BenefitRow] = ()


@dataclass(frozen=True)
class BandRow:
    """Gains of one kind and unit in some years."""

    years: str
    kind: str
    unit: str
    amount: calc.Range


@dataclass(frozen=True)
class ProjectValue:
    """What the page shows of people and what they gain."""

    agreements: Sequence[Agreement] = ()
    others: Sequence[BenefitRow] = ()
    bands: Sequence[BandRow] = ()
    left_out: Sequence[BenefitRow] = ()
    living: ExpectedLiving = field(default_factory=ExpectedLiving)


def project_value(actor: Actor, project: Project, today: date) -> ProjectValue:
    """Read agreements and gains of a project; a fixed number of queries."""
    areas = site_areas(actor, project)
    living = expected_living(project)
    benefits = access.visible_benefits(actor).filter(project=project)
    rows = [_row(benefit, living, areas) for benefit in benefits.select_related("species", "consent__site")]
    consents = list(
        access.visible_consents(actor)
        .filter(kind__in=AGREED, site_id__in=list(areas))
        .order_by("site__name", "given_on", "id")
    )
    shown = {consent.pk for consent in consents}
    return ProjectValue(
        agreements=[_agreement(consent, rows, today) for consent in consents],
        others=[row for row in rows if row.benefit.consent_id not in shown],
        bands=_bands(rows),
        left_out=[row for row in rows if row.total is None],
        living=living,
    )


def site_areas(actor: Actor, project: Project) -> dict[int, float | None]:
    """{site: net area of the project's blocks there}, None where a block's area is not known. [ha]"""
    blocks: Iterable[Any] = with_ground(
        access.visible_blocks(actor).filter(project=project, archived_at__isnull=True)
    )
    found: dict[int, float | None] = {}
    for block in blocks:
        held = found.get(block.site_id, 0.0)
        area = block.net_area_ha
        found[block.site_id] = None if area is None or held is None else held + area
    return found


def _row(benefit: ExpectedBenefit, living: ExpectedLiving, areas: Mapping[int, float | None]) -> BenefitRow:
    site_id = benefit.consent.site_id if benefit.consent else None
    trees = living.of(species_id=benefit.species_id, site_id=site_id)
    known = trees if trees.high > 0 else None
    area = areas.get(site_id) if site_id else _summed(areas)
    amount = calc.Range(benefit.lowest, benefit.highest)
    total = calc.multiplied(benefit.per, amount, known, area)
    return BenefitRow(benefit, total, _basis(benefit.per, known, area))


def _summed(areas: Mapping[int, float | None]) -> float | None:
    held = list(areas.values())
    return None if not held or None in held else sum(area or 0.0 for area in held)


def _basis(per: str, trees: calc.Range | None, area: float | None) -> str:
    if per == calc.TREE:
        if trees is None:
            return _("no plan and no planting says how many of these trees there will be")
        return _("%(low)s to %(high)s living trees") % {
            "low": figures.quantity(trees.low), "high": figures.quantity(trees.high),
        }  # fmt: skip
    if per == calc.HECTARE:
        return _("the net area is not known") if area is None else figures.with_unit(area, "ha")
    return _("as stated")


def _agreement(consent: Consent, rows: Iterable[BenefitRow], today: date) -> Agreement:
    given = readiness.Agreement(consent.kind, consent.given_on, consent.expires_on, consent.withdrawn_on)
    state = readiness.agreement_state(given, today)
    words = str(readiness_words.AGREEMENT_STATES[state])
    return Agreement(consent, state, words, [row for row in rows if row.benefit.consent_id == consent.pk])


def _bands(rows: Iterable[BenefitRow]) -> list[BandRow]:
    gains = [
        calc.Gain(
            (row.benefit.kind, row.benefit.unit.strip()),
            row.benefit.from_year, row.benefit.until_year, row.total,
        )
        for row in rows
        if row.total is not None
    ]  # fmt: skip
    names = dict(BenefitKind.choices)
    return [
        BandRow(_years(band.from_year, band.until_year), str(names[kind]), unit, band.amounts[kind, unit])
        for band in calc.by_years(gains)
        for kind, unit in sorted(band.amounts)
    ]


def _years(first: int, last: int) -> str:
    if first == last:
        return _("year %(year)s") % {"year": first}
    return _("years %(first)s to %(last)s") % {"first": first, "last": last}
