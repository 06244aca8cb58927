"""Seedlings of a lot given out to a list of holdings, and the sheet on which each signs for them."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from projects import access, clocks
from projects.errors import Refusal
from projects.forms.giving_out import GiveOutForm
from projects.identifiers import uuid7
from projects.models import Block, StockLot
from projects.selectors.giving_out import blocks_of_holdings, given
from projects.selectors.ledgers import ledger_of
from projects.services.giving_out import give_out
from projects.views.saving import crumb, posted, refuse, to, url


@require_http_methods(["GET", "POST"])
def lot_give_out(request: HttpRequest, uid: UUID) -> HttpResponse:
    lot = access.lot_for(request.actor, uid, "lot.edit")
    blocks = list(blocks_of_holdings(request.actor))
    block = _chosen(request, blocks)
    context = {
        "lot": lot, "blocks": blocks, "place": block, "ledger": ledger_of(lot),
        "crumbs": [crumb(request, _("Stock"), "stock"), crumb(request, lot, "lot_detail", uid=uid)],
    }  # fmt: skip
    if block is None:
        return render(request, "projects/lot_give_out.html", context)
    rows = given(block, lot)
    form = GiveOutForm(
        rows, posted(request), initial={"form": uuid7(), "moved_on": clocks.today_of(lot.organisation)}
    )
    if form.is_bound and _given(request, lot, block, form):
        messages.success(request, _("Recorded. Print the sheet, and let each grower sign for theirs."))
        return to(request, "lot_detail", uid=uid)
    context |= {"form": form, "rows": list(zip(rows, form.rows(), strict=True))}
    return render(request, "projects/lot_give_out.html", context, status=422 if form.errors else 200)


def _given(request: HttpRequest, lot: StockLot, block: Block, form: GiveOutForm) -> bool:
    if not form.is_valid():
        return False
    told = {name: form.cleaned_data[name] for name in ("form", "moved_on", "note")}
    try:
        give_out(actor=request.actor, lot=lot, block=block, shares=form.shares(), **told)
    except Refusal as refusal:
        refuse(form, refusal)
        return False
    return True


@require_GET
def lot_sign_for(request: HttpRequest, uid: UUID) -> HttpResponse:
    """The sheet a lot is handed out with: a line a holding, to be signed."""
    lot = access.lot_for(request.actor, uid)
    blocks = list(blocks_of_holdings(request.actor))
    block = _chosen(request, blocks)
    rows = given(block, lot) if block is not None else []
    context = {
        "lot": lot, "place": block, "blocks": blocks, "rows": rows, "total": sum(row.of_lot for row in rows),
        "crumbs": [crumb(request, _("Stock"), "stock"), crumb(request, lot, "lot_detail", uid=uid)],
        "back": url(request, "lot_detail", uid=uid),
    }  # fmt: skip
    return render(request, "projects/lot_sign_for.html", context)


def _chosen(request: HttpRequest, blocks: list[Block]) -> Block | None:
    """The block the address names, else the only one there is."""
    asked = request.GET.get("block", "")
    if asked:
        return next((block for block in blocks if str(block.uid) == asked), None)
    return blocks[0] if len(blocks) == 1 else None
