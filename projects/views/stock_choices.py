"""Stock types of a species side by side, for one block."""

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from projects import access, clocks, stock_words
from projects.forms.stock_choices import StockChoicesForm
from projects.selectors import stock_choices as selectors
from projects.views.saving import crumb


@require_GET
def stock_compare(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    block = access.block_for(actor, uid, "plan.view")
    form = StockChoicesForm(actor, block.project.currency, request.GET)
    today = clocks.today_at(block.site)
    rows, species = [], None
    if form.is_bound and form.is_valid():
        species = form.cleaned_data["species"]
        rows = selectors.stock_choices(block, species, form.wishes(), today)
    context = {
        "planting_block": block, "form": form, "rows": rows, "species": species,
        "settled": selectors.is_cheapest_for_sure(rows), "words": stock_words,
        "crumbs": [crumb(request, block.site, "site_detail", uid=block.site.uid),
                   crumb(request, block, "block_detail", uid=uid)],
    }  # fmt: skip
    return render(request, "projects/stock_compare.html", context, status=422 if form.errors else 200)
