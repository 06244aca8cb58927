"""Soil samples and circles of young natural trees: lists, adding, changing, taking away."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access, assessment_steps, clocks
from projects.forms.assessment import CircleForm, SoilSampleForm, WantedForm
from projects.selectors import assessment as selectors
from projects.services import assessment as assessments
from projects.services import site_findings as services
from projects.views.assessment import next_url, site_crumbs
from projects.views.resuming import attempt_or_keep, begun, step_page
from projects.views.saving import act, crumb, to, url


@require_GET
def soil_list(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    site = access.site_for(actor, uid)
    actor.require("assessment.view")
    context = {
        "site": site, "step": assessment_steps.SOIL, "assessment": selectors.assessment_of(site),
        "samples": access.visible_soil_samples(actor).filter(site=site),
        "after": next_url(request, site, "soil"), "crumbs": site_crumbs(request, site),
    }  # fmt: skip
    return render(request, "projects/soil_list.html", context)


@require_http_methods(["GET", "POST"])
def soil_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    site = access.site_for(actor, uid)
    actor.require("block.edit")
    row, key = selectors.assessment_of(site), "soil:new"
    today = {"taken_on": clocks.today_at(site)}
    form = begun(request, row, key, SoilSampleForm, actor, site, initial=today)
    if attempt_or_keep(request, form, services.add_sample, kept_for=site, key=key, site=site):
        messages.success(request, _("The sample is on the list."))
        return to(request, "soil_list", uid=uid)
    return step_page(
        request, form, row, key, title=_("Add a soil sample of %(name)s") % {"name": site},
        submit=_("Add the sample"), back=url(request, "soil_list", uid=uid), crumbs=site_crumbs(request, site),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def soil_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    sample = access.soil_sample_for(actor, uid, "block.edit")
    site, key = sample.site, f"soil:{uid}"
    row = selectors.assessment_of(site)
    form = begun(request, row, key, SoilSampleForm, actor, site, instance=sample)
    if attempt_or_keep(request, form, services.edit_sample, kept_for=site, key=key, sample=sample):
        messages.success(request, _("Saved."))
        return to(request, "soil_list", uid=site.uid)
    return step_page(
        request, form, row, key, title=_("Change sample %(name)s") % {"name": sample}, submit=_("Save"),
        back=url(request, "soil_list", uid=site.uid), crumbs=site_crumbs(request, site),
    )  # fmt: skip


@require_POST
def soil_remove(request: HttpRequest, uid: UUID) -> HttpResponse:
    sample = access.soil_sample_for(request.actor, uid, "block.edit")
    assessments.drop_unsaved(actor=request.actor, site=sample.site, key=f"soil:{uid}")
    done = _("Sample %(name)s is taken away.") % {"name": sample}
    return act(request, services.remove_sample, done, "soil_list", sample.site.uid, sample=sample)


@require_http_methods(["GET", "POST"])
def circle_list(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    site = access.site_for(actor, uid)
    actor.require("assessment.view")
    row, key = selectors.assessment_of(site), "circles"
    if request.method == "POST":
        actor.require("site.edit")
    form = begun(request, row, key, WantedForm, site, row)
    fixed = {"site": site, "step": WantedForm.step}
    if attempt_or_keep(request, form, assessments.save_step, kept_for=site, key=key, **fixed):
        messages.success(request, _("Saved."))
        return to(request, "circle_list", uid=uid)
    circles = list(access.visible_circles(actor).filter(site=site))
    context = {
        "site": site, "step": assessment_steps.CIRCLES, "assessment": row, "circles": circles, "form": form,
        "counted_again": len(circles) - len(selectors.latest(circles)),
        "regeneration": selectors.regeneration(site, row, circles),
        "after": next_url(request, site, key), "crumbs": site_crumbs(request, site),
    }  # fmt: skip
    wrong = request.method == "POST" and form.errors
    return render(request, "projects/circle_list.html", context, status=422 if wrong else 200)


@require_http_methods(["GET", "POST"])
def circle_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    site = access.site_for(actor, uid)
    actor.require("block.edit")
    row, key = selectors.assessment_of(site), "circles:new"
    initial = {"counted_on": clocks.today_at(site), "radius_m": selectors.usual_radius_m(actor, site)}
    form = begun(request, row, key, CircleForm, actor, site, initial=initial)
    if attempt_or_keep(request, form, services.add_circle, kept_for=site, key=key, site=site):
        messages.success(request, _("The circle is counted. Add the next, or look at what they say."))
        return to(request, "circle_list", uid=uid)
    return step_page(
        request, form, row, key, title=_("Add a circle counted on %(name)s") % {"name": site},
        submit=_("Add the circle"), back=url(request, "circle_list", uid=uid), crumbs=site_crumbs(request, site),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def circle_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    circle = access.circle_for(actor, uid, "block.edit")
    site, key = circle.site, f"circles:{uid}"
    row = selectors.assessment_of(site)
    form = begun(request, row, key, CircleForm, actor, site, instance=circle)
    if attempt_or_keep(request, form, services.edit_circle, kept_for=site, key=key, circle=circle):
        messages.success(request, _("Saved."))
        return to(request, "circle_list", uid=site.uid)
    crumbs = [
        *site_crumbs(request, site),
        crumb(request, _("Young natural trees"), "circle_list", uid=site.uid),
    ]
    return step_page(
        request, form, row, key, title=_("Change circle %(name)s") % {"name": circle}, submit=_("Save"),
        back=url(request, "circle_list", uid=site.uid), crumbs=crumbs,
    )  # fmt: skip


@require_POST
def circle_remove(request: HttpRequest, uid: UUID) -> HttpResponse:
    circle = access.circle_for(request.actor, uid, "block.edit")
    assessments.drop_unsaved(actor=request.actor, site=circle.site, key=f"circles:{uid}")
    done = _("Circle %(name)s is taken away.") % {"name": circle}
    return act(request, services.remove_circle, done, "circle_list", circle.site.uid, circle=circle)
