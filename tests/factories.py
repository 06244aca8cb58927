"""Small makers of rows for tests. Each needs an organisation and fills in what a test does not care about."""

import itertools
from datetime import date, timedelta
from typing import Any

from django.utils import timezone

from monitoring import models as m
from projects import models as p
from projects.identifiers import uuid7
from species.models import Species

counter = itertools.count(1)
PASSWORD = "a long quiet hedge"
# About 142 m by 111 m: 1.58 ha.
SQUARE = {
    "type": "Polygon",
    "coordinates": [[[-7.0, 40.0], [-6.99834, 40.0], [-6.99834, 40.001], [-7.0, 40.001], [-7.0, 40.0]]],
}


def organisation(slug: str = "hill", **fields: Any) -> p.Organisation:
    return p.Organisation.objects.create(slug=slug, name=fields.pop("name", f"The {slug} group"), **fields)


def member(
    org: p.Organisation, role: str, *, email: str = "", projects: list[p.Project] | None = None
) -> p.Membership:
    email = email or f"{role}{next(counter)}@{org.slug}.example"
    user = p.User.objects.filter(email=email).first()
    if user is None:
        user = p.User(email=email)
        # A cheap hash: the tests sign in through force_login, not by checking this.
        user.password = "md5$tests$" + "0" * 32
        user.save()
    person = p.Person.objects.create(organisation=org, user=user, name=f"{role} of {org.slug}")
    membership = p.Membership.objects.create(organisation=org, user=user, person=person, role=role)
    for project in projects or []:
        p.ProjectGrant.objects.create(organisation=org, membership=membership, project=project)
    return membership


def species(slug: str = "quercus-robur", **fields: Any) -> Species:
    name = slug.replace("-", " ").capitalize()
    row, _ = Species.objects.get_or_create(
        slug=slug,
        defaults={
            "scientific_name": name, "genus": name.split()[0], "family": "Family", "growth_form": "tree",
            "source": "invented for a test", **fields,
        },
    )  # fmt: skip
    return row


def project(org: p.Organisation, **fields: Any) -> p.Project:
    return p.Project.objects.create(organisation=org, **{"name": f"Project {next(counter)}", **fields})


def site(org: p.Organisation, **fields: Any) -> p.Site:
    values = {"name": f"Site {next(counter)}", "country_code": "PT", "time_zone": "Europe/Lisbon"}
    return p.Site.objects.create(organisation=org, **{**values, **fields})


def block(
    org: p.Organisation, project_: p.Project, site_: p.Site, *, net_area_ha: float = 2.0, **fields: Any
) -> p.Block:
    values = {"name": f"Block {next(counter)}", "row_spacing_m": 2.5, "in_row_spacing_m": 2.0}
    row = p.Block.objects.create(organisation=org, project=project_, site=site_, **{**values, **fields})
    p.BlockGround.objects.create(
        organisation=org, block=row, version=1, gross_area_ha=net_area_ha, net_area_ha=net_area_ha,
        valid_from=date(2023, 1, 1),
    )  # fmt: skip
    return row


def season(org: p.Organisation, kind: str = "planting", label: str = "", year: int = 2024) -> p.Season:
    label = label or f"{kind} {year}"
    row, _ = p.Season.objects.get_or_create(
        organisation=org, kind=kind, label=label,
        defaults={"starts_on": date(year, 1, 1), "ends_on": date(year, 12, 31)},
    )  # fmt: skip
    return row


def lot(org: p.Organisation, species_: Species, *, received: int = 1000, **fields: Any) -> p.StockLot:
    nursery = fields.pop("nursery", None) or p.Nursery.objects.create(
        organisation=org, name=f"Nursery {next(counter)}"
    )
    values = {"code": f"L{next(counter)}", "stock_type": "bare_root", "received_on": date(2024, 2, 1)}
    return p.StockLot.objects.create(
        organisation=org, nursery=nursery, species=species_, received=received, **{**values, **fields}
    )


def cohort(
    block_: p.Block,
    lot_: p.StockLot,
    season_: p.Season,
    *,
    planted: int = 500,
    planted_on: date = date(2024, 2, 10),
    **fields: Any,
) -> p.Cohort:
    row = p.Cohort.objects.create(
        organisation=block_.organisation, block=block_, lot=lot_, season=season_, species=lot_.species,
        stock_type=lot_.stock_type, unit=lot_.unit, label=f"{lot_.code} in {block_.name}", **fields,
    )  # fmt: skip
    p.PlantingDay.objects.create(
        organisation=block_.organisation,
        block=block_,
        cohort=row,
        lot=lot_,
        planted_on=planted_on,
        quantity=planted,
    )
    return row


def plot(block_: p.Block, name: str = "", **fields: Any) -> m.SurvivalPlot:
    values = {"shape": "circle", "radius_m": 5.64, "area_m2": 99.93}
    return m.SurvivalPlot.objects.create(
        organisation=block_.organisation,
        block=block_,
        name=name or f"P{next(counter)}",
        **{**values, **fields},
    )


def plot_draw(block_: p.Block, *, seed: int = 7, n: int = 2, **fields: Any) -> m.PlotDraw:
    """A stored draw of a small square of ground; its plots are not laid out."""
    from monitoring.calc.plot_frames import Plan, draw

    frame = fields.pop("frame", SQUARE)
    plan = Plan("random", n, fields.pop("n_spares", 1), seed, radius_m=5.64)
    found = draw(frame, plan)
    return m.PlotDraw.objects.create(
        organisation=block_.organisation, block=block_, method=plan.method, seed=seed, n_plots=n,
        n_spares=plan.n_spares, radius_m=plan.radius_m, frame=frame, frame_sha256=found.frame_sha256,
        points=list(found.points), drawn_on=date(2024, 3, 1), code_version=found.code_version, **fields,
    )  # fmt: skip


def baseline(
    plot_: m.SurvivalPlot, species_: Species, planted: int | None = 20, **fields: Any
) -> m.PlotBaseline:
    values = {"line": uuid7(), "counted_on": date(2024, 3, 1)}
    return m.PlotBaseline.objects.create(
        organisation=plot_.organisation, plot=plot_, species=species_, planted=planted, **{**values, **fields}
    )


def survey_round(project_: p.Project, plots: list[m.SurvivalPlot], **fields: Any) -> m.SurveyRound:
    org = project_.organisation
    values = {
        "season": fields.pop("season", None) or season(org, "reporting", year=2025),
        "name": f"Round {next(counter)}", "opens_on": date(2025, 9, 1), "closes_on": date(2025, 10, 31),
    }  # fmt: skip
    row = m.SurveyRound.objects.create(organisation=org, project=project_, **{**values, **fields})
    m.RoundPlot.objects.bulk_create([m.RoundPlot(organisation=org, round=row, plot=plot_) for plot_ in plots])
    for block_id in sorted({plot_.block_id for plot_ in plots}):
        m.RoundBlock.objects.create(organisation=org, round=row, block_id=block_id)
    return row


def field_pass(
    round_: m.SurveyRound, *, person: p.Person | None = None, secret: str = "credential"
) -> p.FieldPass:
    import hashlib

    org = round_.organisation
    person = person or p.Person.objects.create(organisation=org, name="Volunteer with a phone")
    row = p.FieldPass.objects.create(
        organisation=org, person=person, label="phone", expires_at=timezone.now() + timedelta(days=90),
        credential_hash=hashlib.sha256(secret.encode()).hexdigest(), enrolled_at=timezone.now(),
    )  # fmt: skip
    m.FieldPassRound.objects.create(organisation=org, field_pass=row, round=round_)
    return row
