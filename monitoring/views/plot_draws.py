"""Draw plots in a block: look first, lay out, draw again; take up a spare for a plot that cannot be reached."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from monitoring import access, design_words
from monitoring.forms.plot_draws import DrawForm, GroundForm, HoldingsForm, RowForm, UnreachableForm
from monitoring.models import BorderRule, PlotDraw, Selection, Shape
from monitoring.selectors import plot_draws as selectors
from monitoring.selectors.plot_draws import BlockFacts
from monitoring.services import plot_draws, spares
from projects import access as projects_access
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Block
from projects.views.saving import attempt, crumb, refuse, to

USUAL_PLOTS, USUAL_SPARES, USUAL_RADIUS_M = 12, 3, 5.64


@require_http_methods(["GET", "POST"])
def plot_draw_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Ask how to draw; show what the address draws; lay it out on a post."""
    block = projects_access.block_for(request.actor, uid)
    request.actor.require("plot.edit")
    (facts,) = selectors.facts_of(projects_access.visible_blocks(request.actor).filter(pk=block.pk))
    asked = request.GET if request.method == "GET" else request.POST
    if asked.get("shape") == Shape.WHOLE_BLOCK:
        return census(request, block, facts)
    form = form_of(facts, asked)
    if form.is_bound and form.is_valid():
        if request.method == "POST":
            made = laid_out(request.actor, block, form)
            if made is not None:
                messages.success(request, told(made))
                return to(request, "monitoring:plot_draw_detail", uid=made.uid)
        elif form.needs_seed:
            return redirect(f"{request.path}?{with_seed(asked, form.fresh_seed())}")
    return draw_page(request, block, facts, form)


def draw_page(request: HttpRequest, block: Block, facts: BlockFacts, form: DrawForm) -> HttpResponse:
    """The form, and below it what it draws, of which nothing is stored."""
    context = {
        "planting_block": block,
        "facts": facts,
        "form": form,
        "draws": selectors.visible_draw_rows(request.actor, block),
        "ways": ways(facts),
        "preview": preview(block, form),
        "crumbs": [crumb(request, block.name, "block_detail", uid=block.uid)],
    }
    return render(request, "monitoring/plot_draw_new.html", context, status=422 if form.errors else 200)


def form_of(facts: BlockFacts, asked: Any) -> DrawForm:
    """The form that fits a block, bound once it was filled in; a link from the design page only begins it."""
    kind = HoldingsForm if facts.is_list else RowForm if asks_for_row(facts, asked) else GroundForm
    if "n_plots" in asked:
        return kind(asked, block=facts.block)
    begin: dict[str, Any] = {
        "n_plots": asked.get("plots") or USUAL_PLOTS,
        "n_spares": USUAL_SPARES,
        "is_permanent": True,
        "method": Selection.BALANCED,
        "border_rule": BorderRule.CLIP,
        "radius_m": asked.get("radius") or facts.usual_radius_m or USUAL_RADIUS_M,
        "spots": facts.trees or None,
        "spots_per_plot": selectors.USUAL_TREES,
    }
    return kind(block=facts.block, initial=begin)


def asks_for_row(facts: BlockFacts, asked: Any) -> bool:
    shape = asked.get("shape")
    return shape == Shape.ROW or (not shape and facts.is_row)


def ways(facts: BlockFacts) -> list[tuple[str, str]]:
    """The other shapes a block may be counted by."""
    if facts.is_list:
        return []
    return [
        (Shape.CIRCLE, _("circles inside its boundary")),
        (Shape.ROW, _("runs of spots along its rows")),
        (Shape.WHOLE_BLOCK, _("every tree of it (census)")),
    ]


def with_seed(asked: Any, seed: int) -> str:
    """The same address with a seed, so that what is shown can be shown again."""
    query = asked.copy()
    query["seed"] = str(seed)
    return query.urlencode()


def preview(block: Block, form: DrawForm) -> dict[str, Any] | None:
    """What a valid form draws; what cannot be drawn goes onto the form."""
    if not form.is_bound or not form.is_valid() or form.needs_seed:
        return None
    try:
        frame = form.frame()
        found = plot_draws.drawn(frame, form.plan())
    except Refusal as refusal:
        refuse(form, refusal)
        return None
    rows = selectors.point_rows(found.points)
    return {
        "rows": rows,
        "shapes": selectors.map_of(block, frame, rows, selectors.others_in_use(block)),
        "share_not_covered": found.share_not_covered,
        "n_cut": sum(row.is_cut for row in rows if not row.is_spare),
    }


def laid_out(actor: Actor, block: Block, form: DrawForm) -> PlotDraw | None:
    """Lay out what the form draws, from a fresh seed where none was given; None with the reason on the form."""
    if form.needs_seed:
        form.cleaned_data["seed"] = form.fresh_seed()
    try:
        return plot_draws.lay_out(
            actor=actor, block=block, frame=form.frame(), plan=form.plan(), **form.more()
        )
    except Refusal as refusal:
        refuse(form, refusal)
        return None


def told(made: PlotDraw) -> str:
    words = ngettext(
        "%(n)s plot is laid out. Print its card, walk there, and write down what was planted in it.",
        "%(n)s plots are laid out. Print their cards, walk there, and write down what was planted in each.",
        made.n_plots,
    )
    return words % {"n": made.n_plots}


def census(request: HttpRequest, block: Block, facts: BlockFacts) -> HttpResponse:
    """Count a block whole: one plot that is the block."""
    if request.method == "POST":
        try:
            made = plot_draws.count_whole(actor=request.actor, block=block)
        except Refusal as refusal:
            messages.error(request, refusal.message)
        else:
            messages.success(request, _("The block is one plot now. Write down what was planted in it."))
            return to(request, "monitoring:plot_detail", uid=made.uid)
    context = {
        "planting_block": block,
        "facts": facts,
        "ways": ways(facts),
        "crumbs": [crumb(request, block.name, "block_detail", uid=block.uid)],
    }
    return render(request, "monitoring/plot_draw_census.html", context)


# --- one draw -----------------------------------------------------------------------------------
@require_GET
def plot_draw_detail(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Show how plots were drawn; with ?again=1 draw them once more and compare."""
    draw = access.draw_for(request.actor, uid)
    rows = selectors.point_rows(draw.points, selectors.plots_of(draw))
    context = {
        "draw": draw,
        "rows": rows,
        "n_spares_left": sum(row.is_spare and row.plot is None for row in rows),
        "n_cut": sum(row.is_cut for row in rows if row.plot),
        "frame_words": selectors.frame_words(draw),
        "radius": design_words.radius(draw.radius_m, draw.organisation.units) if draw.radius_m else "",
        "shapes": selectors.map_of(draw.block, draw.frame, rows, selectors.others_in_use(draw.block, draw)),
        "again": plot_draws.draw_again(draw) if request.GET.get("again") == "1" else None,
        "crumbs": [crumb(request, draw.block.name, "block_detail", uid=draw.block.uid)],
    }
    return render(request, "monitoring/plot_draw_detail.html", context)


@require_POST
def plot_unreachable(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Take up the next spare for a plot that cannot be reached."""
    plot = access.plot_for(request.actor, uid, "plot.edit")
    form = UnreachableForm(request.POST, plot=plot)
    spare = attempt(form, spares.take_next_spare, actor=request.actor, plot=plot)
    if spare is None:
        messages.error(request, " ".join(error for errors in form.errors.values() for error in errors))
        return to(request, "monitoring:plot_detail", uid=uid)
    if form.cleaned_data.get("survey_round"):
        words = _(
            "%(plot)s stays in the round as missing. Plot %(spare)s stands for it: write down what was planted there."
        )
    else:
        words = _("Plot %(spare)s stands for %(plot)s: write down what was planted there.")
    messages.success(request, words % {"plot": plot.name, "spare": spare.name})
    return to(request, "monitoring:plot_detail", uid=spare.uid)
