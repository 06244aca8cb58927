"""`manage.py verify`: walk the log of every organisation and name each row that was edited, added or removed."""

import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from monitoring.management.commands.rebuild import chosen
from monitoring.selectors.oddities import oddities
from projects.models import Organisation
from projects.services import chain


class Command(BaseCommand):
    """The hash chain, then the rows that follow from it."""

    help = "Check the log's hash chain and the rows made from it; leaves with 1 if anything does not fit."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--organisation", metavar="SLUG", help="only this organisation")

    def handle(self, *args: Any, **options: Any) -> None:
        """Check each organisation; one line per problem."""
        problems = sum(self.check_one(organisation) for organisation in chosen(options["organisation"]))
        if problems:
            sys.exit(1)

    def check_one(self, organisation: Organisation) -> int:
        """Print what does not fit in one organisation and return how much."""
        lines = [
            _("%(table)s, log number %(seq)s, row %(row)s: %(problem)s")
            % {"table": b.table, "seq": b.seq, "row": b.row_id or "–", "problem": b.problem}
            for b in chain.breaks(organisation)
        ]
        lines += [f"{odd.table}, {odd.row}: {odd.problem}" for odd in oddities(organisation)]
        for line in lines:
            self.stdout.write(f"{organisation.slug}: {line}")
        if not lines:
            seq = chain.revision_of(organisation)
            whole = ngettext("%(n)s record, all as written.", "%(n)s records, all as written.", seq) % {
                "n": seq
            }
            self.stdout.write(f"{organisation.slug}: {whole}")
        return len(lines)
