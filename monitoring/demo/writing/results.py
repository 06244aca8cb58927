"""What follows from the records: every figure computed, reminders made, one summary told and shared."""

from collections.abc import Callable

from monitoring.demo.kimbaru import KIMBARU
from monitoring.demo.serra_people import RIVER
from monitoring.demo.serra_survey import SERRA
from monitoring.demo.writing.field_days import give_owners
from monitoring.demo.writing.fixed_identities import fixed_identities
from monitoring.demo.writing.people import member
from monitoring.models import DirtyKey
from monitoring.services import drain, recompute, reminders, sharing, summaries
from projects.models import Organisation, Project, Role, Season, ShareLink

FOR_WHOM = "Hill forests fund"


def compute(tell: Callable[[str, int], None]) -> int:
    """Work through everything that is behind the log, one key after another; return how many failed.

    Other organisations on the same database are brought up to date too, as a sweep would.
    """
    for row in list(drain.waiting()):
        recompute.recompute(organisation_id=row.organisation_id, kind=row.kind, key=row.key)
        tell("computing", 1)
    drain.work_through()
    reminders.renew_all()
    return DirtyKey.objects.count()


def tell_the_funder() -> str:
    """Make the season summary of one project and a link for its funder; return the link's secret."""
    organisation = Organisation.objects.get(slug=SERRA.slug)
    actor = member(organisation, Role.MANAGER)
    project = Project.objects.get(organisation=organisation, name=RIVER)
    season = Season.objects.get(organisation=organisation, kind="reporting", label="Autumn 2026")
    give_owners(actor)
    with fixed_identities(SERRA.slug):
        edition = summaries.make_summary(actor=actor, project=project, season=season)
        return sharing.share(actor=actor, summary=edition, label=FOR_WHOM).token


def is_told() -> bool:
    """Say whether the summary was made and shared: the last thing a loading does."""
    return ShareLink.objects.filter(organisation__slug=SERRA.slug, label=FOR_WHOM).exists()


def demo_slugs() -> tuple[str, ...]:
    """Return the addresses of the demo's organisations."""
    return SERRA.slug, KIMBARU.slug
