"""The assessment of a site as a guided form that can be left and taken up again."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access, assessment_steps, clocks
from projects.forms.assessment import STEP_FORMS
from projects.models import Site
from projects.selectors import assessment as selectors
from projects.selectors.readiness import readiness_of
from projects.selectors.records import history_of
from projects.services import assessment as services
from projects.views.resuming import attempt_or_keep, begun, step_page
from projects.views.saving import act, crumb, to, url

ON_OWN_PAGE = ("land", "shape", "stops")  # the others have lists


def site_crumbs(request: HttpRequest, site: Site) -> list[dict[str, str]]:
    """The way to a page below the assessment."""
    return [
        crumb(request, site, "site_detail", uid=site.uid),
        crumb(request, _("Assessment"), "assessment", uid=site.uid),
    ]


@require_GET
def assessment(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    site = access.site_for(actor, uid)
    actor.require("assessment.view")
    row, ready = selectors.assessment_of(site), readiness_of(site, clocks.today_at(site))
    circles = list(access.visible_circles(actor).filter(site=site))
    rows = selectors.step_rows(actor, site, row, ready)
    context = {
        "site": site, "assessment": row, "readiness": ready,
        "steps": [{"row": each, "url": step_url(request, site, each.step.key)} for each in rows],
        "missing": sum(not each.is_complete for each in rows),
        "regeneration": selectors.regeneration(site, row, circles),
        "history": history_of(actor, [row.uid, *(each.consent.uid for each in ready.consents)]),
        "crumbs": site_crumbs(request, site)[:1],
    }  # fmt: skip
    return render(request, "projects/assessment.html", context)


def step_url(request: HttpRequest, site: Site, key: str) -> str:
    """Where a step is filled in."""
    pages = {
        "soil": "soil_list",
        "climate": "site_climate",
        "consents": "consent_list",
        "circles": "circle_list",
    }
    if key in pages:
        return url(request, pages[key], uid=site.uid)
    return url(request, "assessment_step", uid=site.uid, step=key)


def next_url(request: HttpRequest, site: Site, key: str) -> str:
    """Where the step after this one is filled in; after the last, the overview."""
    keys = [step.key for step in assessment_steps.STEPS]
    after = keys[keys.index(key) + 1 :]
    return step_url(request, site, after[0]) if after else url(request, "assessment", uid=site.uid)


@require_http_methods(["GET", "POST"])
def assessment_step(request: HttpRequest, uid: UUID, step: str) -> HttpResponse:
    actor = request.actor
    site = access.site_for(actor, uid, "site.edit")
    if step not in ON_OWN_PAGE:
        raise Http404(_("There is nothing at this address."))
    form_class, row = STEP_FORMS[step], selectors.assessment_of(site)
    form = begun(request, row, step, form_class, site, row)
    fixed = {"site": site, "step": form_class.step}
    if attempt_or_keep(request, form, services.save_step, kept_for=site, key=step, **fixed):
        messages.success(request, _("Saved."))
        return to(request, "assessment", uid=uid)
    return step_page(
        request, form, row, step, title=form_class.step.title, intro=form_class.step.why, submit=_("Save"),
        back=url(request, "assessment", uid=uid), after=next_url(request, site, step),
        crumbs=site_crumbs(request, site),
    )  # fmt: skip


@require_POST
def assessment_drop(request: HttpRequest, uid: UUID) -> HttpResponse:
    site = access.site_for(request.actor, uid)
    request.actor.require("block.edit")
    key = request.POST.get("key", "")
    return act(
        request, services.drop_unsaved, _("What was not stored is thrown away."), "assessment", uid,
        site=site, key=key,
    )  # fmt: skip


@require_POST
def assessment_finish(request: HttpRequest, uid: UUID) -> HttpResponse:
    site = access.site_for(request.actor, uid, "site.edit")
    if "reopen" in request.POST:
        return act(request, services.reopen, _("The assessment is open again."), "assessment", uid, site=site)
    return act(request, services.finish, _("The assessment is finished."), "assessment", uid, site=site)
