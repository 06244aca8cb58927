"""What follows from a plan's mix, as its papers print it: orders, deliveries, chances, living trees, carbon."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from projects import carbon_words, clocks, figures
from projects.access import Actor
from projects.calc import benefits as gains
from projects.calc.carbon import PLANTED
from projects.calc.lot_clock import limit_for
from projects.calc.mix_living import Living, kinds_together, living_of
from projects.selectors import plan_buying, plan_deliveries, plan_targets
from projects.selectors.carbon import SiteCarbon, project_carbon
from projects.selectors.expected_living import of_plan
from projects.selectors.offers import current_offers
from projects.selectors.plans import PlanFrame

DAYS_A_WEEK = 5  # common practice
CARBON_YEARS = 20


@dataclass(frozen=True)
class PlanSums:
    """Everything that is worked out from a plan's lines, read once."""

    today: date
    expected: dict[int, plan_targets.Expected]
    bought: list[plan_buying.ToBuy]
    deliveries: plan_deliveries.Deliveries
    targets: list[plan_targets.BlockTarget]


def sums_of(actor: Actor, frame: PlanFrame) -> PlanSums:
    """Work a plan out in a fixed number of queries."""
    today = clocks.today_of(actor.organisation)
    expected = plan_targets.expected_of(frame)
    days = plan_buying.days_of_lines(frame, today)
    bought = plan_buying.to_buy(frame, days, current_offers(actor.organisation, today), today)
    waits = {line.stock_type: limit_for(line.stock_type) for line in frame.lines}
    return PlanSums(
        today, expected, bought,
        plan_deliveries.deliveries_of(frame, bought, days, waits, DAYS_A_WEEK, today),
        plan_targets.targets_of(frame, expected),
    )  # fmt: skip


def passed(sums: PlanSums) -> list[plan_buying.ToBuy]:
    """What can no longer be ordered in time."""
    return [row for row in sums.bought if row.order_by is not None and row.order_by < sums.today]


def orders_in(sums: PlanSums) -> list[dict[str, Any]]:
    """Each species and stock type with those who sell it."""
    return [
        {
            "species": row.line.species.scientific_name, "stock_words": str(row.line.get_stock_type_display()),
            "wave": row.line.wave, "plants": row.planted, "wanted": row.ordered, "surplus": row.surplus,
            "first_day": _iso(row.first_day),
            "parts": [_part(part, sums.today) for part in row.parts],
        }
        for row in sums.bought
    ]  # fmt: skip


def _part(part: plan_buying.Part, today: date) -> dict[str, Any]:
    offer = part.offer
    return {
        "nursery": offer.nursery.name if offer else "", "quantity": part.quantity,
        "unit_price_minor": offer.unit_price_minor if offer else None,
        "cost_minor": part.cost_minor, "currency": offer.currency if offer else "",
        "order_by": _iso(part.order_by), "has_passed": part.order_by is not None and part.order_by < today,
    }  # fmt: skip


def deliveries_in(sums: PlanSums) -> dict[str, Any]:
    """When the plants come, and what does not fit into the days there are."""
    found = sums.deliveries
    return {
        "rows": [
            {
                "on": _iso(row.arrives_on), "plant_by": _iso(row.planted_by), "plants": row.quantity,
                "nursery": row.nursery, "stock_words": row.stock_words,
            }
            for row in found.rows
        ],
        "days_a_week": DAYS_A_WEEK, "plants_a_day": found.plants_a_day, "people": found.people,
        "left_over": sum(number for _line, number in found.left_over), "without_days": found.without_days,
    }  # fmt: skip


def chances_in(sums: PlanSums) -> dict[int, dict[str, Any]]:
    """{block: its living trees wanted, the chance of them, and the plants that make it sure enough}."""
    return {
        row.ground.block.pk: {
            "target": row.target, "chance": round(row.found.chance, 6), "n_assured": row.found.n_assured,
            "is_enough": row.is_enough, "does_not_fit": row.does_not_fit,
        }
        for row in sums.targets
        if row.found is not None
    }  # fmt: skip


def living_in(frame: PlanFrame, sums: PlanSums) -> dict[str, Any] | None:
    """Living trees of the whole plan; None without lines, or where the survival of one is not known."""
    if not frame.lines or any(each.is_missing for each in sums.expected.values()):
        return None
    found: Living = living_of(kinds_together(plan_targets.planted_kinds(frame.lines, sums.expected)))
    return {"mean": round(float(found.mean), 6), "low": found.low, "high": found.high}


def carbon_in(actor: Actor, frame: PlanFrame) -> list[dict[str, Any]] | None:
    """A range for each site of the plan whose ecological zone was chosen; None where nobody asked."""
    asked = [site for site in frame.sites if site.ecological_zone]
    if not asked:
        return None
    inputs = {"years": CARBON_YEARS, "forest": PLANTED, "growth_low": None, "growth_high": None}
    rows = project_carbon(actor, frame.plan.project, of_plan(frame.plan), inputs)
    shown = {site.pk for site in asked}
    return [
        {"title": _("Carbon, %(site)s") % {"site": row.site.name}, "words": _carbon_words(row)}
        for row in rows
        if row.site.pk in shown and row.found is not None
    ]


def _carbon_words(row: SiteCarbon) -> list[str]:
    co2: gains.Range = row.co2  # type: ignore[assignment]
    said = _(
        "%(low)s to %(high)s t of carbon dioxide held after %(years)s years if nothing is lost on the way, ends "
        "rounded outward to two digits; %(zone)s, %(source)s."
    ) % {
        "low": figures.quantity(co2.low), "high": figures.quantity(co2.high), "years": CARBON_YEARS,
        "zone": row.zone, "source": row.source,
    }  # fmt: skip
    return [said, *(str(each) for each in carbon_words.CAUTIONS), str(carbon_words.DEFER)]


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
