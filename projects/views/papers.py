"""Papers and pictures of records: attached, downloaded, taken back."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access
from projects.access import Actor
from projects.documents.pictures import ENDINGS
from projects.errors import Refusal
from projects.forms.papers import PaperForm
from projects.models import CareTask, Delivery, LotCheck, Paper, Sighting, StockLot, StockOrder, StoredFile
from projects.paper_rules import RULES, require_edit, rule_of, subject_of
from projects.selectors.papers import subject_words
from projects.services import papers
from projects.views.large_bodies import is_too_large, refused
from projects.views.saving import attempt, form_page, posted, url


def _sighting_for(actor: Actor, uid: UUID, verb: str) -> Sighting:
    rows = Sighting.objects.filter(organisation=actor.organisation, walk__in=access.visible_walks(actor))
    row = access.get_or_404(rows.select_related("walk"), uid=uid)
    actor.require(verb)
    return row


GETTERS: dict[str, tuple[type, Callable[..., Any]]] = {
    "order": (StockOrder, access.order_for),
    "delivery": (Delivery, access.delivery_for),
    "lot": (StockLot, access.lot_for),
    "check": (LotCheck, access.lot_check_for),
    "sighting": (Sighting, _sighting_for),
    "care": (CareTask, access.care_task_for),
}


@csrf_exempt  # the check for it reads the body; the view below is protected
@require_http_methods(["GET", "POST"])
def paper_new(request: HttpRequest, uid: UUID, of: str) -> HttpResponse:
    """Attach a paper to an order, a delivery, a lot, a check, a sighting or a care task."""
    model, getter = GETTERS[of]
    subject = getter(request.actor, uid, RULES[model].edit)
    require_edit(request.actor, subject)
    if is_too_large(request, papers.MOST_BYTES):
        return refused(request, papers.MOST_BYTES)
    return attach_to(request, subject)


@csrf_protect
def attach_to(request: HttpRequest, subject: Any) -> HttpResponse:
    """Take a file and keep it with its record."""
    form = PaperForm(posted(request), request.FILES if request.method == "POST" else None)
    if form.is_bound and attempt(form, papers.attach, actor=request.actor, subject=subject):
        messages.success(request, _("The paper is attached."))
        return redirect(page_of(request, subject))
    return form_page(
        request, form, title=_("Attach a paper or picture"), submit=_("Attach it"),
        back=page_of(request, subject), crumbs=[{"url": page_of(request, subject), "label": subject_words(subject)}],
    )  # fmt: skip


@require_GET
def paper_file(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Hand out the file of a paper, always to be saved: what strangers wrote is never shown as a page of ours."""
    actor = request.actor
    paper = _paper_for(actor, uid, "view")
    if paper.voided_at is not None:
        raise Http404(_("This paper was taken back."))
    file = StoredFile.objects.filter(organisation=actor.organisation, sha256=paper.sha256).first()
    if file is None:
        raise Http404(_("This file has not arrived yet."))
    answer = HttpResponse(bytes(file.content), content_type=file.media_type)
    answer["Content-Disposition"] = f'attachment; filename="{file_name(paper, file.media_type)}"'
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


@require_POST
def paper_void(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Take a paper back."""
    paper = _paper_for(request.actor, uid, "edit")
    try:
        papers.void(actor=request.actor, paper=paper, reason=request.POST.get("reason", ""))
    except Refusal as refusal:
        messages.error(request, refusal.message)
    else:
        messages.success(request, _("Taken back. It stays on the page, struck out."))
    return redirect(page_of(request, subject_of(paper)))


def _paper_for(actor: Actor, uid: UUID, act: str) -> Paper:
    rows = access.visible_papers(actor).select_related(
        "order", "delivery__order", "delivery__nursery", "lot", "check_of_lot__lot", "sighting__walk__block",
        "care_task__block",
    )  # fmt: skip
    paper = access.get_or_404(rows, uid=uid)
    actor.require(getattr(rule_of(subject_of(paper)), act))
    return paper


def file_name(paper: Paper, media_type: str) -> str:
    """A name to keep a paper under: what it is and its number, in plain letters."""
    words = slugify(f"{paper.kind} {paper.title} {paper.number}".replace("_", " "))[:80].strip("-")
    return f"{words or 'paper'}.{ENDINGS.get(media_type, 'bin')}"


def page_of(request: HttpRequest, subject: Any) -> str:
    """The page that lists a record's papers."""
    if isinstance(subject, StockOrder):
        return url(request, "order_detail", uid=subject.uid)
    if isinstance(subject, Delivery):
        return url(request, "delivery_detail", uid=subject.uid)
    if isinstance(subject, StockLot | LotCheck):
        return url(request, "lot_detail", uid=getattr(subject, "lot", subject).uid)
    if isinstance(subject, CareTask):
        return url(request, "care_detail", uid=subject.uid)
    return url(request, "walk_detail", uid=subject.walk.uid)
