"""How far a plan is: what stands and what is missing at each step, in a fixed number of queries."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from projects import access, clocks, figures, plan_steps
from projects.access import Actor
from projects.models import (
    Consent,
    ExpectedBenefit,
    PlantingWindow,
    ProjectPurpose,
    SoilSample,
    StockType,
)
from projects.plan_steps import DONE, OPEN, STOP, page_of
from projects.selectors import plan_buying
from projects.selectors.money import project_money
from projects.selectors.offers import current_offers
from projects.selectors.plans import Ground, PlanFrame
from projects.selectors.readiness import SiteReadiness, readiness_of_sites


@dataclass(frozen=True)
class StepRow:
    """One step as the page shows it."""

    number: int
    title: str
    state: str
    words: str
    url: str
    places: list[dict[str, Any]] = field(default_factory=list)


def step_rows(actor: Actor, frame: PlanFrame) -> list[StepRow]:
    """Every step in order."""
    own = {
        order: (title, read(actor, frame))
        for order, (title, read) in OWN.items()
        if order not in registered()
    }
    more = {order: (step.title, step.read(actor, frame.plan)) for order, step in registered().items()}
    rows = sorted((own | more).items())
    return [
        StepRow(
            number, str(title), found["state"], str(found["words"]), found.get("url", ""), found.get("places", [])
        )
        for number, (_order, (title, found)) in enumerate(rows, 1)
    ]  # fmt: skip


def registered() -> dict[int, plan_steps.PlanStep]:
    return plan_steps.registered


def worst(places: Iterable[dict[str, Any]]) -> str:
    """The state of a step from the states of its places."""
    states = {place["state"] for place in places}
    return next((state for state in (STOP, OPEN) if state in states), DONE)


def ready(actor: Actor, frame: PlanFrame) -> dict[str, Any]:
    found = readiness_of_sites(frame.sites, frame.days)
    places = [
        {
            "name": site.name, "url": page_of(actor, "assessment", site.uid),
            **_site_words(site.emergency_contact, found[site.pk]),
        }
        for site in frame.sites
    ]  # fmt: skip
    if not places:
        return {"state": OPEN, "words": _("The project has no block yet."), "url": _project(actor, frame)}
    n_ready = sum(place["state"] != STOP for place in places)
    words = ngettext("%(n)s of %(all)s site is ready.", "%(n)s of %(all)s sites are ready.", len(places))
    return {"state": worst(places), "words": words % {"n": n_ready, "all": len(places)}, "places": places}


def _site_words(emergency: str, found: SiteReadiness) -> dict[str, str]:
    said = []
    if found.standing:
        said.append(_("stopped by %(what)s") % {"what": _listed(row.title for row in found.standing)})
    if found.unknown:
        said.append(_("not known yet: %(what)s") % {"what": _listed(row.title for row in found.unknown)})
    if found.overridden:
        said.append(
            _("a manager answers for %(what)s") % {"what": _listed(row.title for row in found.overridden)}
        )
    if found.ending:
        number = len(found.ending)
        said.append(
            ngettext(
                "%(n)s agreement has ended or ends soon", "%(n)s agreements have ended or end soon", number
            )
            % {"n": number}
        )
    if not emergency:
        said.append(_("no emergency number"))
    state = DONE if found.is_ready and emergency and not found.ending else OPEN
    return {
        "state": STOP if found.blocking else state,
        "words": "; ".join(said) or _("nothing known stops it"),
    }


def _listed(words: Iterable[str]) -> str:
    return ", ".join(words)


def species_known(actor: Actor, frame: PlanFrame) -> dict[str, Any]:
    """Whether there are facts to judge species by; the species themselves are judged on the block's page."""
    samples = SoilSample.objects.filter(site_id__in=[site.pk for site in frame.sites])
    sampled = set(samples.values_list("site_id", "block_id"))
    places = [_facts_words(actor, each, sampled) for each in frame.meant]
    words = _("Each block has its page: which species fit, and what limits each.")
    return {"state": worst(places), "words": words, "places": places}


def _facts_words(actor: Actor, each: Ground, sampled: set[tuple[int, int | None]]) -> dict[str, Any]:
    block = each.block
    missing = [] if block.site.climate_normals else [_("the climate")]
    if not {(block.site_id, block.pk), (block.site_id, None)} & sampled:
        missing.append(_("the soil"))
    words = (
        _("climate and soil are known")
        if not missing
        else _("not known: %(what)s") % {"what": _listed(missing)}
    )
    return {
        "name": _place(block), "state": OPEN if missing else DONE, "words": words,
        "url": page_of(actor, "species_chooser", block.uid),
    }  # fmt: skip


def _place(block: Any) -> str:
    return _("%(site)s, %(block)s") % {"site": block.site.name, "block": block.name}


def windows(actor: Actor, frame: PlanFrame) -> dict[str, Any]:
    rows = PlantingWindow.objects.filter(block_id__in=[each.block.pk for each in frame.meant])
    written: dict[int, set[str]] = {}
    for block_id, site_id, stock_type, closes_on in rows.values_list(
        "block_id", "block__site_id", "stock_type", "closes_on"
    ):
        if closes_on >= frame.days[site_id]:
            written.setdefault(block_id, set()).add(stock_type)
    places = [_window_words(actor, each, written.get(each.block.pk, set())) for each in frame.meant]
    season = frame.plan.season
    if season is None:
        return {
            "state": OPEN, "words": _("No planting season is chosen yet."), "places": places,
            "url": page_of(actor, "plan_edit", frame.plan.uid),
        }  # fmt: skip
    words = _("Season %(label)s, %(days)s.") % {
        "label": season.label, "days": figures.span(season.starts_on, season.ends_on)
    }  # fmt: skip
    return {"state": worst(places), "words": words, "places": places}


def _window_words(actor: Actor, each: Ground, written: set[str]) -> dict[str, Any]:
    labels = dict(StockType.choices)
    lacking = {line.stock_type for line in each.lines} - written
    said = [str(labels[name]) for name in labels if name in written]
    words = _("written down for %(what)s") % {"what": _listed(said)} if said else _("none is written down")
    if said and lacking:
        names = (str(labels[name]) for name in labels if name in lacking)
        words = _("%(words)s; not for %(what)s, which the mix uses") % {
            "words": words,
            "what": _listed(names),
        }
    return {
        "name": _place(each.block), "state": OPEN if lacking or not said else DONE, "words": words,
        "url": page_of(actor, "block_windows", each.block.uid),
    }  # fmt: skip


def mix(actor: Actor, frame: PlanFrame) -> dict[str, Any]:
    url = page_of(actor, "plan_mix", frame.plan.uid)
    if not frame.lines:
        return {"state": OPEN, "words": _("Nothing is chosen yet."), "url": url}
    words = _("%(plants)s plants of %(species)s species in %(n)s of %(all)s blocks.") % {
        "plants": figures.quantity(sum(line.quantity for line in frame.lines)),
        "species": len({line.species_id for line in frame.lines}),
        "n": len(frame.used), "all": len(frame.grounds),
    }  # fmt: skip
    places = [
        {
            "name": _place(each.block), "state": DONE if each.lines else OPEN, "url": "",
            "words": _planted_words(each),
        }
        for each in frame.grounds
    ]  # fmt: skip
    return {"state": DONE, "words": words, "url": url, "places": places}


def _planted_words(each: Ground) -> str:
    if not each.lines:
        return _("nothing is planted here by this version")
    said = {"n": figures.quantity(each.planted), "spots": figures.quantity(each.spots)}
    if each.spots is None:
        return _("%(n)s plants; spacing or area is not known") % said
    return _("%(n)s plants on %(spots)s planting spots") % said


def quantities(actor: Actor, frame: PlanFrame) -> dict[str, Any]:
    """Orders drafted from this plan; before there are any, the first day that must not be missed."""
    url, plan = page_of(actor, "plan_quantities", frame.plan.uid), frame.plan
    if not frame.lines:
        return {"state": OPEN, "words": _("Waits for the mix."), "url": url}
    if n_orders := len(plan_buying.orders_of_plan(str(plan.uid), plan.project_id)):
        words = ngettext("%(n)s order is drafted from it.", "%(n)s orders are drafted from it.", n_orders)
        return {"state": DONE, "words": words % {"n": n_orders}, "url": url}
    today = clocks.today_of(actor.organisation)
    days = plan_buying.days_of_lines(frame, today)
    bought = plan_buying.to_buy(frame, days, current_offers(actor.organisation, today), today)
    said = [_first_order(bought, today)]
    if missing := sum(row.missing for row in bought):
        words = ngettext(
            "Nobody is known to sell %(n)s plant.", "Nobody is known to sell %(n)s of the plants.", missing
        )
        said.append(words % {"n": figures.quantity(missing)})
    return {"state": OPEN, "words": " ".join(part for part in said if part), "url": url}


def _first_order(bought: Sequence[plan_buying.ToBuy], today: date) -> str:
    days = [row.order_by for row in bought if row.order_by is not None]
    if not days:
        return _("No order is drafted yet.")
    if (first := min(days)) < today:
        words = _("No order is drafted yet, and the first had to be placed by %(day)s.")
    else:
        words = _("No order is drafted yet; the first must be placed by %(day)s.")
    return words % {"day": figures.day(first)}


def money(actor: Actor, frame: PlanFrame) -> dict[str, Any]:
    project, found = frame.plan.project, project_money(actor, frame.plan.project)
    url = page_of(actor, "project_money", project.uid)
    planned = found.table.planned_with_set_aside
    if not planned:
        return {"state": OPEN, "words": _("No money is planned yet."), "url": url}
    said = {
        "planned": figures.money(planned, project.currency),
        "budget": figures.money(project.budget_minor, project.currency),
        "over": figures.money(found.over_budget, project.currency),
    }
    if project.budget_minor is None:
        words = _("%(planned)s planned with what is set aside; no budget is set.")
        return {"state": OPEN, "words": words % said, "url": url}
    if found.over_budget:
        words = _("%(planned)s planned with what is set aside, %(over)s more than the budget of %(budget)s.")
        return {"state": OPEN, "words": words % said, "url": url}
    words = _("%(planned)s planned with what is set aside, of a budget of %(budget)s.")
    return {"state": DONE, "words": words % said, "url": url}


def people(actor: Actor, frame: PlanFrame) -> dict[str, Any]:
    project = frame.plan.project
    ids = [site.pk for site in frame.sites]
    agreed = Consent.objects.filter(
        site_id__in=ids, kind__in=("community", "landholder"), withdrawn_on__isnull=True
    ).count()
    gains = ExpectedBenefit.objects.filter(project=project).count()
    purposes = ProjectPurpose.objects.filter(project=project).count()
    said = [
        ngettext("%(n)s agreement with people", "%(n)s agreements with people", agreed) % {"n": agreed},
        ngettext("%(n)s expected gain", "%(n)s expected gains", gains) % {"n": gains},
        ngettext("%(n)s purpose weighed", "%(n)s purposes weighed", purposes) % {"n": purposes},
    ]
    return {
        "state": DONE if agreed and gains and purposes else OPEN, "words": _("%(what)s.") % {"what": _listed(said)},
        "url": page_of(actor, "project_value", project.uid),
    }  # fmt: skip


def day_rules(actor: Actor, frame: PlanFrame) -> dict[str, Any]:
    wanted = Q(project__isnull=True) | Q(project=frame.plan.project)
    count = access.visible_day_rules(actor).filter(wanted).count()
    words = ngettext("%(n)s rule for the crew.", "%(n)s rules for the crew.", count) % {"n": count}
    return {
        "state": DONE if count else OPEN, "words": words if count else _("No rule is written down."),
        "url": page_of(actor, "project_day_rules", frame.plan.project.uid) or page_of(actor, "day_rules"),
    }  # fmt: skip


def document(actor: Actor, frame: PlanFrame) -> dict[str, Any]:
    plan = frame.plan
    if plan.is_draft:
        words = _("Draft: read it, hand it round, then have it approved.")
        return {"state": OPEN, "words": words, "url": page_of(actor, "plan_document", plan.uid)}
    words = _("Approved on %(day)s; it never changes.") % {"day": figures.day(plan.approved_at)}
    return {"state": DONE, "words": words, "url": page_of(actor, "plan_document", plan.uid)}


def _project(actor: Actor, frame: PlanFrame) -> str:
    return page_of(actor, "project_detail", frame.plan.project.uid)


OWN = {
    10: (gettext_lazy("Is the ground ready, and who has agreed?"), ready),
    20: (gettext_lazy("Which species fit"), species_known),
    30: (gettext_lazy("When each kind of stock can go in"), windows),
    40: (gettext_lazy("The mix"), mix),
    50: (gettext_lazy("How many to order, and by when"), quantities),
    60: (gettext_lazy("What it costs"), money),
    70: (gettext_lazy("Who looks after the trees, and what they gain"), people),
    80: (gettext_lazy("When the crew does not plant"), day_rules),
    90: (gettext_lazy("The document"), document),
}
