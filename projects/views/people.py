"""The organisation's settings and its members."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access
from projects.forms.people import InviteForm, MemberForm, OrganisationForm
from projects.paging import page
from projects.selectors.records import history_of
from projects.services import invitations, organisations
from projects.services import people as services
from projects.views.saving import act, attempt, crumb, form_page, posted, to, url


@require_http_methods(["GET", "POST"])
def organisation_edit(request: HttpRequest) -> HttpResponse:
    actor = request.actor
    actor.require("organisation.edit")
    form = OrganisationForm(posted(request), instance=actor.organisation)
    if form.is_bound and attempt(form, organisations.edit_organisation, actor=actor):
        messages.success(request, _("Saved."))
        return to(request, "organisation_edit")
    return form_page(
        request, form, title=_("Set up the organisation"), submit=_("Save"), back=url(request, "home"),
        history=history_of(actor, [actor.organisation.uid]),
    )  # fmt: skip


@require_GET
def people(request: HttpRequest) -> HttpResponse:
    request.actor.require("people.view")
    rows = access.visible_memberships(request.actor).select_related("person", "user")
    rows = rows.filter(ended_at__isnull="gone" not in request.GET).prefetch_related("grants__project")
    found = page(rows, request, ("person__name", "id"))
    return render(request, "projects/people.html", {"page": found, "gone": "gone" in request.GET})


@require_http_methods(["GET", "POST"])
def person_new(request: HttpRequest) -> HttpResponse:
    request.actor.require("people.edit")
    form = InviteForm(request.actor, posted(request))
    member = attempt(form, services.invite, actor=request.actor) if form.is_bound else None
    if member is None:
        crumbs = [crumb(request, _("People"), "people")]
        return form_page(
            request, form, title=_("Invite somebody"), submit=_("Invite"), back=url(request, "people"), crumbs=crumbs,
            intro=_("They get an e-mail with a link to set a password."),
        )  # fmt: skip
    if invitations.send(member, address=request.build_absolute_uri("/")):
        messages.success(request, _("Invited. The e-mail is on its way."))
    else:
        messages.warning(
            request,
            _(
                "They are a member now, but the e-mail did not leave. "
                "Tell them to open the sign-in page and ask for a password."
            ),
        )
    return to(request, "person_detail", uid=member.uid)


@require_GET
def person_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    member = access.membership_for(request.actor, uid)
    context = {
        "member": member,
        "projects": [
            grant.project for grant in member.grants.select_related("project").order_by("project__name")
        ],
        "history": history_of(request.actor, [member.uid]),
        "crumbs": [crumb(request, _("People"), "people")],
    }
    return render(request, "projects/person_detail.html", context)


@require_http_methods(["GET", "POST"])
def person_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    member = access.membership_for(request.actor, uid, "people.edit")
    form = MemberForm(request.actor, posted(request), instance=member)
    if form.is_bound and attempt(form, services.edit_member, actor=request.actor, membership=member):
        messages.success(request, _("Saved."))
        return to(request, "person_detail", uid=uid)
    back = url(request, "person_detail", uid=uid)
    crumbs = [crumb(request, _("People"), "people"), crumb(request, member.person, "person_detail", uid=uid)]
    title = _("Change what %(name)s may do") % {"name": member.person}
    return form_page(request, form, title=title, submit=_("Save"), back=back, crumbs=crumbs)


@require_POST
def person_end(request: HttpRequest, uid: UUID) -> HttpResponse:
    member = access.membership_for(request.actor, uid, "people.edit")
    done = _("They can no longer open this organisation's pages. What they recorded stays.")
    return act(request, services.end_membership, done, "person_detail", uid, membership=member)
