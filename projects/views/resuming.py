"""Pages that keep what was typed and could not be stored, and show it again on the next visit."""

from collections.abc import Callable, Mapping
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render

from projects.models import Site, SiteAssessment
from projects.services import assessment as services
from projects.views.saving import attempt


def begun(
    request: HttpRequest, assessment: SiteAssessment, key: str, form_class: Any, *args: Any, **options: Any
) -> Any:
    """A form with what is posted, else with what was kept as typed, else with what is stored."""
    if request.method == "POST":
        return form_class(*args, request.POST, **options)
    kept = assessment.unsaved.get(key)
    return form_class(*args, as_posted(kept) if kept else None, **options)


def as_posted(kept: Mapping[str, Any]) -> QueryDict:
    """Kept words as a browser would send them again."""
    data = QueryDict(mutable=True)
    for name, value in kept.items():
        data[name] = value
    return data


def attempt_or_keep(
    request: HttpRequest,
    form: forms.Form,
    service: Callable[..., Any],
    *,
    kept_for: Site,
    key: str,
    **fixed: Any,
) -> Any:
    """Try the service with what was posted; what is refused is kept under `key`, with its version."""
    if request.method != "POST":
        return None
    actor, made = request.actor, attempt(form, service, actor=request.actor, **fixed)
    if made is None:
        typed = {name: request.POST[name] for name in form.fields if name in request.POST}
        services.keep_unsaved(actor=actor, site=kept_for, key=key, typed=typed)
    else:
        services.drop_unsaved(actor=actor, site=kept_for, key=key)
    return made


def step_page(
    request: HttpRequest, form: forms.Form, assessment: SiteAssessment, key: str, **context: Any
) -> HttpResponse:
    """Draw a step; one with problems that were just posted answers 422."""
    posting = request.method == "POST"
    kept = posting or key in assessment.unsaved
    page = {"form": form, "key": key, "site": assessment.site, "kept": kept, **context}
    status = 422 if posting and form.errors else 200
    return render(request, "projects/assessment_step.html", page, status=status)
