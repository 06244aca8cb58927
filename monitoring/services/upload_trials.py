"""Put sheets of a file into the log, for good or as a trial that is rolled back, and say what stands in the way.

A trial goes the whole way through the log, so a file is checked by exactly the rules it is imported by.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from monitoring.calc.sheet_checks import LineFacts, line_flags, open_balance
from monitoring.models import Upload, Visit
from monitoring.services import entries, settling
from monitoring.services.entries import EntryFault
from monitoring.services.upload_rows import CountRow, Problem
from monitoring.services.upload_sheets import PlotSheet, entry_of
from projects.access import Actor
from projects.services import log

OF_ONE_LINE = frozenset({"over_baseline", "sum_open", "before_planting", "contradicts_earlier"})
SOURCE = "file"
AT_ONCE = 20


class Interrupted(Exception):
    """The log could not take a record now, through no fault of the file; the work is tried again later."""


@dataclass(frozen=True)
class Bench:
    """For whom sheets are entered, and of which upload."""

    actor: Actor
    upload: Upload

    def try_out(self, sheets: Sequence[PlotSheet]) -> list[Problem]:
        """Enter some sheets, roll them back, and return what would be refused."""
        return self.enter(sheets, keep=False)

    def enter(self, sheets: Sequence[PlotSheet], *, keep: bool = True) -> list[Problem]:
        """Enter some sheets; with any problem, or when they are not to be kept, nothing of them stays."""
        items = [self.item(sheet) for sheet in sheets]
        problems: list[Problem] = []
        with transaction.atomic():
            outcomes = log.append_items(self.actor, items, source=SOURCE)
            for sheet, outcome in zip(sheets, outcomes, strict=True):
                if outcome.outcome == log.RETRY:
                    raise Interrupted(str(outcome.id))
                for fault in entries.faults_of(outcome):
                    problems += located(sheet, fault, outcome.id)
            if problems or not keep:
                transaction.set_rollback(True)
        return problems

    def item(self, sheet: PlotSheet) -> log.Item:
        """Return a sheet as the record that enters the log."""
        upload = self.upload
        entry = entry_of(
            sheet, survey_round=upload.round, upload_uid=upload.uid, uploaded_at=upload.created_at
        )
        return entries.item_of(entry)


def in_batches(sheets: Sequence[PlotSheet]) -> Iterator[Sequence[PlotSheet]]:
    """Yield sheets a few at a time: enough to be quick, few enough that others get their turn in between."""
    for start in range(0, len(sheets), AT_ONCE):
        yield sheets[start : start + AT_ONCE]


def located(sheet: PlotSheet, fault: EntryFault, visit_uid: Any) -> list[Problem]:
    """Return a fault of a record as problems of the rows that carry it; asked before the record is rolled back."""
    if fault.code in OF_ONE_LINE:
        visit = Visit.objects.filter(uid=visit_uid, organisation=sheet.plot.organisation_id).first()
        found = of_lines(sheet, fault, visit) if visit else []
        if found:
            return found
    meaning = fault.pointer.strip("/").split("/")[-1]
    if fault.code == "second_root" and sheet.earlier is not None:
        return [sheet.rows[0].problem("plot", counted_before(sheet.earlier))]
    return [row_at(sheet, fault.pointer).problem(meaning, fault.detail)]


def row_at(sheet: PlotSheet, pointer: str) -> CountRow:
    """Return the row a JSON pointer of the record points into, else the first row filled in."""
    parts = pointer.strip("/").split("/")
    if parts[0] == "lines" and len(parts) > 1 and parts[1].isdigit() and int(parts[1]) < len(sheet.counted):
        return sheet.counted[int(parts[1])]
    return next((row for row in sheet.rows if row.is_filled_in), sheet.rows[0])


def counted_before(visit: Visit) -> str:
    """Say that somebody counted the plot, when, and what to do."""
    words = _(
        "This plot was counted in this round already, on %(day)s, and not with these numbers. "
        "Correct that visit at the desk, and take the plot out of the file."
    )
    return words % {"day": visit.observed_on.isoformat()}


def of_lines(sheet: PlotSheet, fault: EntryFault, visit: Visit) -> list[Problem]:
    """Return a flag of a visit at each row whose line raised it."""
    found = []
    for row, facts in zip(sheet.counted, settling.facts_by_line(visit), strict=False):
        if fault.code in line_flags(facts, visit.observed_on):
            meaning = fault.pointer if row.columns.has(fault.pointer) else "alive"
            found.append(row.problem(meaning, with_numbers(fault, facts)))
    return found


def with_numbers(fault: EntryFault, facts: LineFacts) -> str:
    """Put the number that a count was held against before the words of its refusal."""
    told = {
        "detail": fault.detail,
        "planted": facts.planted,
        "removed": facts.removed,
        "possible": facts.earlier_possible,
        "sum": (facts.planted or 0) - facts.removed - open_balance(facts),
    }
    if fault.code == "sum_open" and facts.removed:
        return (
            _("%(planted)s were planted, %(removed)s taken out, and the row adds up to %(sum)s. %(detail)s")
            % told
        )
    if fault.code == "sum_open":
        return _("%(planted)s were planted and the row adds up to %(sum)s. %(detail)s") % told
    if fault.code == "over_baseline" and facts.removed:
        return _("%(planted)s were planted and %(removed)s of them taken out. %(detail)s") % told
    if fault.code == "over_baseline":
        return _("%(planted)s were planted. %(detail)s") % told
    if fault.code == "contradicts_earlier":
        return _("At most %(possible)s could be alive after the visit before. %(detail)s") % told
    return fault.detail
