"""Drop every derived row of an organisation and make it again from what is true; a digest proves they are the same."""

import hashlib
import json
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Model

from monitoring.models import (
    Case,
    CountLine,
    DirtyKey,
    Estimate,
    PerformanceRow,
    PlotBaseline,
    RegenerationLine,
    Removal,
    ReplacementNeed,
    SurveyRound,
    SurvivalCurve,
    Visit,
)
from monitoring.services import dirty, projection, recompute, reminders
from projects.models import Organisation, Project
from projects.services import chain

FIGURES: tuple[type[Model], ...] = (Estimate, ReplacementNeed, PerformanceRow, SurvivalCurve)
LOG_NUMBERS = ("submission_seq", "settled_seq", "revision")
SEEN: dict[type[Model], tuple[str, ...]] = {
    Visit: (
        "uid", "root", "parents", "depth", "purpose", "plot__uid", "round__uid", "observed_on", "status", "reason",
        "flags", "is_head", "is_counting", "submission_seq",
    ),
    PlotBaseline: (
        "line", "plot__uid", "species__slug", "cohort__uid", "planted", "unit", "source", "counted_on", "is_current",
        "submission_seq",
    ),
    CountLine: (
        "visit__uid", "position", "species__slug", "baseline__line", "baseline_lines", "unit", "planted", "alive",
        "dead_stem", "empty_spot", "not_found", "not_assessed", "resprout", "origin_uncertain", "seedlings",
        "signs", "heights_cm", "spots",
    ),
    RegenerationLine: (
        "visit__uid", "species__slug", "name", "height_class", "count", "capped", "subplot_area_m2",
    ),
    Removal: ("uid", "visit__uid", "baseline_line", "removed_on", "alive_removed", "reason", "is_counted"),
    Case: ("uid", "kind", "plot__uid", "round__uid", "visit_root", "facts", "settled_as", "settled_seq"),
}  # fmt: skip


class RebuildFailed(Exception):
    """A figure could not be computed again; nothing was changed."""


@dataclass(frozen=True)
class Rebuilt:
    """What a rebuild made, and the digest over all of it."""

    visits: int
    figures: int
    digest: str


@transaction.atomic
def rebuild(organisation: Organisation) -> Rebuilt:
    """Write visits again from the log and figures again from the visits, in one transaction.

    Readers see the old rows until all new ones stand. Raises `RebuildFailed` if any figure cannot be made.
    """
    chain.locked_head(organisation)  # first, as whoever stores a count does
    for kind in dirty.KINDS:
        DirtyKey.objects.filter(organisation=organisation, kind=kind).delete()
    visits = projection.rebuild(organisation)
    for model in FIGURES:
        model._default_manager.filter(organisation=organisation).delete()
    mark_everything(organisation)
    work_through(organisation)
    reminders.renew(organisation)
    figures = sum(model._default_manager.filter(organisation=organisation).count() for model in FIGURES)
    return Rebuilt(visits, figures, derived_digest(organisation))


def mark_everything(organisation: Organisation) -> None:
    """Put every round and project of an organisation on the work list."""
    projects = Project.objects.filter(organisation=organisation).order_by("id").values_list("id", flat=True)
    rounds = SurveyRound.objects.filter(organisation=organisation)
    keys = [dirty.Key(dirty.PROJECT, str(pk)) for pk in projects]
    dirty.mark(organisation, [*keys, *dirty.keys_of_rounds(rounds)])


def work_through(organisation: Organisation) -> None:
    """Compute the organisation's keys, the small ones first, and what follows from them."""
    for kind in dirty.KINDS:
        for row in DirtyKey.objects.filter(organisation=organisation, kind=kind).order_by("id"):
            recompute.recompute(organisation_id=organisation.pk, kind=kind, key=row.key)
    for row in DirtyKey.objects.filter(organisation=organisation).order_by("id"):
        raise RebuildFailed(f"{row.kind} {row.key}: {row.error}")


# --- the digest -----------------------------------------------------------------------------
def derived_digest(organisation: Organisation, *, log_numbers: bool = True) -> str:
    """SHA-256 over every derived row of an organisation, in an order free of row numbers.

    Rebuilding one log again gives the same digest, whatever the machine's language and time zone. Without
    `log_numbers` it is also the same for logs that hold the same records in another order of arrival.
    """
    total = hashlib.sha256()
    left_out = () if log_numbers else LOG_NUMBERS
    for model in (*SEEN, *FIGURES):
        total.update(f"{model._meta.label}\n".encode())
        for line in sorted(lines_of(model, organisation, left_out)):
            total.update(line.encode() + b"\n")
    return total.hexdigest()


def lines_of(model: type[Model], organisation: Organisation, left_out: Collection[str]) -> Iterator[str]:
    """One line of JSON per row."""
    names = [name for name in SEEN.get(model) or value_columns(model) if name not in left_out]
    rows = model._default_manager.filter(organisation=organisation)
    if model is PlotBaseline:  # those set at a desk are no derived rows
        rows = rows.filter(submission_seq__isnull=False)
    for row in rows.order_by().values_list(*names).iterator(2000):
        yield json.dumps(row, sort_keys=True, default=str)


def value_columns(model: type[Model]) -> Iterable[str]:
    """Columns of a figure; pointers to other rows are left out, since its uid stands for them."""
    return [f.attname for f in model._meta.concrete_fields if not f.is_relation and f.attname != "id"]
