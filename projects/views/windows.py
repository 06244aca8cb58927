"""When to plant: a site's climate normals, and the planting windows of a block."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from projects import access, clocks, window_words
from projects.errors import Refusal
from projects.forms.climate import ClimateForm
from projects.forms.window_choices import AsksForm, GroundForm, KeepWindowsForm
from projects.forms.windows import WindowForm
from projects.models import PlantingWindow
from projects.selectors import planting_windows as windows
from projects.services import windows as services
from projects.views.saving import attempt, crumb, form_page, posted, to, url


@require_http_methods(["GET", "POST"])
def site_climate(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    site = access.site_for(actor, uid, "site.edit")
    form = ClimateForm(posted(request), request.FILES or None, instance=site)
    if form.is_bound and attempt(form, services.set_climate, actor=actor, site=site):
        messages.success(request, _("The normals are saved. Each block of the site can show when to plant."))
        return to(request, "site_detail", uid=uid)
    return form_page(
        request, form, title=_("Climate of %(name)s") % {"name": site}, submit=_("Save the normals"),
        back=url(request, "site_detail", uid=uid), is_multipart=True,
        crumbs=[crumb(request, _("Sites"), "site_list"), crumb(request, site, "site_detail", uid=uid)],
    )  # fmt: skip


@require_GET
def block_windows(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    block = access.block_for(actor, uid)
    form, asks = GroundForm(windows.soil_of(block), request.GET), AsksForm(request.GET)
    today, wrong = clocks.today_at(block.site), not (form.is_valid() and asks.is_valid())
    year = windows.year_of(block, form.asked(asks.rules()), today)
    context = {
        "planting_block": block, "form": form, "asks": asks, "year": year, "today": today, "wrong": wrong,
        "kept": [*form.kept(), *asks.changed().items()],
        "rows": told(year), "key": key(year), "written": windows.written(block),
        "crumbs": [crumb(request, block.site, "site_detail", uid=block.site.uid),
                   crumb(request, block, "block_detail", uid=uid)],
    }  # fmt: skip
    return render(request, "projects/planting_windows.html", context, status=422 if wrong else 200)


def key(year: windows.YearOfBlock | None) -> list[tuple[str, str]]:
    """What each letter on the drawing stands for."""
    ends = year.letters.items() if year else ()
    return [(letter, window_words.letter_words(*end)) for end, letter in ends]


def told(year: windows.YearOfBlock | None) -> list[dict[str, object]]:
    """Rows of the table, with why each window opens and closes."""
    if year is None:
        return []
    return [
        {
            "row": row,
            "found": [
                {
                    "span": found,
                    "opens": window_words.opens(found.window.opens_because),
                    "closes": window_words.closes(found.window.closes_because),
                }
                for found in row.found
            ],
            "never": [window_words.never(code) for code in row.why_none[:2]],
        }
        for row in year.rows
    ]


@require_POST
def windows_keep(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    block = access.block_for(actor, uid, "block.edit")
    form = KeepWindowsForm(request.POST)
    if not form.is_valid():
        messages.error(request, " ".join(str(error) for errors in form.errors.values() for error in errors))
        return to(request, "block_windows", uid=uid)
    ground, asks = GroundForm(windows.soil_of(block), request.POST), AsksForm(request.POST)
    if not (ground.is_valid() and asks.is_valid()):
        messages.error(
            request, _("Mend the numbers first: nothing is written down while one cannot be read.")
        )
        return to(request, "block_windows", uid=uid)
    year = windows.year_of(block, ground.asked(asks.rules()), clocks.today_at(block.site))
    rows = services.write_windows(
        actor=actor, block=block, stock_types=form.cleaned_data["stock_types"], windows=to_write(year),
        changed=asks.in_words(),
    )  # fmt: skip
    messages.success(
        request,
        ngettext("%(n)s window is written down.", "%(n)s windows are written down.", len(rows))
        % {"n": len(rows)},
    )
    return to(request, "block_windows", uid=uid)


def to_write(year: windows.YearOfBlock | None) -> list[PlantingWindow]:
    """Windows as records, with their reasons in words."""
    return [
        PlantingWindow(
            stock_type=row.stock_type,
            opens_on=found.opens_on,
            closes_on=found.closes_on,
            opens_because=window_words.opens(found.window.opens_because)[:200],
            closes_because=window_words.closes(found.window.closes_because)[:200],
        )
        for row in (year.rows if year else ())
        for found in row.found
    ]


@require_http_methods(["GET", "POST"])
def window_new(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    block = access.block_for(actor, uid, "block.edit")
    form = WindowForm(posted(request))
    if form.is_bound and attempt(form, services.state_window, actor=actor, block=block):
        messages.success(request, _("The window is written down."))
        return to(request, "block_windows", uid=uid)
    return form_page(
        request, form, title=_("State a planting window of %(name)s") % {"name": block},
        submit=_("Write it down"), back=url(request, "block_windows", uid=uid),
        crumbs=[crumb(request, block, "block_detail", uid=uid)],
    )  # fmt: skip


@require_POST
def window_remove(request: HttpRequest, uid: UUID) -> HttpResponse:
    actor = request.actor
    window = access.planting_window_for(actor, uid, "block.edit")
    block_uid = window.block.uid
    try:
        services.take_window_away(actor=actor, window=window)
    except Refusal as refusal:
        messages.error(request, refusal.message)
    else:
        messages.success(request, _("The window is taken away."))
    return to(request, "block_windows", uid=block_uid)
