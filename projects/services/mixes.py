"""The mix of a draft plan: its rules, its lines by hand, and taking over what a search found."""

import hashlib
import json
from collections.abc import Iterable, Sequence
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Block, Job, MixLine, Plan
from projects.selectors.foreseen_survival import ForeseenSurvival, foreseen_survival
from projects.selectors.mix_choices import spots_of
from projects.selectors.mix_rules import PlanRules, rules_of
from projects.selectors.plans import Ground, frame_of
from projects.services import editing
from projects.services.editing import ChangedMeanwhile
from projects.services.organisations import known_currency
from projects.services.plans import draft_of
from species.access import standing_ranges
from species.calc import suitability as fit
from species.models import Species


def lines_token(lines: Iterable[MixLine]) -> str:
    """A digest of some lines; it changes when one of them is added, changed or taken out."""
    told = sorted((line.pk, line.quantity, line.unit_price_minor, line.introduced_reason) for line in lines)
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()[:16]


def plan_state(plan: Plan) -> str:
    """A digest of everything a search rests on in a plan: its rules and lines."""
    rules = json.dumps(plan.mix_rules, sort_keys=True)
    return hashlib.sha256(f"{rules} {lines_token(plan.mix_lines.all())}".encode()).hexdigest()[:16]


def rules_token(plan: Plan) -> str:
    """A digest of a plan's rules."""
    return hashlib.sha256(json.dumps(plan.mix_rules, sort_keys=True).encode()).hexdigest()[:16]


@transaction.atomic
def set_rules(*, actor: Actor, plan: Plan, rules: PlanRules, version: str = "") -> Plan:
    """Store the rules of a draft's mix."""
    locked = draft_of(actor, plan)
    if version and version != rules_token(locked):
        raise ChangedMeanwhile(locked, _told(rules_of(locked)), rules_token(locked))
    stored = rules.as_json()
    if stored == locked.mix_rules:
        return locked
    before = rules_of(locked).as_json()
    locked.mix_rules = stored
    locked.save(update_fields=["mix_rules"])
    differ = {name: [before[name], new] for name, new in stored.items() if new != before[name]}
    history.record(actor, "plan.mix_rules_set", locked, change=differ)
    return locked


def _told(rules: PlanRules) -> dict[str, Any]:
    plain = rules.as_json()
    return {name: plain[name] for name in plain if name not in ("reasons", "spots", "blocks", "budget_minor")}


# --- by hand -----------------------------------------------------------------------------------
@transaction.atomic
def add_line(
    *,
    actor: Actor,
    plan: Plan,
    block: Block,
    species: Species,
    stock_type: str,
    quantity: int,
    wave: int = 1,
    unit_price_minor: int | None = None,
    currency: str = "",
    introduced_reason: str = "",
) -> MixLine:
    """Put a species into a block of the mix by hand."""
    locked = draft_of(actor, plan)
    editing.ours(actor, block)
    if block.project_id != locked.project_id:
        raise Refusal(_("This block belongs to another project."), field="block")
    editing.species_for_use(actor, species)
    check_species(actor, block, species, introduced_reason)
    known_currency(currency or locked.project.currency)
    if quantity < 1:
        raise Refusal(_("Write 1 or more."), field="quantity")
    if wave == 2 and stock_type == "":
        raise Refusal(_("Choose a stock type."), field="stock_type")
    lines = list(MixLine.objects.filter(plan=locked, block=block))
    check_spots(actor, locked, block, sum(line.quantity for line in lines) + quantity, "quantity")
    survival = foreseen_survival(locked.project, [(species.pk, stock_type)])[species.pk, stock_type]
    line = MixLine(
        organisation=actor.organisation, plan=locked, block=block, species=species, stock_type=stock_type,
        wave=wave, quantity=quantity, unit_price_minor=unit_price_minor,
        currency=currency or locked.project.currency, introduced_reason=introduced_reason, **believed(survival),
    )  # fmt: skip
    editing.well_formed(line)
    duplicate = _("This species and stock type is in the block's mix already: change its number there.")
    with editing.refusing_duplicates("species", duplicate):
        line.save(force_insert=True)
    history.record(actor, "plan.mix_edited", locked, change={_label(line): [0, quantity]})
    return line


def believed(survival: ForeseenSurvival) -> dict[str, Any]:
    """Survival as a line copies it: what was believed when the plan was made; nothing where it is not known."""
    if survival.is_missing:
        return {}
    return {
        "survival_mean": survival.mean, "survival_low": min(survival.low, survival.mean),
        "survival_high": max(survival.high, survival.mean), "survival_source": survival.source[:200],
    }  # fmt: skip


def check_species(actor: Actor, block: Block, species: Species, reason: str) -> None:
    """Refuse what is invasive where the block lies, and what is brought from elsewhere without a reason."""
    site = block.site
    rows = standing_ranges(actor.organisation.uid).filter(
        species=species, country_code=site.country_code, region__in={"", site.region}
    )
    statuses = {row.region: row.status for row in rows}
    status = statuses.get(site.region, statuses.get(""))
    if fit.answer_to_status(status) == fit.REFUSED:
        words = _("%(name)s is invasive here and is not planted.")
        raise Refusal(words % {"name": species.scientific_name}, field="species", code="invasive")
    if fit.needs_reason(status) and not reason.strip():
        words = _("%(name)s is not native here. Write down why it is to be planted all the same.")
        raise Refusal(words % {"name": species.scientific_name}, field="introduced_reason", code="no_reason")


def check_spots(actor: Actor, plan: Plan, block: Block, planted: int, field: str) -> None:
    """Refuse more plants than a block has planting spots, where they are known."""
    ground = next((each for each in frame_of(actor, plan).grounds if each.block.pk == block.pk), None)
    spots = None if ground is None else spots_of(plan, [ground], rules_of(plan))[block.pk]
    if spots is not None and planted > spots:
        words = _("%(name)s has %(spots)s planting spots; this mix needs %(planted)s.")
        told = {"name": block.name, "spots": spots, "planted": planted}
        raise Refusal(words % told, field=field, code="too_few_spots")


@transaction.atomic
def edit_block(*, actor: Actor, plan: Plan, block: Block, version: str = "", **quantities: int) -> None:
    """Change how many of each line a block gets; 0 takes a line out. Fields are `q_` and the line's key."""
    locked = draft_of(actor, plan)
    editing.ours(actor, block)
    lines = list(MixLine.objects.filter(plan=locked, block=block).select_related("species"))
    stored = {f"q_{line.pk}": line.quantity for line in lines}
    if version and version != lines_token(lines):
        raise ChangedMeanwhile(locked, stored, lines_token(lines))
    wanted = {line.pk: quantities.get(f"q_{line.pk}", line.quantity) for line in lines}
    changed = [line for line in lines if wanted[line.pk] != line.quantity]
    if not changed:
        return
    if any(number < 0 for number in wanted.values()):
        raise Refusal(_("Write 0 or more."))
    check_spots(actor, locked, block, sum(wanted.values()), f"q_{changed[0].pk}")
    change = {_label(line): [line.quantity, wanted[line.pk]] for line in changed}
    for line in changed:
        if wanted[line.pk] == 0:
            line.delete()
        else:
            line.quantity = wanted[line.pk]
            line.save(update_fields=["quantity"])
    history.record(actor, "plan.mix_edited", locked, change=change)


def _label(line: MixLine) -> str:
    return f"{line.block.name}: {line.species.scientific_name}, {line.get_stock_type_display()}"


# --- what a search found --------------------------------------------------------------------------
@transaction.atomic
def take_over(*, actor: Actor, plan: Plan, job: Job, only_if: str = "") -> int:
    """Put the mix a search found in the place of what its blocks held; return how many lines.

    With `only_if`, the state the search set out from, a plan that changed meanwhile refuses.
    """
    locked = draft_of(actor, plan)
    editing.ours(actor, job)
    if only_if and plan_state(locked) != only_if:
        raise Refusal(_("The plan changed while the mix was searched."), code="changed_meanwhile")
    if job.parameters.get("plan") != str(plan.uid) or not (job.result or {}).get("lines"):
        raise Refusal(_("This search has found no mix for this plan."))
    found = job.result
    blocks = [ground for ground in frame_of(actor, locked).grounds if ground.block.pk in found["blocks"]]
    lines = found_lines(locked, blocks, found["lines"])
    _check_all(actor, locked, blocks, lines)
    before = MixLine.objects.filter(plan=locked, block_id__in=found["blocks"])
    planted = sum(before.values_list("quantity", flat=True))
    before.delete()
    MixLine.objects.bulk_create(lines)
    after = sum(line.quantity for line in lines)
    history.record(actor, "plan.mix_found", locked, change={_("plants"): [planted, after]})
    return len(lines)


def found_lines(plan: Plan, blocks: Sequence[Ground], rows: Sequence[dict[str, Any]]) -> list[MixLine]:
    """Lines from what a job keeps of them, the survival believed today copied in."""
    kinds = [(row["species"], row["stock_type"]) for row in rows]
    survival = foreseen_survival(plan.project, kinds)
    species = Species.objects.in_bulk({row["species"] for row in rows})
    here = {ground.block.pk: ground.block for ground in blocks}
    return [
        MixLine(
            organisation_id=plan.organisation_id, plan=plan, block=here[row["block"]],
            species=species[row["species"]], stock_type=row["stock_type"], wave=row["wave"],
            quantity=row["quantity"], unit_price_minor=row["price"], currency=row["currency"],
            introduced_reason=row["reason"], **believed(survival[row["species"], row["stock_type"]]),
        )
        for row in rows
        if row["block"] in here
    ]  # fmt: skip


def _check_all(actor: Actor, plan: Plan, blocks: Sequence[Ground], lines: Sequence[MixLine]) -> None:
    """What was judged when the search began must still stand: spots, and what is invasive."""
    spots = spots_of(plan, blocks, rules_of(plan))
    for ground in blocks:
        here = [line for line in lines if line.block_id == ground.block.pk]
        most = spots[ground.block.pk]
        if most is not None and sum(line.quantity for line in here) > most:
            raise Refusal(_("%(name)s has fewer planting spots by now.") % {"name": ground.block.name})
    judged = {(line.block.site_id, line.species_id): line for line in lines}
    for line in judged.values():
        check_species(actor, line.block, line.species, line.introduced_reason)
