"""Quality checks of planting: recording one spot, taking one back."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from projects import access, clocks
from projects.forms.people import ReasonForm
from projects.forms.quality_checks import QualityCheckForm
from projects.services import quality_checks as services
from projects.views.crew_days import block_crumbs
from projects.views.saving import act, attempt, crumb, form_page, posted, to, url


@require_http_methods(["GET", "POST"])
def quality_check_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    block = access.block_for(actor, uid)
    actor.require("planting.edit")
    initial = {"checked_on": clocks.today_at(block.site), "crew_day": request.GET.get("day")}
    form = QualityCheckForm(actor, block, posted(request), initial=initial)
    if form.is_bound and attempt(form, services.check_quality, actor=actor, block=block):
        messages.success(
            request, _("The spot is kept. Look at a few more: one spot cannot tell how others are.")
        )
        return to(request, "block_log", uid=uid)
    log = crumb(request, _("Planting log"), "block_log", uid=uid)
    return form_page(
        request, form, title=_("Check how trees were planted in %(block)s") % {"block": block},
        submit=_("Keep the check"), back=url(request, "block_log", uid=uid),
        crumbs=[*block_crumbs(request, block), log],
        intro=_("One spot of ground, 10 to 20 trees side by side, within days of planting. Dig up one or two."),
    )  # fmt: skip


@require_POST
def quality_check_void(request: HttpRequest, uid: UUID) -> HttpResponse:
    check = access.quality_check_for(request.actor, uid, "planting.edit")
    reason = ReasonForm(request.POST).data.get("reason", "")
    done = _("Taken back. It stays on the page, struck out, and no longer counts.")
    return act(request, services.void_check, done, "block_log", check.block.uid, check=check, reason=reason)
