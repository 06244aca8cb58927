"""Rights, agreements and permits of a site, and the hard stops a manager answers for."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access, assessment_steps, clocks
from projects.forms.assessment import ConsentForm, OverrideForm
from projects.selectors import assessment as selectors
from projects.selectors.readiness import readiness_of
from projects.services import consents as services
from projects.views.assessment import next_url, site_crumbs
from projects.views.resuming import attempt_or_keep, begun, step_page
from projects.views.saving import act, crumb, to, url


@require_GET
def consent_list(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    site = access.site_for(actor, uid)
    actor.require("assessment.view")
    context = {
        "site": site, "step": assessment_steps.CONSENTS, "assessment": selectors.assessment_of(site),
        "readiness": readiness_of(site, clocks.today_at(site)),
        "after": next_url(request, site, "consents"), "crumbs": site_crumbs(request, site),
    }  # fmt: skip
    return render(request, "projects/consent_list.html", context)


@require_http_methods(["GET", "POST"])
def consent_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    site = access.site_for(request.actor, uid, "site.edit")
    row, key = selectors.assessment_of(site), "consents:new"
    form = begun(request, row, key, ConsentForm)
    if attempt_or_keep(request, form, services.add_consent, kept_for=site, key=key, site=site):
        messages.success(request, _("It is on the list."))
        return to(request, "consent_list", uid=uid)
    return step_page(
        request, form, row, key, title=_("Add a right, agreement or permit"), submit=_("Add it"),
        back=url(request, "consent_list", uid=uid), crumbs=site_crumbs(request, site),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def consent_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    consent = access.consent_for(request.actor, uid, "site.edit")
    site, key = consent.site, f"consents:{uid}"
    row = selectors.assessment_of(site)
    form = begun(request, row, key, ConsentForm, instance=consent)
    if attempt_or_keep(request, form, services.edit_consent, kept_for=site, key=key, consent=consent):
        messages.success(request, _("Saved."))
        return to(request, "consent_list", uid=site.uid)
    crumbs = [
        *site_crumbs(request, site),
        crumb(request, _("Rights and agreements"), "consent_list", uid=site.uid),
    ]
    return step_page(
        request, form, row, key, title=_("Change: %(what)s") % {"what": consent}, submit=_("Save"),
        back=url(request, "consent_list", uid=site.uid), crumbs=crumbs,
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def override_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Answer for a hard stop by name."""
    site = access.site_for(request.actor, uid, "site.edit")
    row, key = selectors.assessment_of(site), "stops:override"
    blocking = readiness_of(site, clocks.today_at(site)).blocking
    form = begun(request, row, key, OverrideForm, blocking, initial={"stop": request.GET.get("stop", "")})
    if attempt_or_keep(request, form, services.override_stop, kept_for=site, key=key, site=site):
        messages.success(request, _("Your name and your reason stand beside it."))
        return to(request, "assessment", uid=uid)
    return step_page(
        request, form, row, key, title=_("Answer for going on"), submit=_("I answer for it"),
        intro=_("A stop is lifted for planning only. What the law or an authority asks is not."),
        back=url(request, "assessment", uid=uid), crumbs=site_crumbs(request, site),
    )  # fmt: skip


@require_POST
def override_withdraw(request: HttpRequest, uid: UUID) -> HttpResponse:
    override = access.override_for(request.actor, uid, "site.edit")
    done = _("The stop stands again.")
    return act(request, services.withdraw_override, done, "assessment", override.site.uid, override=override)
