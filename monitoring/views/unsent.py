"""Take in the file of unsent counts that a phone saved, and say what became of each."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_http_methods

from monitoring.forms.unsent import UnsentForm
from monitoring.selectors.taken_in import page_of
from monitoring.services import unsent
from projects.errors import Refusal
from projects.views.large_bodies import is_too_large, refused
from projects.views.saving import crumb, refuse


@csrf_exempt  # the check for it reads the body; the view below is protected
@require_http_methods(["GET", "POST"])
def unsent_new(request: HttpRequest) -> HttpResponse:
    """Refuse by its announced length what is too large, then take the file in."""
    request.actor.require("upload.add")
    if is_too_large(request, unsent.MOST_BYTES):
        return refused(request, unsent.MOST_BYTES, crumbs=crumbs(request))
    return choose_file(request)


@csrf_protect
def choose_file(request: HttpRequest) -> HttpResponse:
    """Take a file in. The answer is drawn at once: sending the form again stores nothing twice."""
    form = UnsentForm(request.POST, request.FILES) if request.method == "POST" else UnsentForm()
    if form.is_bound and form.is_valid():
        try:
            taken = unsent.take_in(actor=request.actor, content=form.cleaned_data["file"].read())
        except Refusal as refusal:
            refuse(form, refusal)
        else:
            context = page_of(request.actor, taken) | {"crumbs": crumbs(request)}
            return render(request, "monitoring/unsent_taken.html", context)
    context = {"form": form, "crumbs": crumbs(request)}
    return render(request, "monitoring/unsent_new.html", context, status=422 if form.errors else 200)


def crumbs(request: HttpRequest) -> list[dict[str, str]]:
    return [crumb(request, _("Rounds"), "monitoring:round_list")]
