"""Natural regeneration of a species that is invasive where it stands opens a care task, once for its block.

Worked out from the counts that stand, so the order in which they arrive does not matter and doing it again
changes nothing. A task that was done or dropped is followed by one more when the species is counted again after
that day.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import chain, count

from django.db.models import Max, Q
from django.utils.translation import gettext as _

from monitoring.models import Purpose, RegenerationLine, SurvivalPlot
from projects.models import Block, CareKind, CareTask
from projects.services import care
from species.access import standing_ranges
from species.models import RangeStatus

LONGEST_SLUG = 60  # so that the key of a cause fits its column


@dataclass(frozen=True)
class Sighting:
    """An invasive species among the natural regeneration of a plot, and the last day it was seen there."""

    slug: str
    scientific_name: str
    last_seen_on: date


def open_tasks(plot: SurvivalPlot) -> list[CareTask]:
    """Open a care task for every invasive species the plot's standing counts hold; return the tasks."""
    return [task_for(plot.block, sighting) for sighting in sightings(plot)]


def sightings(plot: SurvivalPlot) -> Iterator[Sighting]:
    """Species of the plot's natural regeneration that its organisation holds invasive in the site's country."""
    invasive = standing_ranges(plot.block.organisation.uid).filter(
        country_code=plot.block.site.country_code, region="", status=RangeStatus.Status.INVASIVE
    )
    standing = Q(visit__is_counting=True) | Q(visit__is_head=True, visit__purpose=Purpose.BASELINE)
    lines = RegenerationLine.objects.filter(
        standing, visit__plot=plot, count__gt=0, species__in=invasive.values("species")
    )
    seen = lines.order_by("species__slug").values_list("species__slug", "species__scientific_name")
    for slug, name, day in seen.annotate(last=Max("visit__observed_on")):
        yield Sighting(slug, name, day)


def task_for(block: Block, sighting: Sighting) -> CareTask:
    """Return the task of a sighting: the first of its block and species, or the one after those that ended."""
    first = f"invasive:{block.uid}:{sighting.slug[:LONGEST_SLUG]}"
    held = CareTask.objects.filter(organisation_id=block.organisation_id, source_key__startswith=first)
    ended_on = {
        key: done_on or (dropped_at and dropped_at.date())
        for key, done_on, dropped_at in held.values_list("source_key", "done_on", "dropped_at")
    }
    keys = chain([first], (f"{first}:{number}" for number in count(2)))
    key = next(key for key in keys if (ended_on.get(key) or date.max) >= sighting.last_seen_on)
    what = _("Pull young %(species)s before it seeds") % {"species": sighting.scientific_name}
    return care.open_for_cause(block=block, kind=CareKind.INVASIVE, what=what, source_key=key)
