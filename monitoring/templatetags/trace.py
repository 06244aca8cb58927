"""The link from a figure to where its trees came from."""

from uuid import UUID

from django import template
from django.template import Context
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext as _

register = template.Library()

BY_UID = ("block", "cohort", "lot", "nursery", "project")
OF_A_PROJECT = {"species": "species", "stock_type": "stock"}


@register.simple_tag(takes_context=True)
def where_from(context: Context, scope: str, key: str, project_uid: UUID | str = "") -> str:
    """A link beside the figure of a scope and key, for those who may follow it; else nothing."""
    actor = getattr(getattr(context, "request", None), "actor", None)
    address = address_of(actor.organisation.slug, scope, key, project_uid) if may(actor) else ""
    return format_html('<a href="{}">{}</a>', address, _("Where from?")) if address else ""


def may(actor) -> bool:
    return actor is not None and actor.may("trace.view")


def address_of(org: str, scope: str, key: str, project_uid: UUID | str = "") -> str:
    """The page that traces a figure; empty for a scope that has none.

    >>> address_of("hill", "site", "0b5f3a1e-0000-7000-8000-000000000000")
    ''
    """
    if scope in BY_UID:
        return reverse(f"monitoring:trace_{scope}", kwargs={"org": org, "uid": key})
    if scope == "block_species":
        uid, slug = key.split(":", 1)
        return reverse("monitoring:trace_block", kwargs={"org": org, "uid": uid}) + f"?species={slug}"
    if scope in OF_A_PROJECT and project_uid:
        address = reverse("monitoring:trace_project", kwargs={"org": org, "uid": project_uid})
        return f"{address}?{OF_A_PROJECT[scope]}={key}"
    return ""
