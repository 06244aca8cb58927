"""People and what they gain of a project: agreements, expected gains, carbon where it is asked for."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access, carbon_words, clocks
from projects.forms.benefits import BenefitForm, CarbonForm, ZoneForm
from projects.models import Project
from projects.selectors import value as selectors
from projects.selectors.carbon import project_carbon
from projects.selectors.purposes import purpose_weights
from projects.selectors.records import history_of
from projects.services import benefits as services
from projects.services import sites
from projects.views.saving import act, attempt, crumb, form_page, posted, to, url
from species.traits import USES


def _crumbs(request: HttpRequest, project: Project, *, inside: bool = True) -> list[dict[str, str]]:
    found = [
        crumb(request, _("Projects"), "project_list"),
        crumb(request, project, "project_detail", uid=project.uid),
    ]
    return (
        [*found, crumb(request, _("What people gain"), "project_value", uid=project.uid)] if inside else found
    )


@require_GET
def project_value(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    project = access.project_for(actor, uid)
    actor.require("plan.view")
    value = selectors.project_value(actor, project, clocks.today_of(actor.organisation))
    asked = "years" in request.GET
    form = CarbonForm(request.GET if asked else None, initial=CarbonForm.DEFAULTS)
    inputs = form.cleaned_data if asked and form.is_valid() else CarbonForm.DEFAULTS
    carbon = [] if form.errors else project_carbon(actor, project, value.living, inputs)
    weights = purpose_weights(project)
    benefits = [row.benefit.uid for each in value.agreements for row in each.benefits]
    context = {
        "project": project, "value": value,
        "purposes": [{"words": USES[use], "weight": weight} for use, weight in weights.items()],
        "carbon": carbon, "asked_for": any(row.zone for row in carbon),
        "form": form, "inputs": inputs, "cautions": carbon_words.CAUTIONS, "defer": carbon_words.DEFER,
        "history": history_of(actor, [*benefits, *(row.benefit.uid for row in value.others)]),
        "crumbs": _crumbs(request, project, inside=False),
    }  # fmt: skip
    return render(request, "projects/project_value.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def benefit_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    project = access.project_for(actor, uid)
    actor.require("plan.edit")
    consents = access.visible_consents(actor)
    chosen = consents.filter(uid=request.GET["consent"]).first() if "consent" in request.GET else None
    form = BenefitForm(actor, project, posted(request), initial={"consent": chosen})
    if form.is_bound and attempt(form, services.add_benefit, actor=actor, project=project):
        messages.success(request, _("It is on the page. Totals follow below."))
        return to(request, "project_value", uid=uid)
    return form_page(
        request, form, title=_("Add what somebody may gain"), submit=_("Add it"),
        intro=_("Write a range, never one number, and say where it comes from. An agreement wins over this page."),
        back=url(request, "project_value", uid=uid), crumbs=_crumbs(request, project),
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def benefit_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    benefit = access.benefit_for(actor, uid, "plan.edit")
    project = benefit.project
    form = BenefitForm(actor, project, posted(request), instance=benefit)
    if form.is_bound and attempt(form, services.edit_benefit, actor=actor, benefit=benefit):
        messages.success(request, _("Saved."))
        return to(request, "project_value", uid=project.uid)
    return form_page(
        request, form, title=_("Change what somebody may gain"), submit=_("Save"),
        back=url(request, "project_value", uid=project.uid), crumbs=_crumbs(request, project),
    )  # fmt: skip


@require_POST
def benefit_remove(request: HttpRequest, uid: UUID) -> HttpResponse:
    benefit = access.benefit_for(request.actor, uid, "plan.edit")
    done = _("Taken away.")
    return act(request, services.remove_benefit, done, "project_value", benefit.project.uid, benefit=benefit)


@require_http_methods(["GET", "POST"])
def site_zone(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Choose the ecological zone of a site, which asks for carbon to be reckoned; leave it empty to ask no more."""
    actor = request.actor
    site = access.site_for(actor, uid, "site.edit")
    form = ZoneForm(posted(request), instance=site)
    if form.is_bound and attempt(form, sites.edit_site, actor=actor, site=site):
        messages.success(request, _("Saved."))
        project = access.visible_projects(actor).filter(blocks__site=site).order_by("name", "id").first()
        return (
            to(request, "project_value", uid=project.uid) if project else to(request, "site_detail", uid=uid)
        )
    crumbs = [crumb(request, _("Sites"), "site_list"), crumb(request, site, "site_detail", uid=uid)]
    return form_page(
        request, form, title=_("Where %(name)s lies, for the carbon range") % {"name": site}, submit=_("Save"),
        intro=_(
            "Carbon is reckoned only where a zone is chosen, always as a range and never as a promise. A map of "
            "ecological zones, or the forest service, tells which one it is."
        ),
        back=url(request, "site_detail", uid=uid), crumbs=crumbs,
    )  # fmt: skip
