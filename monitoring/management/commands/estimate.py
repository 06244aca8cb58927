"""`manage.py estimate counts.csv`: the figures of survey rounds from a plain file, with no database."""

import sys
from argparse import ArgumentParser, ArgumentTypeError, RawDescriptionHelpFormatter
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, DjangoHelpFormatter
from django.utils.translation import gettext as _

from monitoring.count_file_words import column_help, problem_words
from monitoring.estimate_report import as_csv, as_json, report_lines
from monitoring.estimators.count_columns import Problem
from monitoring.estimators.count_file import CountFile, CountFileError, read_counts
from monitoring.estimators.count_file_figures import figures_of
from monitoring.estimators.rows import EstimateSettings

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


def level(text: str) -> float:
    """A confidence level from 0.5 up."""
    number = share(text)
    if number < 0.5:
        raise ArgumentTypeError(f"{text!r}: a level must be at least 0.5.")
    return number


class AsWritten(DjangoHelpFormatter, RawDescriptionHelpFormatter):
    """Keeps the line ends of the list of columns."""


class Command(BaseCommand):
    """Survival and stocking with their uncertainty from a file, by the same functions the service uses."""

    help = "Estimate survival, change and stocking from a CSV file of counts, with no database."
    requires_system_checks = []

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> Any:
        """The list of columns stands below the options."""
        kwargs = {"formatter_class": AsWritten, "epilog": column_help(), **kwargs}
        return super().create_parser(prog_name, subcommand, **kwargs)

    def add_arguments(self, parser: ArgumentParser) -> None:
        """The file, levels, targets, and the form of the answer."""
        parser.add_argument("file", help="CSV file of counts, or - for standard input")
        parser.add_argument("--level", type=level, default=0.95, help="two-sided confidence (default 0.95)")
        parser.add_argument(
            "--decision-level", type=level, default=0.90, help="one-sided, for outcomes (default 0.90)"
        )
        parser.add_argument(
            "--claim-level", type=level, default=0.95, help="one-sided, for claims to funders (default 0.95)"
        )
        parser.add_argument("--target", type=share, default=None, help="survival target, such as 0.8")
        parser.add_argument(
            "--check-age", type=int, default=None, metavar="MONTHS",
            help="age at which the target holds; needs the column planted_on",
        )  # fmt: skip
        parser.add_argument(
            "--minimum-plots", type=int, default=5, metavar="N",
            help="a species, lot or the like held by fewer plots has no figure (default 5)",
        )  # fmt: skip
        parser.add_argument(
            "--such-trees", action="store_true",
            help="make no finite-population correction: the figure is for such trees, not for these trees",
        )  # fmt: skip
        parser.add_argument(
            "--format", choices=("table", "csv", "json"), default="table", help="form of the answer"
        )
        parser.add_argument("--json", action="store_const", const="json", dest="format", help="--format json")

    def handle(self, *args: Any, **options: Any) -> None:
        """Read, estimate, print; every fault of the file is told at once, and then nothing is printed."""
        counts = self._counts(options["file"])
        settings = EstimateSettings(
            level=options["level"],
            decision_level=options["decision_level"],
            claim_level=options["claim_level"],
            minimum_plots=options["minimum_plots"],
            finite_population=not options["such_trees"],
        )
        every = figures_of(counts, settings, options["target"], options["check_age"])
        if options["format"] == "table":
            for line in report_lines(every, settings):
                self.stdout.write(line)
        else:
            self.stdout.write({"csv": as_csv, "json": as_json}[options["format"]](every).rstrip("\r\n"))

    def _counts(self, name: str) -> CountFile:
        try:
            counts = read_counts(_content(name))
        except CountFileError as error:
            raise CommandError("\n".join(_first(error.problems))) from error
        for words in _first(counts.warnings):
            self.stderr.write(words)
        return counts


def _first(problems: Iterable[Problem]) -> list[str]:
    problems = tuple(problems)
    shown = [problem_words(problem) for problem in problems[:MOST_PROBLEMS_SHOWN]]
    if (more := len(problems) - len(shown)) > 0:
        shown.append(_("… and %(more)s more.") % {"more": more})
    return shown


def _content(name: str) -> bytes:
    try:
        if name == "-":
            content = sys.stdin.buffer.read(LARGEST_FILE_BYTES + 1)
        else:
            with Path(name).open("rb") as file:
                content = file.read(LARGEST_FILE_BYTES + 1)
    except OSError as error:
        raise CommandError(
            _("Cannot read %(file)s: %(why)s.") % {"file": name, "why": error.strerror}
        ) from error
    if len(content) > LARGEST_FILE_BYTES:
        raise CommandError(_("The file is larger than 200 MB; give fewer rounds at a time."))
    return content
