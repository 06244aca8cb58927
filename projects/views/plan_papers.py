"""What comes out of a plan: approval, what changed between two versions, the document, the workbook, the worksheet."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from projects import access, figures
from projects.calc.plan_differences import ValueChange, differences
from projects.documents.names import with_names
from projects.documents.plan_pages import living_words, season_words
from projects.documents.typesetting import set_pages
from projects.documents.workbook import workbook
from projects.documents.worksheet_pages import worksheet_pages
from projects.errors import Refusal
from projects.forms.plans import told
from projects.models import Plan
from projects.selectors import plans as selectors
from projects.selectors.plan_papers import content_for, pages_for
from projects.selectors.plan_verdict import verdict_of
from projects.services.plan_approval import approve_plan, digest
from projects.views.plans import plan_crumbs
from projects.views.saving import to

PDF = "application/pdf"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@require_http_methods(["GET", "POST"])
def plan_approve(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    plan = access.plan_for(actor, uid, "plan.approve")
    refused = ""
    if request.method == "POST":
        try:
            approve_plan(actor=actor, plan=plan, seen=request.POST.get("seen", ""))
        except Refusal as refusal:
            refused = refusal.message
        else:
            messages.success(request, _("The plan is approved. This version never changes again."))
            return to(request, "plan_detail", uid=uid)
    frame = selectors.frame_of(actor, plan)
    content = content_for(actor, plan)
    context = {
        "plan": plan, "title": told(plan), "verdict": verdict_of(actor, frame), "refused": refused,
        "totals": content["totals"], "living": living_words(content["living"]), "seen": digest(content),
        "crumbs": plan_crumbs(request, plan),
    }  # fmt: skip
    return render(request, "projects/plan_approve.html", context, status=422 if refused else 200)


@require_GET
def plan_compare(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    plan = access.plan_for(actor, uid)
    others = [row for row in selectors.plan_rows(actor, plan.project) if row.pk != plan.pk]
    other = _other(request.GET.get("with", ""), plan, others)
    found = None
    if other is not None:
        found = differences(content_for(actor, other), content_for(actor, plan))
    context = {
        "plan": plan, "other": other, "others": [(row, told(row)) for row in others],
        "titles": (told(other) if other else "", told(plan)), "found": found,
        "values": [_in_words(each) for each in (*found.totals, *found.allowances)] if found else [],
        "crumbs": plan_crumbs(request, plan),
    }  # fmt: skip
    return render(request, "projects/plan_compare.html", context)


def _other(asked: str, plan: Plan, others: list[Plan]) -> Plan | None:
    """The version asked for, else the one it was begun from, else the one before."""
    by_uid = {str(row.uid): row for row in others}
    if asked in by_uid:
        return by_uid[asked]
    earlier = [row for row in others if row.version < plan.version]
    based = [row for row in others if row.pk == plan.based_on_id]
    return next(iter([*based, *earlier, *others]), None)


def _in_words(change: ValueChange) -> dict[str, Any]:
    label, shown = VALUES[change.name]
    before, after = shown(change.before), shown(change.after)
    return {"label": label(), "before": before, "after": after, "is_same": before == after}


def _money(costs: list[list[Any]]) -> str:
    return ", ".join(figures.money(minor, currency) for currency, minor in costs) or figures.NO_FIGURE


def _living(living: dict[str, Any] | None) -> str:
    return living_words(living) or figures.NO_FIGURE


def _season(season: dict[str, Any] | None) -> str:
    return season_words(season) or figures.NO_FIGURE


def _one_place(number: float | None) -> str:
    return figures.quantity(number, 1)


def _share(number: float) -> str:
    return figures.percent(number, 1)


VALUES: dict[str, tuple[Callable[[], str], Callable[[Any], str]]] = {
    "plants": (lambda: _("Plants"), figures.quantity),
    "species": (lambda: _("Species"), figures.quantity),
    "blocks": (lambda: _("Blocks planted"), figures.quantity),
    "plant_costs": (lambda: _("Price of the plants, spare ones not counted"), _money),
    "living": (lambda: _("Expected alive"), _living),
    "effective_species": (lambda: _("Effective number of species, exp(H)"), _one_place),
    "assurance": (lambda: _("How sure to reach the target"), _share),
    "cull_share": (lambda: _("Culled on arrival"), _share),
    "handling_loss_share": (lambda: _("Lost in handling"), _share),
    "slack_weeks": (lambda: _("Spare weeks before planting"), figures.quantity),
    "crew_people": (lambda: _("People who plant"), figures.quantity),
    "trees_per_person_day": (lambda: _("Trees one person plants in a day"), figures.quantity),
    "season": (lambda: _("Planting season"), _season),
    "second_season": (lambda: _("Season of the second wave"), _season),
}


@require_GET
def plan_document(request: HttpRequest, uid: UUID) -> HttpResponse:
    plan = access.plan_for(request.actor, uid)
    return paper(set_pages(pages_for(request.actor, plan)), PDF, f"{file_name(plan)}.pdf")


@require_GET
def plan_workbook(request: HttpRequest, uid: UUID) -> HttpResponse:
    plan = access.plan_for(request.actor, uid)
    content = with_names(request.actor.organisation, content_for(request.actor, plan))
    return paper(workbook(content), XLSX, f"{file_name(plan)}.xlsx")


@require_GET
def planning_worksheet(request: HttpRequest) -> HttpResponse:
    request.actor.require("plan.view")
    return paper(set_pages(worksheet_pages(request.actor.organisation)), PDF, "planning-worksheet.pdf")


def paper(body: bytes, kind: str, name: str) -> HttpResponse:
    """A file to keep; the browser shows a PDF and saves a workbook."""
    answer = HttpResponse(body, content_type=kind)
    how = "inline" if kind == PDF else "attachment"
    answer["Content-Disposition"] = f'{how}; filename="{name}"'
    return answer


def file_name(plan: Plan) -> str:
    name = slugify(plan.project.name)[:60] or "plan"
    return f"{name}-plan-{plan.version}" + ("-draft" if plan.is_draft else "")
