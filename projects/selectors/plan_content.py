"""Everything a plan's papers show, as plain data: what an approval freezes. A fixed number of queries."""

from math import ceil
from typing import Any

from django.utils.translation import override

from projects import clocks, plan_words
from projects.access import Actor
from projects.documents.names import named
from projects.models import ExpectedBenefit, Plan, ProjectPurpose, Season
from projects.selectors import day_rules, plan_sums
from projects.selectors.money import project_money
from projects.selectors.plan_places import iso, places_of, rounded
from projects.selectors.plans import PlanFrame, frame_of

SCHEMA = "plan-content/1"


def content_of(actor: Actor, plan: Plan) -> dict[str, Any]:
    """Read a plan as it stands today, in words of the organisation's language."""
    with override(actor.organisation.language):
        return _content(actor, plan)


def _content(actor: Actor, plan: Plan) -> dict[str, Any]:
    frame, organisation, project = frame_of(actor, plan), actor.organisation, plan.project
    sums = plan_sums.sums_of(actor, frame)
    return {
        "schema": SCHEMA,
        "units": organisation.units,
        "language": organisation.language,
        "organisation": organisation.name,
        "plan": plan_of(plan),
        "project": {
            "name": project.name, "purpose": project.purpose, "funder": project.funder_name,
            "target_survival": float(project.target_survival), "check_age_months": project.check_age_months,
            "check_age_seasons": project.check_age_seasons, "currency": project.currency,
            "target_per_ha": project.target_stocking_per_ha,
            "purposes": [
                [str(row.get_use_display()), row.weight] for row in ProjectPurpose.objects.filter(project=project)
            ],
        },
        **places_of(actor, frame, sums),
        "totals": totals_of(frame),
        "living": plan_sums.living_in(frame, sums),
        "crew": crew_of(frame),
        "orders": plan_sums.orders_in(sums),
        "deliveries": plan_sums.deliveries_in(sums) if frame.lines else None,
        "money": money_of(actor, plan),
        "benefits": benefits_of(plan),
        "carbon": plan_sums.carbon_in(actor, frame),
        "day_rules": rules_of(actor, plan),
        "cautions": plan_words.cautions(),
    }  # fmt: skip


def plan_of(plan: Plan) -> dict[str, Any]:
    zone = clocks.zone(plan.organisation.time_zone)
    return {
        "uid": str(plan.uid), "version": plan.version, "title": plan.title, "note": plan.note,
        "based_on": plan.based_on.version if plan.based_on else None,
        "approved_on": iso(plan.approved_at.astimezone(zone).date()) if plan.approved_at else None,
        "approved_by": named(plan.approved_by), "approved_role": "",
        "season": season_of(plan.season), "second_season": season_of(plan.second_season),
        "assurance": plan.assurance, "cull_share": plan.cull_share,
        "handling_loss_share": plan.handling_loss_share, "slack_weeks": plan.slack_weeks,
        "crew_people": plan.crew_people, "trees_per_person_day": plan.trees_per_person_day,
    }  # fmt: skip


def season_of(season: Season | None) -> dict[str, Any] | None:
    if season is None:
        return None
    return {"label": season.label, "starts_on": iso(season.starts_on), "ends_on": iso(season.ends_on)}


def totals_of(frame: PlanFrame) -> dict[str, Any]:
    """Plants, species, ground and, currency by currency, what the plants themselves cost."""
    costs: dict[str, int] = {}
    for line in frame.lines:
        if line.unit_price_minor is not None:
            costs[line.currency] = costs.get(line.currency, 0) + line.unit_price_minor * line.quantity
    return {
        "plants": sum(line.quantity for line in frame.lines),
        "species": len({line.species_id for line in frame.lines}),
        "blocks": len(frame.used),
        "sites": len({each.block.site_id for each in frame.used}),
        "net_area_ha": rounded(sum(each.net_area_ha or 0 for each in frame.used)),
        "plant_costs": sorted([currency, minor] for currency, minor in costs.items()),
        "lines_without_price": sum(line.unit_price_minor is None for line in frame.lines),
    }


def crew_of(frame: PlanFrame) -> dict[str, Any] | None:
    """Person-days and days of the crew, block by block; None where nothing is planted."""
    plan = frame.plan
    if not frame.lines:
        return None
    rate = plan.trees_per_person_day
    numbers = {each.block.pk: number for number, each in enumerate(frame.meant, 1)}
    rows = [
        {
            "block": each.block.name, "number": numbers[each.block.pk], "plants": each.planted,
            "person_days": rounded(each.planted / rate), "days": ceil(each.planted / (rate * plan.crew_people)),
        }
        for each in frame.used
    ]  # fmt: skip
    total = sum(each.planted for each in frame.used)
    return {
        "rows": rows, "plants": total, "person_days": rounded(total / rate),
        "days": ceil(total / (rate * plan.crew_people)),
    }  # fmt: skip


def money_of(actor: Actor, plan: Plan) -> dict[str, Any] | None:
    """The project's money by season and kind in its own currency; None where none is planned."""
    found = project_money(actor, plan.project)
    if not found.lines:
        return None
    table = found.table
    return {
        "currency": plan.project.currency,
        "seasons": [
            {
                "label": row.label, "planned": row.money.planned, "spent": row.money.spent,
                "kinds": [[kind.label, kind.money.planned, kind.money.spent] for kind in row.kinds],
            }
            for row in found.seasons
        ],
        "planned": table.total.planned, "spent": table.total.spent, "set_aside": table.set_aside,
        "share": plan.project.contingency_share, "with_set_aside": table.planned_with_set_aside,
        "budget": plan.project.budget_minor, "left_out": len(found.left_out), "converted": len(found.converted),
    }  # fmt: skip


def benefits_of(plan: Plan) -> list[dict[str, Any]]:
    """What somebody may gain, as the ranges written down."""
    rows = ExpectedBenefit.objects.filter(project=plan.project).select_related("species", "consent")
    return [
        {
            "what": str(row.get_kind_display()), "species": row.species.scientific_name if row.species else "",
            "from_year": row.from_year, "until_year": row.until_year, "lowest": row.lowest, "highest": row.highest,
            "unit": row.unit, "per": str(row.get_per_display()), "source": row.source,
            "agreement": str(row.consent.get_kind_display()) if row.consent else "",
        }
        for row in rows
    ]  # fmt: skip


def rules_of(actor: Actor, plan: Plan) -> list[dict[str, str]]:
    found = day_rules.in_force(actor.organisation, plan.project)
    return [
        {"when": row.when, "beside": row.beside, "then": row.effect, "source": row.rule.source} for row in found.rows
    ]  # fmt: skip
