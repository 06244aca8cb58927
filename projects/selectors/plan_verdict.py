"""What speaks against approving a plan: reasons that forbid it, and those a manager should know of."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import clocks, figures, mix_words
from projects.access import Actor
from projects.calc import mix_rules
from projects.calc import readiness as calc
from projects.models import Plan
from projects.plan_steps import page_of
from projects.selectors import plan_buying, plan_sums
from projects.selectors.mix_page import MixFacts
from projects.selectors.plan_places import statuses_of
from projects.selectors.plan_windows import windows_of_blocks
from projects.selectors.plans import Ground, PlanFrame
from projects.selectors.readiness import SiteReadiness, readiness_of_sites
from species.models import RangeStatus

INVASIVE, INTRODUCED = str(RangeStatus.Status.INVASIVE), str(RangeStatus.Status.INTRODUCED)
UNKNOWN = str(RangeStatus.Status.UNKNOWN)
SOON = timedelta(days=calc.SOON_DAYS)


@dataclass(frozen=True)
class Objection:
    """One reason in words, and the page where it can be mended."""

    words: str
    url: str = ""


@dataclass
class Verdict:
    """Everything found; `against` forbids approval."""

    against: list[Objection] = field(default_factory=list)
    warnings: list[Objection] = field(default_factory=list)


more: list[Callable[[Actor, Plan], list[str]]] = []  # warnings of other parts, each a sentence


def warn(reader: Callable[[Actor, Plan], list[str]]) -> None:
    """Let another part of planning warn before a plan is approved."""
    if reader not in more:
        more.append(reader)


def verdict_of(actor: Actor, frame: PlanFrame) -> Verdict:
    """Judge a plan in a fixed number of queries."""
    found = Verdict()
    if not frame.lines:
        url = page_of(actor, "plan_mix", frame.plan.uid)
        found.against.append(Objection(_("Nothing is planted by this plan: choose a mix first."), url))
    _sites(actor, frame, found)
    _species(actor, frame, found)
    _blocks(actor, frame, found)
    _season(actor, frame, found)
    _mix(actor, frame, found)
    _buying(actor, frame, found)
    found.warnings += [Objection(words) for reader in more for words in reader(actor, frame.plan)]
    return found


def _sites(actor: Actor, frame: PlanFrame, found: Verdict) -> None:
    ready = readiness_of_sites(frame.sites, frame.days)
    for site in frame.sites:
        url, state = page_of(actor, "assessment", site.uid), ready[site.pk]
        if state.blocking and frame.lines:
            said = {"site": site.name, "stops": ", ".join(row.title for row in state.stops if row.blocks)}
            words = _("%(site)s is not ready: %(stops)s. Clear it, or answer for it by name.") % said
            found.against.append(Objection(words, url))
        found.warnings += [Objection(words, url) for words in _agreements(site.name, state, frame.plan)]
        if not site.emergency_contact:
            words = _("%(site)s has no emergency number. Find it out before anybody goes there.")
            found.warnings.append(Objection(words % {"site": site.name}, url))


def _agreements(site: str, state: SiteReadiness, plan: Plan) -> list[str]:
    """Agreements that ended, end soon, or end before the last of the plan's seasons does."""
    until = max((each.ends_on for each in (plan.season, plan.second_season) if each), default=None)
    found = []
    for row in state.consents:
        ends_on = row.consent.expires_on
        before = until is not None and ends_on is not None and ends_on < until
        if row.state in (calc.ENDED, calc.ENDS_SOON) or (row.state == calc.IN_FORCE and before):
            said = {"site": site, "what": row.consent.get_kind_display(), "day": figures.day(ends_on)}
            found.append(_("%(site)s: %(what)s ends on %(day)s.") % said)
    return found


def _species(actor: Actor, frame: PlanFrame, found: Verdict) -> None:
    statuses = statuses_of(actor, frame)
    url, unknown = page_of(actor, "plan_mix", frame.plan.uid), set()
    for each in frame.used:
        for line in each.lines:
            status = statuses.get((line.species_id, each.block.site_id), UNKNOWN)
            said = {"species": line.species.scientific_name, "block": each.block.name}
            if status == INVASIVE:
                words = _("%(species)s is invasive where %(block)s lies; it may not be planted.")
                found.against.append(Objection(words % said, url))
            elif status == INTRODUCED and not line.introduced_reason.strip():
                words = _("%(species)s comes from elsewhere; say why it is planted in %(block)s.")
                found.against.append(Objection(words % said, url))
            elif status == UNKNOWN:
                unknown.add(line.species.scientific_name)
    if unknown:
        words = _("Nobody has said whether these are native here: %(species)s.")
        found.warnings.append(Objection(words % {"species": ", ".join(sorted(unknown))}, url))


def _blocks(actor: Actor, frame: PlanFrame, found: Verdict) -> None:
    windows = windows_of_blocks(frame)
    for each in frame.used:
        block, url = each.block, page_of(actor, "block_windows", each.block.uid)
        if each.spots is not None and each.planted > each.spots:
            said = {
                "block": block.name,
                "n": figures.quantity(each.planted),
                "spots": figures.quantity(each.spots),
            }
            words = _("%(block)s: %(n)s plants are more than its %(spots)s planting spots.") % said
            found.warnings.append(Objection(words, page_of(actor, "plan_mix", frame.plan.uid)))
        written = {row["stock_type"] for row in windows[block.pk]}
        lacking = sorted(
            {str(line.get_stock_type_display()) for line in each.lines if line.stock_type not in written}
        )
        if lacking:
            words = _("%(block)s has no planting window for %(what)s.")
            found.warnings.append(Objection(words % {"block": block.name, "what": ", ".join(lacking)}, url))
        found.warnings += [Objection(words, url) for words in _outside_season(each, frame, windows[block.pk])]


def _outside_season(each: Ground, frame: PlanFrame, windows: list[dict]) -> list[str]:
    """Stock types whose windows all miss the season of their wave."""
    found = []
    for wave, season in ((1, frame.plan.season), (2, frame.plan.second_season)):
        types = {line.stock_type for line in each.lines if line.wave == wave}
        for stock_type in sorted(types) if season else ():
            spans = [row for row in windows if row["stock_type"] == stock_type]
            meets = any(
                date.fromisoformat(row["opens_on"]) <= season.ends_on
                and date.fromisoformat(row["closes_on"]) >= season.starts_on
                for row in spans
            )
            if spans and not meets:
                said = {"block": each.block.name, "what": spans[0]["stock_words"], "season": season.label}
                found.append(_("%(block)s: no window for %(what)s falls into the season %(season)s.") % said)
    return found


def _mix(actor: Actor, frame: PlanFrame, found: Verdict) -> None:
    """Rules of the mix that are broken; spots and offers are told elsewhere."""
    url, page = page_of(actor, "plan_mix", frame.plan.uid), MixFacts(frame.plan, frame).page()
    said = [(each.ground.block.name, rule) for each in page.blocks for rule in each.broken]
    said += [(str(_("The whole plan")), rule) for rule in page.broken]
    for place, rule in said:
        if rule.kind not in mix_rules.FIRM:
            words = _("%(place)s breaks a rule of the mix: %(rule)s.")
            found.warnings.append(
                Objection(words % {"place": place, "rule": mix_words.BROKEN[rule.kind]}, url)
            )


def _buying(actor: Actor, frame: PlanFrame, found: Verdict) -> None:
    url, sums = page_of(actor, "plan_quantities", frame.plan.uid), plan_sums.sums_of(actor, frame)
    passed, plan = plan_sums.passed(sums), frame.plan
    placed = plan_buying.placed_of_plan(str(plan.uid), plan.project_id) if passed else {}
    for row in passed:
        if placed.get((row.line.species_id, row.line.stock_type, row.line.wave), 0) >= row.ordered:
            continue  # it was ordered; whether it comes in time is told on its order
        said = {"species": row.line.species.scientific_name, "day": figures.day(row.order_by)}
        words = _("%(species)s had to be ordered by %(day)s to come in time.") % said
        found.warnings.append(Objection(words, url))
    for row in sums.bought:
        if row.missing:
            said = {"species": row.line.species.scientific_name, "n": figures.quantity(row.missing)}
            found.warnings.append(
                Objection(_("Nobody is known to sell %(n)s plants of %(species)s.") % said, url)
            )
    for target in sums.targets:
        if target.found is not None and not target.is_enough:
            said = {"block": target.ground.block.name, "chance": figures.percent(target.found.chance)}
            words = _("%(block)s reaches its living trees with a chance of %(chance)s only.") % said
            found.warnings.append(Objection(words, url))


def _season(actor: Actor, frame: PlanFrame, found: Verdict) -> None:
    plan, url = frame.plan, page_of(actor, "plan_edit", frame.plan.uid)
    today = clocks.today_of(actor.organisation)
    if plan.season is None:
        found.warnings.append(Objection(_("No planting season is chosen."), url))
    elif plan.season.ends_on < today:
        words = _("The season %(label)s is over.") % {"label": plan.season.label}
        found.warnings.append(Objection(words, url))
    if plan.second_season is None and any(line.wave == 2 for line in frame.lines):
        found.warnings.append(Objection(_("There is a second wave, but no season for it."), url))
    if number := sum(line.unit_price_minor is None for line in frame.lines):
        words = ngettext("%(n)s line has no price.", "%(n)s lines have no price.", number) % {"n": number}
        found.warnings.append(Objection(words, page_of(actor, "plan_mix", plan.uid)))
