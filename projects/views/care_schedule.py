"""What the plantings of a block ask for: worked out, looked over, taken up."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from projects import access, clocks
from projects.access import Actor
from projects.errors import Refusal
from projects.forms.care_schedule import CareChoicesForm
from projects.models import Block, Season
from projects.selectors import care_schedule as selectors
from projects.services import care_schedule as services
from projects.views.care import care_crumbs


@require_http_methods(["GET", "POST"])
def care_schedule(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Show proposals with their reasons; ticked ones become tasks. Choices stand in the address."""
    actor = request.actor
    block = access.block_for(actor, uid, "care.edit")
    season = _season(actor, request.GET.get("season"))
    form = CareChoicesForm(request.GET, selectors.is_open_ground(block))
    choices, today = form.choices(), clocks.today_at(block.site)
    ticked = request.POST.getlist("line") if request.method == "POST" else None
    problem = ""
    if ticked is not None:
        try:
            taken = services.accept(
                actor=actor, block=block, keys=ticked, choices=choices, today=today, season=season
            )
        except Refusal as refusal:
            problem = refusal.message
        else:
            _say(request, taken)
            return redirect(request.get_full_path())
    found = selectors.schedules(actor, block, choices, today, season)
    context = {
        "planting_block": block, "form": form, "season": season, "problem": problem, "ticked": ticked,
        "found": found, "may_tick": any(row.task is None for each in found for row in each.to_come),
        "seasons": _seasons_of(block), "crumbs": care_crumbs(request, block),
    }  # fmt: skip
    status = 422 if problem or form.errors else 200
    return render(request, "projects/care_schedule.html", context, status=status)


def _season(actor: Actor, text: str | None) -> Season | None:
    try:
        return access.visible_seasons(actor).filter(uid=UUID(text)).first() if text else None
    except ValueError:
        return None


def _seasons_of(block: Block) -> list[Any]:
    seen = {row.season_id: row.season for row in selectors.planted_cohorts(block)}
    return sorted(seen.values(), key=lambda season: season.starts_on, reverse=True)


def _say(request: HttpRequest, taken: services.Accepted) -> None:
    new, known = len(taken.new), taken.n_known
    words = ngettext("%(n)s task is on the list now.", "%(n)s tasks are on the list now.", new) % {"n": new}
    if known:
        words += " " + ngettext("%(n)s was there before.", "%(n)s were there before.", known) % {"n": known}
    messages.success(request, words)
