"""The assessment of a site: each step saved on its own, and what could not be saved yet kept as it was typed."""

from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from projects import assessment_steps as steps
from projects import clocks, history
from projects.access import Actor
from projects.calc.readiness import NO, NOT_KNOWN, YES
from projects.errors import Refusal
from projects.models import Site, SiteAssessment
from projects.services import editing, sites

BOUNDS = {"salinity_ds_per_m": (0, 200), "seed_source_m": (0, 200_000), "slope_percent": (0, 300)}


def locked_assessment(site: Site) -> SiteAssessment:
    """Return the site's assessment, locked; the first write begins it."""
    row, _is_new = SiteAssessment.objects.get_or_create(
        site=site, defaults={"organisation": site.organisation}
    )
    return editing.held(row)


@transaction.atomic
def save_step(
    *, actor: Actor, site: Site, step: steps.Step, version: str = "", **values: Any
) -> SiteAssessment:
    """Store what one step asks."""
    actor.require("site.edit")
    editing.ours(actor, site)
    row = locked_assessment(site)
    site = editing.held(site)
    values = {name: value for name, value in values.items() if name in step.fields}
    stored = steps.values_of(site, row, step.fields)
    if version and version != steps.version_of(stored):
        raise editing.ChangedMeanwhile(row, stored, version=steps.version_of(stored))
    _check(site, values)
    changed = {name: [stored[name], value] for name, value in values.items() if stored[name] != value}
    _write(actor, site, row, changed)
    row.save(update_fields=["answers", *(name for name in changed if hasattr(row, name))])
    return row


def _check(site: Site, values: Mapping[str, Any]) -> None:
    for name, (lowest, highest) in BOUNDS.items():
        value = values.get(name)
        if value is not None and not lowest <= value <= highest:
            words = _("Write a number from %(lowest)s to %(highest)s.")
            raise Refusal(words % {"lowest": lowest, "highest": highest}, field=name)
    if values.get("visited_on") and values["visited_on"] > clocks.today_at(site):
        raise Refusal(_("This day has not come yet."), field="visited_on", code="future")
    if values.get("wanted_regenerants_per_ha") == 0:
        raise Refusal(_("Write 1 or more, or leave it empty."), field="wanted_regenerants_per_ha")
    for name in steps.ANSWERS:
        if values.get(name, "") not in ("", YES, NO, NOT_KNOWN):
            raise Refusal(_("Choose one of the answers."), field=name)


def _write(actor: Actor, site: Site, row: SiteAssessment, changed: dict[str, list[Any]]) -> None:
    of_site = {name: pair[1] for name, pair in changed.items() if name in steps.OF_SITE}
    if of_site:
        sites.edit_site(actor=actor, site=site, **of_site)
    own = {name: pair for name, pair in changed.items() if name not in steps.OF_SITE}
    for name, (_before, after) in own.items():
        if name in steps.ANSWERS:
            row.answers[name] = after
        else:
            setattr(row, name, after)
    editing.well_formed(row, besides=("answers", "unsaved"))
    if own:
        told = {name: [history.plain(value) for value in pair] for name, pair in own.items()}
        history.record(actor, "assessment.edited", row, change=told)


@transaction.atomic
def keep_unsaved(*, actor: Actor, site: Site, key: str, typed: Mapping[str, Any]) -> None:
    """Keep what was typed into a page that could not be stored, so that leaving it loses nothing."""
    actor.require("assessment.view")
    editing.ours(actor, site)
    row = locked_assessment(site)
    row.unsaved[key] = dict(typed)
    row.save(update_fields=["unsaved"])


@transaction.atomic
def drop_unsaved(*, actor: Actor, site: Site, key: str) -> None:
    """Throw away what was kept as typed for one page."""
    actor.require("assessment.view")
    editing.ours(actor, site)
    row = SiteAssessment.objects.select_for_update(no_key=True).filter(site=site).first()
    if row is not None and row.unsaved.pop(key, None) is not None:
        row.save(update_fields=["unsaved"])


@transaction.atomic
def finish(*, actor: Actor, site: Site) -> SiteAssessment:
    """Say that the assessment is complete; what is still typed and not stored must be settled first."""
    actor.require("site.edit")
    editing.ours(actor, site)
    row = locked_assessment(site)
    if row.unsaved:
        raise Refusal(_("Something typed is not stored yet. Save it, or throw it away, and finish then."))
    if row.finished_at is None:
        row.finished_at = timezone.now()
        row.save(update_fields=["finished_at"])
        history.record(actor, "assessment.finished", row)
    return row


@transaction.atomic
def reopen(*, actor: Actor, site: Site) -> SiteAssessment:
    """Say that the assessment is not complete after all."""
    actor.require("site.edit")
    editing.ours(actor, site)
    row = locked_assessment(site)
    if row.finished_at is not None:
        row.finished_at = None
        row.save(update_fields=["finished_at"])
        history.record(actor, "assessment.reopened", row)
    return row
