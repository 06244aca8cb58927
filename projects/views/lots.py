"""One lot: its ledger and clock, receiving it, and what becomes of its plants."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access, clocks, panels, waiting_words
from projects.forms.people import ReasonForm
from projects.forms.stock import LotForm, MovementForm, StockTakeForm, StorageEndForm, StorageForm
from projects.models import LotMovement, StockLot
from projects.selectors import handovers, lot_family
from projects.selectors import stock as selectors
from projects.selectors.ledgers import standings
from projects.selectors.papers import papers_of
from projects.selectors.records import history_of
from projects.services import lots as services
from projects.services import movements
from projects.views.saving import act, attempt, crumb, form_page, posted, shelf, to, url


@require_GET
def lot_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    lot = access.lot_for(actor, uid)
    moved = list(lot.movements.select_related("holding__block", "to_lot").order_by("moved_on", "id"))
    takes, stores = list(lot.stock_takes.all()), list(lot.storages.all())
    standing = standings([lot], clocks.today_of(actor.organisation))[0]
    looks = handovers.checks_of(actor, standing)
    checks = [row.check for row in looks]
    context = {
        "lot": lot,
        "seed": access.visible_seed_collections(actor).filter(pk=lot.seed_collection_id).first(),
        "standing": standing,
        "waiting": waiting_words.usual_of(lot.stock_type),
        "limit_words": waiting_words.limit_words(standing.wait),
        "looks": looks,
        "kin": lot_family.kin_of(actor, lot),
        "papers": papers_of(actor, [lot, *checks, *filter(None, [lot.delivery])]),
        "plantings": selectors.lot_plantings(actor, standing),
        "movements": moved,
        "takes": takes,
        "stores": stores,
        "panels": panels.filled("lot", actor, lot),
        "history": history_of(actor, [lot.uid, *(row.uid for row in [*moved, *takes, *stores, *checks])]),
        "crumbs": [crumb(request, _("Stock"), "stock")],
    }
    return render(request, "projects/lot_detail.html", context)


@require_http_methods(["GET", "POST"])
def lot_new(request: HttpRequest) -> HttpResponse:
    actor = request.actor
    actor.require("lot.edit")
    if actor.may("nursery.edit") and not access.visible_nurseries(actor).current().exists():
        messages.info(request, _("A lot comes from a nursery, so add the nursery first."))
        return to(request, "nursery_new")
    today = clocks.today_of(actor.organisation)
    initial = {
        "received_on": today,
        "currency": actor.organisation.currency,
        "order": request.GET.get("order"),
    }
    form = LotForm(actor, posted(request), initial=initial)
    if form.is_bound and (lot := attempt(form, services.receive_lot, actor=actor)):
        messages.success(request, _("The lot is in. Its clock and ledger are below."))
        return to(request, "lot_detail", uid=lot.uid)
    return form_page(
        request, form, title=_("Receive a stock lot"), submit=_("Receive the lot"), back=url(request, "stock"),
        crumbs=[crumb(request, _("Stock"), "stock")],
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def lot_edit(request: HttpRequest, uid: UUID) -> HttpResponse:
    lot = access.lot_for(request.actor, uid, "lot.edit")
    form = LotForm(request.actor, posted(request), instance=lot)
    if form.is_bound and attempt(form, services.edit_lot, actor=request.actor, lot=lot):
        messages.success(request, _("Saved."))
        return to(request, "lot_detail", uid=uid)
    return _lot_form(request, lot, form, _("Correct lot %(code)s") % {"code": lot}, _("Save"))


def _lot_form(
    request: HttpRequest, lot: StockLot, form: object, title: str, submit: str, **more: object
) -> HttpResponse:
    crumbs = [crumb(request, _("Stock"), "stock"), crumb(request, lot, "lot_detail", uid=lot.uid)]
    back = url(request, "lot_detail", uid=lot.uid)
    return form_page(request, form, title=title, submit=submit, back=back, crumbs=crumbs, **more)


@require_POST
def lot_archive(request: HttpRequest, uid: UUID) -> HttpResponse:
    lot = access.lot_for(request.actor, uid, "lot.edit")
    words = (_("The lot is put away; nothing of it is lost."), _("The lot is back in use."))
    return shelf(
        request, services.archive_lot, services.restore_lot, words, page="lot_detail", uid=uid, lot=lot
    )


@require_http_methods(["GET", "POST"])
def lot_move(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Record plants given out, moved on, culled, returned or lost."""
    lot = access.lot_for(request.actor, uid, "lot.edit")
    form = MovementForm(
        request.actor, posted(request), initial={"moved_on": clocks.today_of(lot.organisation)}
    )
    if form.is_bound and attempt(form, movements.move, actor=request.actor, lot=lot):
        _say_gap(request, lot)
        return to(request, "lot_detail", uid=uid)
    title = _("Say what became of plants of lot %(code)s") % {"code": lot}
    intro = _("Planting has its own page, on the block: this is for plants that left otherwise.")
    return _lot_form(request, lot, form, title, _("Record it"), intro=intro)


def _say_gap(request: HttpRequest, lot: StockLot) -> None:
    gap = standings([lot], clocks.today_of(lot.organisation))[0].ledger.gap
    if gap < 0:
        words = _(
            "Recorded. %(number)s more have now left the lot than it received: see the gap in its ledger."
        )
        messages.warning(request, words % {"number": -gap})
    elif gap > 0:
        words = _(
            "Recorded. %(number)s plants of this lot are nowhere in the records: see the gap in its ledger."
        )
        messages.warning(request, words % {"number": gap})
    else:
        messages.success(request, _("Recorded."))


@require_POST
def movement_void(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Take a movement back."""
    actor = request.actor
    rows = LotMovement.objects.filter(lot__in=access.visible_lots(actor)).select_related("lot")
    movement = access.get_or_404(rows, uid=uid)
    actor.require("lot.edit")
    reason = ReasonForm(request.POST).data.get("reason", "")
    done = _("Taken back. It stays on the page, struck out.")
    return act(
        request,
        movements.void_movement,
        done,
        "lot_detail",
        movement.lot.uid,
        movement=movement,
        reason=reason,
    )


@require_http_methods(["GET", "POST"])
def lot_count(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Record a stock take."""
    lot = access.lot_for(request.actor, uid, "lot.edit")
    form = StockTakeForm(posted(request), initial={"counted_on": clocks.today_of(lot.organisation)})
    if form.is_bound and attempt(form, movements.count_stock, actor=request.actor, lot=lot):
        _say_gap(request, lot)
        return to(request, "lot_detail", uid=uid)
    title = _("Count what is on hand of lot %(code)s") % {"code": lot}
    intro = _(
        "Count before looking at the expected number. A difference is shown as a gap, never evened out."
    )
    return _lot_form(request, lot, form, title, _("Keep the count"), intro=intro)


@require_http_methods(["GET", "POST"])
def lot_store(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Into store, or out of the store it is in."""
    lot = access.lot_for(request.actor, uid, "lot.edit")
    today = clocks.today_of(lot.organisation)
    stored = lot.storages.filter(until_on__isnull=True).first()
    if stored is not None:
        form = StorageEndForm(posted(request), initial={"until_on": today})
        done = form.is_bound and attempt(form, movements.end_storage, actor=request.actor, storage=stored)
        title, submit = _("Take lot %(code)s out of store"), _("It is out; let the clock run")
    else:
        form = StorageForm(posted(request), initial={"from_on": today, "kind": "cold_store"})
        done = form.is_bound and attempt(form, movements.begin_storage, actor=request.actor, lot=lot)
        title, submit = _("Put lot %(code)s in store"), _("It is stored; stop the clock")
    if done:
        messages.success(request, _("Recorded."))
        return to(request, "lot_detail", uid=uid)
    return _lot_form(request, lot, form, title % {"code": lot}, submit)
