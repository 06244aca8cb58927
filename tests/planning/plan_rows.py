"""A small project with a plan that may be approved: one site in order, two blocks, a mix."""

from datetime import date, timedelta
from typing import Any

from django.utils import timezone

from projects import models as p
from projects.access import Actor, member_actor
from projects.calc.readiness import NO, QUESTIONS, YES
from projects.services import plans
from species.models import RangeStatus
from tests import factories

NORMALS = {
    "mean_minimum_c": [2, 3, 5, 7, 10, 13, 15, 15, 13, 10, 5, 3],
    "mean_maximum_c": [10, 11, 14, 16, 20, 25, 29, 29, 25, 19, 13, 10],
    "rain_mm": [120, 110, 90, 80, 70, 35, 15, 15, 50, 100, 120, 130],
}


def ready_site(org: p.Organisation, **fields: Any) -> p.Site:
    """A site nothing speaks against, with a boundary, normals and a number to call."""
    values = {
        "name": "Vale", "boundary": factories.SQUARE, "emergency_contact": "112, at the chapel",
        "climate_normals": NORMALS, "climate_source": "a gauge nearby", "gross_area_ha": 1.58,
    }  # fmt: skip
    site = factories.site(org, **{**values, **fields})
    no_stop = {name: NO if stops == YES else YES for name, stops in QUESTIONS.items()}
    p.SiteAssessment.objects.create(
        organisation=org, site=site, answers=no_stop, hazards="Old well by the gate."
    )
    for kind in ("tenure", "consent"):
        p.Consent.objects.create(
            organisation=org, site=site, kind=kind, with_whom="Ana Reis", what="may plant", reference=f"{kind} 7",
            given_on=date(2024, 1, 5),
        )  # fmt: skip
    return site


def mixed(
    plan: p.Plan, block: p.Block, slug: str = "quercus-robur", quantity: int = 300, **fields: Any
) -> p.MixLine:
    """One line of a mix, of a species that is native there."""
    species = factories.species(slug)
    RangeStatus.objects.get_or_create(
        species=species, country_code="PT", region="", defaults={"status": "native", "source": "a test"}
    )
    values = {
        "stock_type": "bare_root", "wave": 1, "survival_mean": 0.8, "survival_low": 0.6, "survival_high": 0.9,
        "survival_source": "common practice", "unit_price_minor": 55, "currency": "EUR",
    }  # fmt: skip
    return p.MixLine.objects.create(
        organisation=plan.organisation, plan=plan, block=block, species=species, quantity=quantity,
        **{**values, **fields},
    )  # fmt: skip


class Planned:
    """One organisation with a project, a ready site, two blocks and a draft that plants both."""

    def __init__(self, **organisation: Any) -> None:
        self.org = factories.organisation(**organisation)
        self.manager = factories.member(self.org, "manager")
        self.actor: Actor = member_actor(self.manager)
        self.project = factories.project(self.org, name="Hedges", purpose="Shade for the school.")
        self.site = ready_site(self.org)
        self.blocks = [
            factories.block(self.org, self.project, self.site, name=name, net_area_ha=0.5) for name in ("East", "West")
        ]  # fmt: skip
        today = timezone.now().date()
        self.season = p.Season.objects.create(
            organisation=self.org, kind="planting", label="This winter", starts_on=today,
            ends_on=today + timedelta(days=120),
        )  # fmt: skip
        self.window = p.PlantingWindow.objects.create(
            organisation=self.org, block=self.blocks[0], stock_type="bare_root", opens_on=today,
            closes_on=today + timedelta(days=60), closes_because="buds swell",
        )  # fmt: skip
        self.plan = plans.begin_plan(actor=self.actor, project=self.project, title="First try")
        self.lines = [
            mixed(self.plan, self.blocks[0]),
            mixed(self.plan, self.blocks[1], quantity=200),
            mixed(self.plan, self.blocks[1], "acer-campestre", 100, stock_type="container"),
        ]
