"""Uploads as their pages show them, and the empty table of a round to fill in."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from monitoring.access import visible_uploads
from monitoring.calc.count_headings import COUNTS
from monitoring.calc.spreadsheet_cells import harmless
from monitoring.models import SurveyRound, Upload
from monitoring.models.visits import REASON_WORDS
from monitoring.selectors.sheets import IN_ORDER, sheets_of, wanted
from projects.access import Actor
from projects.models import JobState
from projects.services import jobs

SHOWN_PROBLEMS = 200
TEMPLATE_COLUMNS = (
    "site", "block", "plot", "species", "lot", "planted", "observed_on", "status",
    *(name for name in COUNTS if name != "dead"), "note",
)  # fmt: skip


@dataclass
class UploadPage:
    """How an upload stands."""

    upload: Upload
    stage: str  # map | working | refused | ready | imported
    stopped: str = ""  # why the last work on it broke off
    summary: dict[str, Any] = field(default_factory=dict)
    first_rows: list[dict[str, Any]] = field(default_factory=list)
    problems: list[dict[str, Any]] = field(default_factory=list)
    n_more_problems: int = 0


STAGES = {"read": "map", "checked": "ready", "refused": "refused", "imported": "imported"}


def upload_page(upload: Upload) -> UploadPage:
    """Return what the page of an upload shows."""
    job = jobs.with_cached_steps(upload.job) if upload.job else None
    result = job.result if job else {}
    working = job is not None and job.state in jobs.ACTIVE and upload.state != "imported"
    stopped = (JobState.FAILED, JobState.CANCELLED)
    failed = job is not None and job.state in stopped and upload.state != "imported"
    return UploadPage(
        upload=upload,
        stage="working" if working else STAGES[upload.state],
        stopped=str(result.get("message", "")) if failed else "",
        summary=result.get("summary", {}),
        first_rows=[shown(row) for row in result.get("first_rows", [])],
        problems=upload.problems[:SHOWN_PROBLEMS],
        n_more_problems=max(
            0, result.get("summary", {}).get("n_problems", len(upload.problems)) - SHOWN_PROBLEMS
        ),
    )


def shown(row: dict[str, Any]) -> dict[str, Any]:
    """Return one row of the preview with its status in words and its dead added up."""
    dead = [row[name] for name in ("dead_stem", "empty_spot") if row.get(name) is not None]
    status = "" if row["status"] == "counted" else str(REASON_WORDS.get(row["status"], row["status"]))
    day = date.fromisoformat(row["observed_on"]) if row["observed_on"] else None
    return {**row, "day": day, "dead_of_both": sum(dead) if dead else None, "status_words": status}


def earlier_uploads(actor: Actor, survey_round: SurveyRound, most: int = 10) -> list[Upload]:
    """Return the last uploads of a round, without their bytes."""
    rows = visible_uploads(actor).filter(round=survey_round).select_related("job")
    return list(rows.defer("content", "problems", "columns", "mapping")[:most])


def template_rows(survey_round: SurveyRound) -> Iterator[list[Any]]:
    """Yield the headings and then a row for each baseline line of every plot, with the counts left empty."""
    yield list(TEMPLATE_COLUMNS)
    empty = [""] * (len(TEMPLATE_COLUMNS) - 6)
    for sheet in sheets_of(list(wanted(survey_round, everything=True).order_by(*IN_ORDER))):
        block = sheet.plot.block
        place = [harmless(block.site.name), harmless(block.name), harmless(sheet.plot.name)]
        for row in sheet.baselines:
            lot = row.cohort.lot.code if row.cohort and row.cohort.lot else ""
            planted = "" if row.planted is None else row.planted
            yield [*place, harmless(row.species.scientific_name), harmless(lot), planted, *empty]
        if not sheet.baselines:
            yield [*place, "", "", "", *empty]
