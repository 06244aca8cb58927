"""What follows from the records: every figure computed, reminders made, one summary told and shared."""

from collections.abc import Callable
from importlib import import_module
from importlib.util import find_spec
from typing import Any

from monitoring.demo.kimbaru import KIMBARU
from monitoring.demo.serra_people import RIVER
from monitoring.demo.serra_survey import SERRA
from monitoring.demo.writing.fixed_identities import fixed_identities
from monitoring.demo.writing.people import member
from monitoring.models import DirtyKey
from monitoring.services import drain, recompute
from projects.models import Organisation, Project, Role, Season

SUMMARIES = "monitoring.services.summaries"
REMINDERS = "monitoring.services.reminders"


def compute(tell: Callable[[str, int], None]) -> int:
    """Work through everything that is behind the log, one key after another; return how many failed.

    Other organisations on the same database are brought up to date too, as a sweep would.
    """
    for row in list(drain.waiting()):
        recompute.recompute(organisation_id=row.organisation_id, kind=row.kind, key=row.key)
        tell("computing", 1)
    drain.work_through()
    if find_spec(REMINDERS):
        import_module(REMINDERS).renew_all()
    return DirtyKey.objects.count()


def tell_the_funder() -> dict[str, str]:
    """Make the season summary of one project and a link for its funder; return its address, once readable."""
    if not find_spec(SUMMARIES):
        return {}
    summaries: Any = import_module(SUMMARIES)
    organisation = Organisation.objects.get(slug=SERRA.slug)
    actor = member(organisation, Role.MANAGER)
    project = Project.objects.get(organisation=organisation, name=RIVER)
    season = Season.objects.get(organisation=organisation, kind="reporting", label="Autumn 2026")
    with fixed_identities(SERRA.slug):
        edition = summaries.make_summary(actor=actor, project=project, season=season)
        link = summaries.share(actor=actor, summary=edition, label="Hill forests fund")
    return {"summary": str(edition.uid), "token": getattr(link, "token", "")}


def demo_slugs() -> tuple[str, ...]:
    """Return the addresses of the demo's organisations."""
    return SERRA.slug, KIMBARU.slug
