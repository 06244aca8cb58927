"""`manage.py estimate counts.csv`: the figures of a round from a plain file, with no database."""

import json
import sys
from argparse import ArgumentParser, ArgumentTypeError
from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from monitoring.count_file_words import problem_words
from monitoring.estimate_report import report_lines
from monitoring.estimators.count_file import CountFile, CountFileError, read_counts
from monitoring.estimators.outcome import outcomes_of
from monitoring.estimators.round_estimates import round_estimates
from monitoring.estimators.rows import EstimateRow, EstimateSettings

MOST_PROBLEMS_SHOWN = 50
LARGEST_FILE_BYTES = 200 * 2**20


def share(text: str) -> float:
    """A level or target between 0 and 1, also written as a percentage."""
    try:
        number = float(text.rstrip("%")) / (100 if text.endswith("%") else 1)
    except ValueError as error:
        raise ArgumentTypeError(f"{text!r}: write a share such as 0.95 or 95%.") from error
    if not 0 < number < 1:
        raise ArgumentTypeError(f"{text!r}: write a share between 0 and 1, such as 0.95 or 95%.")
    return number


class Command(BaseCommand):
    """Survival with its uncertainty from a file of counts, by the same function the service uses."""

    help = "Estimate survival from a CSV file of counts, with no database."
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        """The file, the confidence level, a target, and the form of the answer."""
        parser.add_argument("file", help="CSV file of counts, or - for standard input")
        parser.add_argument("--level", type=share, default=0.95, help="two-sided confidence (default 0.95)")
        parser.add_argument("--target", type=share, default=None, help="survival target, such as 0.8")
        parser.add_argument("--json", action="store_true", help="a JSON list of rows")

    def handle(self, *args: Any, **options: Any) -> None:
        """Read, estimate, print; every fault of the file is told at once."""
        if options["level"] < 0.5:
            raise CommandError(_("The level must be at least 0.5."))
        counts = self._counts(options["file"])
        settings = EstimateSettings(level=options["level"])
        rows = round_estimates(counts.table, settings)
        outcomes = outcomes_of(rows, options["target"]) if options["target"] else {}
        if options["json"]:
            self.stdout.write(json.dumps([_as_json(row, outcomes) for row in rows], indent=1))
            return
        for line in report_lines(rows, outcomes, settings):
            self.stdout.write(line)

    def _counts(self, name: str) -> CountFile:
        try:
            counts = read_counts(_content(name))
        except CountFileError as error:
            shown = [problem_words(problem) for problem in error.problems[:MOST_PROBLEMS_SHOWN]]
            if (more := len(error.problems) - len(shown)) > 0:
                shown.append(_("… and %(more)s more.") % {"more": more})
            raise CommandError("\n".join(shown)) from error
        for problem in counts.warnings[:MOST_PROBLEMS_SHOWN]:
            self.stderr.write(problem_words(problem))
        return counts


def _content(name: str) -> bytes:
    if name == "-":
        return sys.stdin.buffer.read(LARGEST_FILE_BYTES)
    path = Path(name)
    try:
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise CommandError(_("The file is larger than 200 MB; give one round at a time."))
        return path.read_bytes()
    except OSError as error:
        raise CommandError(
            _("Cannot read %(file)s: %(why)s.") % {"file": name, "why": error.strerror}
        ) from error


def _as_json(row: EstimateRow, outcomes: dict[tuple[str, str], Any]) -> dict[str, Any]:
    fields = asdict(row)
    outcome = outcomes.get((row.scope, row.key)) if row.is_headline and row.measure == "survival" else None
    return fields | ({"outcome": asdict(outcome)} if outcome else {})
