"""A file of counts on its way in: received, its columns assigned, checked as a trial, imported whole or not at all."""

import hashlib
from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.template.defaultfilters import filesizeformat
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from monitoring.calc.count_headings import guessed
from monitoring.calc.count_table_file import Unreadable
from monitoring.count_workbook import read_table
from monitoring.models import SurveyRound, Upload
from monitoring.services.upload_reading import sheets_of
from monitoring.services.upload_rows import Problem, columns_of
from monitoring.services.upload_sheets import PlotSheet, Sheets, shown_rows
from monitoring.services.upload_trials import Bench, in_batches
from monitoring.upload_words import why_unreadable
from projects import history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Job
from projects.services import jobs

READ, CHECKED, IMPORTED, REFUSED = "read", "checked", "imported", "refused"
CHECK, IMPORT = "upload_check", "upload_import"
LOOKED_AT_FIRST = 50  # rows read at once for samples; the check reads all of them
MOST_PROBLEMS = 1000
SHOWN_ROWS = 12
MOST_PLOTS = 1000  # put in by one transaction, during which other records have to wait
PER_PLOT = timedelta(seconds=0.1)  # beyond this for each plot, and a lease, a worker is taken for dead


def register() -> None:
    """Tell the jobs what to do for an upload."""
    jobs.works[CHECK] = check
    jobs.works[IMPORT] = import_whole


# --- receiving --------------------------------------------------------------------------------
@transaction.atomic
def receive(*, actor: Actor, survey_round: SurveyRound, file_name: str, content: bytes) -> Upload:
    """Keep a file of counts with its headings and a guess at their meaning; refuse what cannot be read."""
    actor.require("upload.add")
    if len(content) > settings.COUNT_FILE_MAX_BYTES:
        raise Refusal(too_large(), field="file", code="too_large")
    try:
        file = read_table(content, first=LOOKED_AT_FIRST)
    except Unreadable as problem:
        raise Refusal(why_unreadable(problem), field="file", code=problem.code) from problem
    columns = [{"heading": name, "samples": file.samples(n)} for n, name in enumerate(file.columns)]
    upload = Upload.objects.create(
        organisation=actor.organisation, project=survey_round.project, round=survey_round,
        file_name=file_name[-200:], file_sha256=hashlib.sha256(content).hexdigest(), content=content,
        columns=columns, mapping={"columns": guessed(file.columns), "observed_on": ""}, created_by=actor.person,
    )  # fmt: skip
    history.record(actor, "upload.received", upload)
    return upload


def too_large() -> str:
    """Say how large a file may be."""
    return _("The file is larger than %(limit)s. Split it in two, or delete the columns without counts.") % {
        "limit": filesizeformat(settings.COUNT_FILE_MAX_BYTES)
    }


# --- asking for work ----------------------------------------------------------------------------
@transaction.atomic
def start_check(
    *, actor: Actor, upload: Upload, columns: dict[str, int], observed_on: date | None = None
) -> Upload:
    """Take over what the columns mean and have the file checked against the round."""
    actor.require("upload.add")
    locked = lock(upload)
    if locked.state == IMPORTED:
        raise Refusal(_("This file is in already. Upload a new file for further counts."))
    if is_under_way(locked):
        raise Refusal(_("This file is being worked on. Wait until that is done."))
    locked.mapping = {
        "columns": columns,
        "observed_on": observed_on.isoformat() if observed_on else "",
    }
    locked.state, locked.problems = READ, []
    return ask_for(actor, locked, CHECK, _("Checking %(file)s") % {"file": locked.file_name})


@transaction.atomic
def start_import(*, actor: Actor, upload: Upload) -> Upload:
    """Have a checked file imported; asked twice, or by two people at once, it is imported once."""
    actor.require("upload.add")
    locked = lock(upload)
    if locked.state == IMPORTED or is_under_way(locked):
        return locked
    if locked.state != CHECKED:
        raise Refusal(_("Only a file without open problems goes in. Check it first."))
    return ask_for(actor, locked, IMPORT, _("Putting in %(file)s") % {"file": locked.file_name})


def lock(upload: Upload) -> Upload:
    rows = Upload.objects.select_for_update(of=("self",)).select_related("round", "project", "job")
    return rows.defer("content").get(pk=upload.pk)


def is_under_way(upload: Upload) -> bool:
    """Say whether a job of this upload waits or runs."""
    return upload.job is not None and upload.job.state in jobs.ACTIVE


def ask_for(actor: Actor, upload: Upload, kind: str, title: str) -> Upload:
    """Start a job for an upload and remember it as the one that counts."""
    link = f"/o/{upload.organisation.slug}/upload/{upload.uid}/"
    upload.job = jobs.start(actor=actor, kind=kind, title=title, link=link, upload=str(upload.uid))
    upload.save(update_fields=["mapping", "state", "problems", "job"])
    return upload


# --- the work -------------------------------------------------------------------------------------
def check(job: Job, progress: jobs.Progress) -> dict[str, Any]:
    """Enter every sheet of the file as a trial and keep what would be refused; nothing else is written."""
    upload = upload_of(job)
    if upload.job_id != job.pk or upload.state == IMPORTED:
        return {}
    bench = Bench(jobs.actor_of(job), upload)
    bench.actor.require("upload.add")
    sheets, problems = read_sheets(upload)
    parts = [sheet.sound_part() for sheet in sheets.sheets[:MOST_PLOTS] if sheet.all_problems]
    waiting = [*sheets_to_enter(sheets), *(part for part in parts if part is not None)]
    progress.total(len(waiting))
    for some in in_batches(waiting):
        progress.stop_if_asked()
        problems += bench.try_out(some)
        progress.step(len(some))
    progress.stop_if_asked()
    progress.finish()
    return kept(upload, job, sheets, problems, CHECKED)


def import_whole(job: Job, progress: jobs.Progress) -> dict[str, Any]:
    """Enter every sheet in one transaction; a single refusal, or any failure, leaves nothing behind."""
    upload = upload_of(job)
    if upload.state == IMPORTED:  # an earlier attempt came to its end and could not say so
        return {"message": _("Every plot of the file is in.")}
    bench = Bench(jobs.actor_of(job), upload)
    bench.actor.require("upload.add")
    sheets, problems = read_sheets(upload)
    waiting = sheets_to_enter(sheets)
    progress.total(len(waiting), lease=jobs.LEASE + PER_PLOT * len(waiting))
    with transaction.atomic():
        if lock(upload).state == IMPORTED:
            return {"message": _("Every plot of the file is in.")}
        for some in in_batches(waiting):
            progress.stop_if_asked()  # rolls back what went in so far
            problems += bench.enter(some)
            progress.step(len(some), inside_transaction=True)
        if not problems:
            history.record(bench.actor, "upload.imported", upload, change={"plots": [0, len(waiting)]})
            result = kept(upload, job, sheets, [], IMPORTED)
        else:
            transaction.set_rollback(True)
    if problems:
        return kept(upload, job, sheets, problems, REFUSED)
    progress.finish()
    return result


def upload_of(job: Job) -> Upload:
    """Return the upload a job is about, with its bytes."""
    return Upload.objects.select_related("round", "project", "organisation").get(
        organisation_id=job.organisation_id, uid=UUID(job.parameters["upload"])
    )


def read_sheets(upload: Upload) -> tuple[Sheets, list[Problem]]:
    """Return the whole file as sheets, and every problem that is plain without the log."""
    mapping = upload.mapping
    day = date.fromisoformat(mapping["observed_on"]) if mapping.get("observed_on") else None
    try:
        file = read_table(bytes(upload.content))
    except Unreadable as problem:
        return Sheets(), [Problem(0, "", "", why_unreadable(problem))]
    sheets = sheets_of(file, columns_of(file, mapping["columns"]), upload.round, day)
    if len(sheets.sheets) > MOST_PLOTS:
        return sheets, [Problem(0, "", "", too_many_plots())]
    return sheets, [*sheets.stray, *(problem for sheet in sheets.sheets for problem in sheet.all_problems)]


def too_many_plots() -> str:
    """Say for how many plots a file may hold counts."""
    return _(
        "The file holds counts of more than %(most)s plots. Split it in two; each part goes in whole."
    ) % {"most": MOST_PLOTS}


def sheets_to_enter(sheets: Sheets) -> list[PlotSheet]:
    """Return the sheets without a plain problem that say something the round does not hold yet."""
    if len(sheets.sheets) > MOST_PLOTS:
        return []
    return [sheet for sheet in sheets.sheets if not sheet.all_problems and not sheet.is_what_counts()]


def kept(upload: Upload, job: Job, sheets: Sheets, problems: Sequence[Problem], state: str) -> dict[str, Any]:
    """Write what came of the file to the upload and return what the job says about it."""
    ordered = sorted(problems, key=lambda problem: (problem.line, problem.column))
    Upload.objects.filter(pk=upload.pk, job=job).update(
        state=REFUSED if problems else state,
        problems=[problem.as_json() for problem in ordered[:MOST_PROBLEMS]],
        n_rows=sheets.n_rows,
    )
    summary = summary_of(sheets, problems)
    return {
        "message": message_of(summary, state),
        "summary": summary,
        "first_rows": list(shown_rows(sheets.sheets, SHOWN_ROWS)),
    }


def summary_of(sheets: Sheets, problems: Sequence[Problem]) -> dict[str, Any]:
    """Return the counts a preview begins with."""
    ready = [sheet for sheet in sheets.sheets if not sheet.is_what_counts()]
    already = [sheet.plot.name for sheet in sheets.sheets if sheet.is_what_counts()]
    bad_lines = {problem.line for problem in problems}
    filled = [row for sheet in ready for row in sheet.rows if row.is_filled_in]
    return {
        "n_rows": sheets.n_rows,
        "n_plots": len(sheets.sheets),
        "n_plots_new": len(ready),
        "n_rows_good": sum(row.line not in bad_lines for row in filled),
        "n_rows_bad": len(bad_lines),
        "n_problems": len(problems),
        "already": already,
        "left_out": sheets.left_out,
        "n_absent": max(0, sheets.n_plots_of_round - len(sheets.sheets) - len(sheets.left_out)),
    }


def message_of(summary: dict[str, Any], state: str) -> str:
    """Return in a sentence what came of the work, for the page of the job."""
    if summary["n_problems"]:
        words = ngettext(
            "One thing needs attention; nothing was stored.",
            "%(n)s things need attention; nothing was stored.",
            summary["n_problems"],
        )
        return words % {"n": summary["n_problems"]}
    if state == IMPORTED:
        words = ngettext("One plot is in.", "%(n)s plots are in.", summary["n_plots_new"])
        return words % {"n": summary["n_plots_new"]}
    return _("The file is in order. Nothing was stored yet.")
