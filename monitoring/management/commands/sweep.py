"""`manage.py sweep`: work through what is behind the log, here and without a broker."""

import time
from argparse import ArgumentParser
from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from monitoring.models import DirtyKey
from monitoring.services import chores, drain, recompute, reminders


class Command(BaseCommand):
    """The work list, worked through in this process."""

    help = "Recompute every figure that is behind the log; needs no broker and no worker."

    def add_arguments(self, parser: ArgumentParser) -> None:
        how = parser.add_mutually_exclusive_group()
        how.add_argument("--once", action="store_true", help="one pass, then leave (the default)")
        how.add_argument(
            "--watch", type=float, metavar="SECONDS", help="go on, with this pause between passes"
        )
        parser.add_argument(
            "--older-than",
            type=float,
            default=0.0,
            metavar="SECONDS",
            help="leave younger work to the workers",
        )
        parser.add_argument("--parked", action="store_true", help="also try again what failed too often")

    def handle(self, *args: Any, **options: Any) -> None:
        """One pass, or passes until interrupted."""
        self.one_pass(options)
        renewed = time.monotonic()
        while options["watch"] is not None:
            time.sleep(options["watch"])
            self.one_pass(options, quiet=True)
            if time.monotonic() - renewed > chores.EVERY_SECONDS:
                chores.do()
                renewed = time.monotonic()

    def one_pass(self, options: dict[str, Any], *, quiet: bool = False) -> None:
        """Work through the list and say what is left."""
        if not quiet:
            reminders.renew_all()
        done = drain.work_through(timedelta(seconds=options["older_than"]), parked=options["parked"])
        parked = DirtyKey.objects.filter(attempts__gte=recompute.MOST_ATTEMPTS).count()
        if done or not quiet:
            self.stdout.write(ngettext("%(n)s key recomputed.", "%(n)s keys recomputed.", done) % {"n": done})
        if parked:
            self.stderr.write(
                _("%(n)s keys failed too often and are parked; run sweep --parked after the cause is gone.")
                % {"n": parked}
            )
