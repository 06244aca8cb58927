"""What form pages share: try a service, put its refusal where it belongs, draw the page again with nothing lost."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import FieldDoesNotExist
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from projects.errors import Refusal
from projects.services.editing import ChangedMeanwhile


def attempt(form: forms.Form, service: Callable[..., Any], **fixed: Any) -> Any:
    """Return what the service made of a valid form, else None with the reasons on the form."""
    if not form.is_valid():
        return None
    try:
        return service(**fixed, **form.cleaned_data)
    except ChangedMeanwhile as refusal:
        show_both(form, refusal)
    except Refusal as refusal:
        refuse(form, refusal)
    return None


def refuse(form: forms.Form, refusal: Refusal) -> None:
    """Put a refusal on its field, or above the form where it has none on this page."""
    form.add_error(refusal.field if refusal.field in form.fields else None, refusal.message)


def show_both(form: forms.Form, refusal: ChangedMeanwhile) -> None:
    """Show what stands in the records beside what was written; saving again then replaces it knowingly."""
    form.both = [
        {"label": _label(form, refusal, name), "stored": stored, "yours": form.cleaned_data.get(name)}
        for name, stored in refusal.stored.items()
        if stored != form.cleaned_data.get(name)
    ]
    data = form.data.copy()
    data[form.add_prefix("version")] = refusal.version
    form.data = data
    form.add_error(None, refusal.message)


def _label(form: forms.Form, refusal: ChangedMeanwhile, name: str) -> str:
    if name in form.fields:
        return str(form.fields[name].label or name)
    try:
        return str(refusal.row._meta.get_field(name).verbose_name)
    except FieldDoesNotExist:
        return name.replace("_", " ")


def form_page(
    request: HttpRequest, form: forms.Form, *, title: str, submit: str, back: str, **context: Any
) -> HttpResponse:
    """Draw a form as a page of its own; one with problems answers 422.

    Further context: `crumbs`, `intro`, `map` ({field, label, shapes}: a map drawn before that field).
    """
    page = {"form": form, "title": title, "submit": submit, "back": back, "is_multipart": form.is_multipart()}
    page |= context
    return render(request, "projects/form_page.html", page, status=422 if form.errors else 200)


def posted(request: HttpRequest) -> Any:
    """Return what was posted, or None so that the form starts unbound."""
    return request.POST if request.method == "POST" else None


def to(request: HttpRequest, name: str, **kwargs: Any) -> HttpResponse:
    """Redirect to a page of this organisation."""
    return redirect(url(request, name, **kwargs))


def url(request: HttpRequest, name: str, **kwargs: Any) -> str:
    """Return the address of a page of this organisation, such as `url(request, "site_detail", uid=…)`."""
    name = name if ":" in name else f"projects:{name}"
    return reverse(name, kwargs={"org": request.actor.organisation.slug, **kwargs})


def crumb(request: HttpRequest, label: Any, name: str, **kwargs: Any) -> dict[str, str]:
    """Return one step of the way to a page."""
    return {"url": url(request, name, **kwargs), "label": str(label)}


def act(
    request: HttpRequest, service: Callable[..., Any], done: str, name: str, uid: Any, **values: Any
) -> HttpResponse:
    """Run a one-button act and return to its page with what came of it."""
    try:
        service(actor=request.actor, **values)
    except Refusal as refusal:
        messages.error(request, refusal.message)
    else:
        messages.success(request, done)
    return to(request, name, uid=uid)


def shelf(
    request: HttpRequest,
    away: Callable[..., Any],
    back: Callable[..., Any],
    words: tuple[str, str],
    **target: Any,
) -> HttpResponse:
    """Put a record away, or bring it back when the button said `restore`."""
    restoring = "restore" in request.POST
    name, uid = target.pop("page"), target.pop("uid")
    return act(request, back if restoring else away, words[restoring], name, uid, **target)
