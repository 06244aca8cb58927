"""Lots split, and put together."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from projects import access, clocks
from projects.access import Actor
from projects.forms.lot_splits import MergeForm, SplitForm
from projects.models import StockLot
from projects.selectors.deliveries import lots_to_merge
from projects.selectors.ledgers import ledgers_of
from projects.services import lot_splits
from projects.views.saving import attempt, crumb, form_page, posted, to, url


@require_http_methods(["GET", "POST"])
def lot_split(request: HttpRequest, uid: UUID) -> HttpResponse:
    lot = access.lot_for(request.actor, uid, "lot.edit")
    form = SplitForm(posted(request), initial=_begun(lot))
    if form.is_bound and (child := attempt(form, lot_splits.split_lot, actor=request.actor, lot=lot)):
        messages.success(request, _("Split off. Its clock and papers are those of the lot it came from."))
        return to(request, "lot_detail", uid=child.uid)
    intro = _(
        "For plants that go their own way: another store, another crew. The new lot keeps where it came from, and its"
        " clock goes on."
    )
    title = _("Split plants off lot %(code)s") % {"code": lot}
    return _page(request, lot, form, title=title, submit=_("Split them off"), intro=intro)


@require_http_methods(["GET", "POST"])
def lot_merge(request: HttpRequest, uid: UUID) -> HttpResponse:
    lot = access.lot_for(request.actor, uid, "lot.edit")
    others = lots_to_merge(request.actor, lot)
    ledgers = ledgers_of([lot, *others])
    at_hand = {pk: ledger.at_hand for pk, ledger in ledgers.items()}
    some = others.filter(pk__in=[pk for pk, number in at_hand.items() if number])
    form = MergeForm(some, at_hand, posted(request), initial=_begun(lot))

    def together(*, actor: Actor, lots: Any, **told: Any) -> StockLot:
        parts = [(one, at_hand[one.pk]) for one in [lot, *lots]]
        return lot_splits.merge_lots(actor=actor, parts=parts, **told)

    if form.is_bound and (child := attempt(form, together, actor=request.actor)):
        messages.success(request, _("Put together. Its clock is that of the plants that waited longest."))
        return to(request, "lot_detail", uid=child.uid)
    intro = _(
        "Only lots of one nursery, species, stock type and unit. Their survival can no longer be told apart afterwards,"
        " and the clock is that of the plants that waited longest."
    )
    title = _("Put lot %(code)s together with others") % {"code": lot}
    return _page(request, lot, form, title=title, submit=_("Put them together"), intro=intro)


def _begun(lot: StockLot) -> dict[str, Any]:
    return {"moved_on": clocks.today_of(lot.organisation), "code": lot_splits.suggested_code(lot)}


def _page(request: HttpRequest, lot: StockLot, form: Any, **words: Any) -> HttpResponse:
    crumbs = [crumb(request, _("Stock"), "stock"), crumb(request, lot, "lot_detail", uid=lot.uid)]
    return form_page(request, form, back=url(request, "lot_detail", uid=lot.uid), crumbs=crumbs, **words)
