"""When not to plant today: the rules, this morning's readings against them, and a card for the crew."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access
from projects.errors import Refusal
from projects.forms.day_rules import DayRuleForm, ReadingsForm, StartForm
from projects.models import DayRule, Project
from projects.selectors import day_rules as selectors
from projects.selectors.crew_days import days_ahead
from projects.services import day_rules as services
from projects.views.saving import attempt, crumb, form_page, posted, to, url


def _project(request: HttpRequest, uid: UUID | None, verb: str) -> Project | None:
    """The project whose rules are meant, or None for the organisation's."""
    actor = request.actor
    project = access.project_for(actor, uid) if uid else None
    actor.require(verb)
    if project is None and verb != "day_rule.view":
        actor.require("organisation.edit")
    return project


def _address(request: HttpRequest, project: Project | None, name: str = "day_rules") -> str:
    """The address of a page of rules, of one project or of them all."""
    return url(request, f"project_{name}", uid=project.uid) if project else url(request, name)


def _back(request: HttpRequest, project: Project | None) -> HttpResponse:
    return to(request, "project_day_rules", uid=project.uid) if project else to(request, "day_rules")


def _crumbs(request: HttpRequest, project: Project | None, *, below: bool = False) -> list[dict[str, str]]:
    steps = [crumb(request, project, "project_detail", uid=project.uid)] if project else []
    if below:
        steps.append({"url": _address(request, project), "label": _("When not to plant")})
    return steps


def _may_change(request: HttpRequest, project: Project | None) -> bool:
    return request.actor.may("day_rule.edit") and (
        project is not None or request.actor.may("organisation.edit")
    )


@require_GET
def day_rules(request: HttpRequest, uid: UUID | None = None) -> HttpResponse:
    actor = request.actor
    project = _project(request, uid, "day_rule.view")
    found = selectors.in_force(actor.organisation, project)
    context = {
        "project": project, "found": found, "may_change": _may_change(request, project) and found.are_own,
        "may_own": _may_change(request, project), "may_change_all": _may_change(request, None), "start": StartForm(),
        "today_url": _address(request, project, "day_rules_today"),
        "start_url": _address(request, project, "day_rules_start"),
        "new_url": _address(request, project, "day_rule_new"), "crumbs": _crumbs(request, project),
        "days": days_ahead(actor, project),
    }  # fmt: skip
    return render(request, "projects/day_rules.html", context)


@require_POST
def day_rules_start(request: HttpRequest, uid: UUID | None = None) -> HttpResponse:
    project = _project(request, uid, "day_rule.edit")
    which = request.POST.get("which", "")
    done = _("The rules are written down. Go through them: each can be changed.")
    return _act(request, services.start_from, done, project, project=project, which=which)


@require_POST
def day_rules_drop(request: HttpRequest, uid: UUID) -> HttpResponse:
    project = _project(request, uid, "day_rule.edit")
    done = _("The organisation's rules hold here again.")
    return _act(request, services.drop_own, done, project, project=project)


def _act(
    request: HttpRequest, service: Callable[..., Any], done: str, of: Project | None, **values: Any
) -> HttpResponse:
    """Run a one-button act and return to the list it changed."""
    try:
        service(actor=request.actor, **values)
    except Refusal as refusal:
        messages.error(request, refusal.message)
    else:
        messages.success(request, done)
    return _back(request, of)


@require_http_methods(["GET", "POST"])
def day_rule_new(request: HttpRequest, uid: UUID | None = None) -> HttpResponse:
    project = _project(request, uid, "day_rule.edit")
    form = DayRuleForm(request.actor.organisation.units, posted(request))
    if form.is_bound and attempt(form, services.add_rule, actor=request.actor, project=project):
        messages.success(request, _("The rule is added at the end of the list."))
        return _back(request, project)
    return form_page(
        request, form, title=_("Add a rule"), submit=_("Add the rule"), back=_address(request, project),
        crumbs=_crumbs(request, project, below=True),
    )  # fmt: skip


def _rule(request: HttpRequest, uid: UUID) -> DayRule:
    rule = access.day_rule_for(request.actor, uid, "day_rule.edit")
    if rule.project is None:
        request.actor.require("organisation.edit")
    return rule


@require_http_methods(["GET", "POST"])
def day_rule_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    rule = _rule(request, uid)
    form = DayRuleForm(request.actor.organisation.units, posted(request), instance=rule)
    if form.is_bound and attempt(form, services.edit_rule, actor=request.actor, rule=rule):
        messages.success(request, _("Saved."))
        return _back(request, rule.project)
    return form_page(
        request, form, title=_("Change a rule"), submit=_("Save"), back=_address(request, rule.project),
        crumbs=_crumbs(request, rule.project, below=True),
    )  # fmt: skip


@require_POST
def day_rule_move(request: HttpRequest, uid: UUID) -> HttpResponse:
    rule = _rule(request, uid)
    services.move_rule(actor=request.actor, rule=rule, up="up" in request.POST)
    return _back(request, rule.project)


@require_POST
def day_rule_remove(request: HttpRequest, uid: UUID) -> HttpResponse:
    rule = _rule(request, uid)
    return _act(request, services.remove_rule, _("The rule is taken away."), rule.project, rule=rule)


@require_GET
def day_rules_today(request: HttpRequest, uid: UUID | None = None) -> HttpResponse:
    actor = request.actor
    project = _project(request, uid, "day_rule.view")
    units = actor.organisation.units
    found = selectors.in_force(actor.organisation, project)
    form = ReadingsForm(found.rules, units, request.GET or None)
    context = {
        "project": project, "found": found, "form": form,
        "judged": selectors.judged(found, form.readings(), units) if form.is_bound else None,
        "rules_url": _address(request, project), "crumbs": _crumbs(request, project, below=True),
    }  # fmt: skip
    return render(request, "projects/day_rules_today.html", context, status=422 if form.errors else 200)


@require_GET
def crew_card(request: HttpRequest, uid: UUID) -> HttpResponse:
    project = _project(request, uid, "day_rule.view")
    found = selectors.in_force(request.actor.organisation, project)
    context = {
        "project": project, "found": found, "sites": selectors.sites_of(project),
        "organisation_number": request.actor.organisation.emergency_contact,
        "crumbs": _crumbs(request, project, below=True),
    }  # fmt: skip
    return render(request, "projects/crew_card.html", context)
