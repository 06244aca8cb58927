"""`manage.py load_species`: bring the shared species reference to what the files say."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from species.errors import ReferenceDataError
from species.reference_files import DATA_FOLDER
from species.services.reference import FileCounts, load_reference


class Command(BaseCommand):
    help = "Load the shared species reference; running it again changes nothing."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--folder", type=Path, default=DATA_FOLDER, help="folder that holds the five files"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            report = load_reference(folder=options["folder"])
        except ReferenceDataError as wrong:
            raise CommandError(_("Nothing was loaded. %(reason)s") % {"reason": wrong}) from wrong
        for file, counts in report.files.items():
            self.stdout.write(f"{file}: {sentence(counts)}")


def sentence(counts: FileCounts) -> str:
    """Say what became of a file's rows."""
    words = _("%(added)d added, %(changed)d changed, %(unchanged)d unchanged") % {
        "added": counts.added, "changed": counts.changed, "unchanged": counts.unchanged,
    }  # fmt: skip
    if counts.removed:
        words += _(", %(removed)d removed") % {"removed": counts.removed}
    if counts.kept:
        words += _(", %(kept)d not in the file but kept") % {"kept": counts.kept}
    return words
