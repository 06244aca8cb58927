"""Which species fit a block."""

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from projects import access, fit_words
from projects.figures import money
from projects.forms.chooser import ChooserForm
from projects.selectors import chooser, site_facts
from projects.views.saving import crumb
from species.calc import suitability as fit
from species.traits import ROLES, USES


@require_GET
def species_chooser(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    actor.require("species.view")
    block = access.block_for(actor, uid)
    form = ChooserForm(request.GET or None)
    site = site_facts.facts_of(block)
    wishes = form.wishes()
    judged = chooser.judged(block, site, wishes)
    found = [told(each) for each in judged if chooser.keeps(wishes, each)]
    offered = [row for row in found if row["choice"].answer != fit.REFUSED]
    can_grow = [row for row in offered if row["choice"].found.verdict in (fit.FITS, fit.LIMITED)]
    context = {
        "planting_block": block, "form": form, "site": site, "here": here(site),
        "chosen": can_grow, "rest": [row for row in offered if row not in can_grow],
        "refused": [row for row in found if row["choice"].answer == fit.REFUSED],
        "unknown": [told(each) for each in judged if chooser.unknown_to(wishes, each)],
        "crumbs": [crumb(request, block.site, "site_detail", uid=block.site.uid),
                   crumb(request, block, "block_detail", uid=uid)],
    }  # fmt: skip
    return render(request, "projects/species_chooser.html", context, status=422 if form.errors else 200)


def told(each: chooser.Choice) -> dict[str, object]:
    """A row with its words."""
    return {
        "choice": each,
        "verdict": fit_words.verdict(each.found),
        "limit": fit_words.limit(each.found.limiting),
        "unknown": fit_words.unknown(each.found.unknown),
        "uses": short(USES, each.uses),
        "roles": short(ROLES, each.roles),
        "offers": [money(offer.unit_price_minor, offer.currency) for offer in each.cheapest],
        "strips": [
            {
                "strip": strip,
                "name": fit_words.factor_name(strip.factor.name),
                "stands": fit_words.tolerance(strip.factor.name, strip.points),
                "here": "" if strip.site is None else fit_words.amount(strip.factor.name, strip.factor.value),
            }
            for strip in each.strips
        ],
    }


def short(words: dict[str, Any], keys: tuple[str, ...] | None) -> str:
    """Words in one line; what follows a colon is left to the page of the species."""
    return ", ".join(str(words[key]).partition(":")[0] for key in keys or ())


def here(site: site_facts.SiteFacts) -> list[tuple[str, str]]:
    """What is known of the place, in the order of the factors; unknown facts are listed too."""
    rows = []
    for name, fact, *_rest in (*fit.NUMBERS, *fit.WORDS):
        value = site.facts.get(fact)
        if isinstance(value, str):
            text = str(fit_words.WORDS[name].get(value, value))
        else:
            text = "" if value is None else fit_words.amount(name, value)
        rows.append((fit_words.factor_name(name), text))
    return rows
