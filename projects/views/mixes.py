"""The mix of a plan: its rules, the search for the best, its lines by hand."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from projects import access, mix_words
from projects.calc.mix import INFEASIBLE
from projects.calc.mix_rules import Rule
from projects.errors import Refusal
from projects.forms.mixes import MixBlockForm, MixLineForm, MixRulesForm, with_preset
from projects.forms.plans import told
from projects.models import Job, JobState, Plan
from projects.selectors.mix_choices import Choices, choices_of
from projects.selectors.mix_page import BlockMix, MixFacts, MixPage, latest_search, with_quantities
from projects.selectors.mix_rules import PlanRules, rules_of
from projects.selectors.plans import PlanFrame, frame_of
from projects.services import jobs, mix_search, mixes
from projects.services.editing import ChangedMeanwhile
from projects.views.plans import plan_crumbs
from projects.views.records import cancel_url
from projects.views.saving import attempt, form_page, posted, refuse, show_both, to, url


@require_http_methods(["GET", "POST"])
def plan_mix(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Show the mix; a post stores its rules."""
    actor = request.actor
    plan = access.plan_for(actor, uid, "plan.edit" if request.method == "POST" else "plan.view")
    if request.headers.get("HX-Request") and not request.headers.get("HX-History-Restore-Request"):
        return progress(request, plan)
    frame = frame_of(actor, plan)
    rules = rules_of(plan)
    choices = choices_of(plan, frame, rules)
    form = rules_form(plan, frame, rules, choices, posted(request))
    if form.is_bound and form.is_valid():
        wanted = form.as_rules()
        wanted = with_preset(wanted) if "preset" in request.POST else wanted
        try:
            mixes.set_rules(actor=actor, plan=plan, rules=wanted, version=form.cleaned_data["version"])
            if "search" in request.POST:
                mix_search.start(actor=actor, plan=plan)
            else:
                messages.success(request, _("The rules are saved."))
            return to(request, "plan_mix", uid=uid)
        except ChangedMeanwhile as refusal:
            show_both(form, refusal)
        except Refusal as refusal:
            refuse(form, refusal)
    return draw(request, plan, frame, form, choices)


def rules_form(
    plan: Plan, frame: PlanFrame, rules: PlanRules, choices: Choices, data: Any = None
) -> MixRulesForm:
    """The sentences, with a field for the spots that spacing does not tell and for each species from elsewhere."""
    unsure = [
        each.block
        for each in choices.grounds
        if choices.spots[each.block.pk] is None or each.planted_before or str(each.block.uid) in rules.spots
    ]
    introduced = {row.species.pk: row.species for row in choices.left_out if row.why == "no_reason"}
    introduced |= {row.species.pk: row.species for row in choices.candidates if row.status == "introduced"}
    by_name = sorted(introduced.values(), key=lambda row: row.scientific_name)
    blocks = [each.block for each in frame.grounds]
    return MixRulesForm(plan, rules, blocks, unsure, by_name, data)


def draw(
    request: HttpRequest,
    plan: Plan,
    frame: PlanFrame,
    form: MixRulesForm,
    choices: Choices,
    block_form: tuple[UUID, MixBlockForm] | None = None,
) -> HttpResponse:
    """Draw the page; `block_form` is a block's form that was refused, with its block."""
    page = MixFacts(plan, frame).page()
    job = latest_search(plan)
    refused = dict([block_form]) if block_form else {}
    failed = bool(form.errors or block_form)
    context = {
        "plan": plan, "title": told(plan), "form": form, "page": page,
        "may_edit": plan.is_draft and request.actor.may("plan.edit"),
        "blocks": [
            {
                "mix": each, "broken": broken_words(each.broken, page, choices),
                "form": refused.get(each.ground.block.uid) or MixBlockForm(each.ground.lines),
                "why": left_out(choices, each.ground.block.pk),
            }
            for each in page.blocks
        ],
        "broken": broken_words(page.broken, page, choices),
        "everywhere": left_out(choices, None), "has_purposes": choices.has_purposes,
        "n_candidates": len({row.species.pk for row in choices.candidates}),
        "unknown_worth": unknown_worth(choices),
        "windows_unknown": any(not row.window_is_known for row in choices.candidates),
        "search": search_context(request, plan, job, page, choices),
        "crumbs": plan_crumbs(request, plan),
    }  # fmt: skip
    return render(request, "projects/mix.html", context, status=422 if failed else 200)


def unknown_worth(choices: Choices) -> list[str]:
    """Names of species whose uses nobody has told us, where the project weighs purposes."""
    if not choices.has_purposes:
        return []
    return sorted({row.species.scientific_name for row in choices.candidates if row.worth is None})


def left_out(choices: Choices, block_pk: int | None) -> list[dict[str, Any]]:
    """What may not be planted in a block, by reason."""
    found: dict[str, list[str]] = {}
    for row in choices.left_out:
        if (row.block.pk if row.block else None) == block_pk:
            found.setdefault(row.why, []).append(row.species.scientific_name)
    return [
        {"why": mix_words.WHY_LEFT_OUT[why], "species": ", ".join(sorted(set(names)))}
        for why, names in found.items()
    ]


def broken_words(rules: Any, page: MixPage, choices: Choices) -> list[dict[str, str]]:
    """Broken rules in words, each with the sentence it belongs to."""
    return [
        {
            "words": str(mix_words.BROKEN[rule.kind]), "field": mix_words.FIELD_OF.get(rule.kind, ""),
            "about": named(rule, page, choices) if len(rule.about) == 2 else "",
        }
        for rule in rules
    ]  # fmt: skip


def named(rule: Rule, page: MixPage, choices: Choices) -> str:
    """The block, or the species and stock type, that a rule is about."""
    if len(rule.about) == 1:
        here = (each.ground.block for each in page.blocks)
        return next((block.name for block in here if str(block.pk) == rule.about[0]), "")
    if len(rule.about) == 2:
        lines = [row.line for each in page.blocks for row in each.rows]
        rows = [*lines, *choices.candidates]
        found = next((row for row in rows if str(row.species.pk) == rule.about[0]), None)
        return found.species.scientific_name if found else ""
    return ""


# --- the search -----------------------------------------------------------------------------------
def search_context(
    request: HttpRequest, plan: Plan, job: Job | None, page: MixPage | None, choices: Choices | None
) -> dict[str, Any]:
    """How the last search stands."""
    if job is None:
        return {}
    found = job.result if isinstance(job.result, dict) else {}
    active = job.state in jobs.ACTIVE
    context: dict[str, Any] = {
        "job": job, "found": found, "active": active, "url": url(request, "plan_mix", uid=plan.uid),
        "cancel": cancel_url(request, job), "message": "" if active else found.get("message", ""),
        "offered": bool(
            job.state in (JobState.DONE, JobState.CANCELLED) and found.get("lines") and not found.get("taken")
        ),
    }  # fmt: skip
    if found.get("status") == INFEASIBLE and page is not None and choices is not None:
        context["give_up"] = [
            {
                "words": mix_words.give_up(kind, about, named(Rule(kind, tuple(about)), page, choices)),
                "field": mix_words.FIELD_OF.get(kind, ""),
            }
            for kind, about in found["give_up"]
        ]
        context["ways_out"] = [
            {"words": mix_words.sentence_of(kind), "field": mix_words.FIELD_OF.get(kind, "")}
            for kind in found.get("ways_out", [])
        ]
    return context


def progress(request: HttpRequest, plan: Plan) -> HttpResponse:
    """How far the search is, asked by the page itself; when it is over the page is drawn anew."""
    job = latest_search(plan)
    if job is None or job.state not in jobs.ACTIVE:
        return HttpResponse(headers={"HX-Refresh": "true"})
    context = search_context(request, plan, job, None, None)
    return render(request, "projects/_mix_search.html", {"search": context, "plan": plan, "may_edit": True})


@require_POST
def plan_mix_search(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Have the best mix searched for under the rules as they are stored."""
    plan = access.plan_for(request.actor, uid, "plan.edit")
    try:
        mix_search.start(actor=request.actor, plan=plan)
    except Refusal as refusal:
        messages.error(request, refusal.message)
    return to(request, "plan_mix", uid=uid)


@require_POST
def plan_mix_take(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Take over what the last search found, though the plan changed meanwhile."""
    plan = access.plan_for(request.actor, uid, "plan.edit")
    job = latest_search(plan)
    try:
        if job is None:
            raise Refusal(_("There is no search to take a mix from."))
        mixes.take_over(actor=request.actor, plan=plan, job=job)
    except Refusal as refusal:
        messages.error(request, refusal.message)
    else:
        messages.success(request, _("The mix found is in the plan."))
    return to(request, "plan_mix", uid=uid)


# --- by hand ----------------------------------------------------------------------------------------
@require_http_methods(["GET", "POST"])
def plan_mix_line(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Put a species into a block by hand."""
    actor = request.actor
    plan = access.plan_for(actor, uid, "plan.edit")
    form = MixLineForm(actor, plan, posted(request))
    if form.is_bound and attempt(form, mixes.add_line, actor=actor, plan=plan):
        messages.success(request, _("The species is in the mix."))
        return to(request, "plan_mix", uid=uid)
    return form_page(
        request, form, title=_("Put a species into the mix"), submit=_("Put it in"),
        back=url(request, "plan_mix", uid=uid), crumbs=plan_crumbs(request, plan),
    )  # fmt: skip


@require_POST
def plan_mix_block(request: HttpRequest, uid: UUID, block: UUID) -> HttpResponse:
    """Change the numbers of a block."""
    actor = request.actor
    plan = access.plan_for(actor, uid, "plan.edit")
    frame, here = block_in(request, plan, block)
    form = MixBlockForm(here.ground.lines, request.POST)
    if form.is_valid():
        try:
            mixes.edit_block(actor=actor, plan=plan, block=here.ground.block, **form.cleaned_data)
        except ChangedMeanwhile as refusal:
            show_both(form, refusal)
        except Refusal as refusal:
            refuse(form, refusal)
        else:
            messages.success(request, _("Saved."))
            return to(request, "plan_mix", uid=uid)
    rules = rules_of(plan)
    choices = choices_of(plan, frame, rules)
    return draw(request, plan, frame, rules_form(plan, frame, rules, choices), choices, (block, form))


@require_POST
def plan_mix_sums(request: HttpRequest, uid: UUID, block: UUID) -> HttpResponse:
    """What a block would come to with the numbers being typed; nothing is stored."""
    plan = access.plan_for(request.actor, uid, "plan.edit")
    frame, here = block_in(request, plan, block)
    quantities = MixBlockForm(here.ground.lines, request.POST).quantities()
    seen = MixFacts(plan, frame).block(here.ground, with_quantities(here.ground.lines, quantities))
    empty = Choices([], {}, [], [], {}, False)
    page = MixPage([seen], seen.sums)
    context = {"mix": seen, "broken": broken_words(seen.broken, page, empty), "plan": plan}
    return render(request, "projects/_mix_sums.html", context)


def block_in(request: HttpRequest, plan: Plan, uid: UUID) -> tuple[PlanFrame, BlockMix]:
    """One block of the plan, or 404."""
    frame = frame_of(request.actor, plan)
    facts = MixFacts(plan, frame)
    for each in frame.grounds:
        if each.block.uid == uid:
            return frame, facts.block(each, each.lines)
    raise Http404(_("There is nothing at this address."))
