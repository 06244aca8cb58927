"""A plan's papers: frozen for an approved version, as it stands for a draft."""

from typing import Any

from projects.access import Actor
from projects.documents.names import with_names
from projects.documents.plan_pages import plan_pages
from projects.models import Plan
from projects.selectors.plan_content import content_of


def content_for(actor: Actor, plan: Plan) -> dict[str, Any]:
    """A plan's content, names of persons still as marks."""
    return content_of(actor, plan) if plan.is_draft else plan.frozen["content"]


def pages_for(actor: Actor, plan: Plan) -> dict[str, Any]:
    """A plan's pages with names."""
    pages = plan_pages(content_of(actor, plan)) if plan.is_draft else plan.frozen["pages"]
    return with_names(actor.organisation, pages)
