"""`manage.py load_demo`: fill an installation that serves as a demo with the invented scenario."""

import sys
from argparse import ArgumentParser
from datetime import date
from io import StringIO
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from django.utils.translation import gettext as _

from monitoring.demo import PASSWORD, SCENARIO_DAY
from monitoring.demo.progress import Progress
from monitoring.demo.writing import loading, results
from monitoring.models import DirtyKey
from projects.models import Organisation
from species.models import Species


class Command(BaseCommand):
    """Both demo organisations, whole or not at all."""

    help = "Load the invented demo scenario; needs TALLYGROVE_DEMO=1 and the species reference."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--today", type=date.fromisoformat, metavar="YEAR-MONTH-DAY",
            help="the day on which lots wait and orders fall due (default: this day, not before 2026-11-25)",
        )  # fmt: skip
        parser.add_argument("--fresh", action="store_true", help="insist on beginning from nothing")

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError(
                _(
                    "The demo has sign-ins whose password everybody knows, so it is loaded only where "
                    "TALLYGROVE_DEMO=1 is set. Nothing was changed."
                )
            )
        if self.is_there():
            self.say_it_is_there(options["verbosity"], fresh=options["fresh"])
            return
        today = chosen_day(options["today"])
        if not Species.objects.exists():
            raise CommandError(_("The species reference is empty. Run manage.py load_species first."))
        self.load(today, options["verbosity"])

    def is_there(self) -> bool:
        """Say whether the demo is loaded; refuse when a real organisation uses one of its addresses."""
        rows = Organisation.objects.filter(slug__in=results.demo_slugs())
        taken = rows.filter(is_demo=False).first()
        if taken is not None:
            raise CommandError(
                _(
                    "An organisation that is no demo has the address “%(slug)s”. Load the demo into another database."
                )
                % {"slug": taken.slug}
            )
        return rows.exists()

    def say_it_is_there(self, verbosity: int, *, fresh: bool) -> None:
        """Change nothing, but for what an earlier run did not come to: figures and the funder's page."""
        if fresh:
            raise CommandError(
                _(
                    "The demo is loaded already, and its log is append-only: nothing can be taken out of it. "
                    "To begin again, delete the database (deploy/demo --fresh does that) and load into an empty one."
                )
            )
        if results.is_told():
            self.stdout.write(_("The demo is loaded already; nothing was changed."))
            return
        self.stdout.write(_("The demo is loaded already; an earlier run did not finish its figures."))
        self.follow_up(verbosity)

    def load(self, today: date, verbosity: int) -> None:
        """Write, compute, tell; show how far it is."""
        out = sys.stderr if verbosity else StringIO()
        total = sum(loading.records_to_send(plan) for plan in loading.PLANS)
        bar = Progress(total, out)
        loaded = loading.load(today, lambda what, number: bar.step(what, number))
        bar.finish(_("records written"))
        self.say_what_is_there(loaded)
        self.follow_up(verbosity)

    def follow_up(self, verbosity: int) -> None:
        """Compute every figure and tell the funder; what failed is left for a sweep."""
        with loading.quiet_jobs():
            bar = Progress(DirtyKey.objects.count(), sys.stderr if verbosity else StringIO())
            failed = results.compute(lambda what, number: bar.step(what, number))
            bar.finish(_("figures computed"))
            token = "" if failed else results.tell_the_funder()
        if token:
            self.stdout.write(_("A funder's page without sign-in: %(address)s") % {"address": f"/s/{token}/"})
        if failed:
            self.stderr.write(
                _(
                    "%(number)s figures could not be computed. Run manage.py sweep --parked, then load_demo again."
                )
                % {"number": failed}
            )

    def say_what_is_there(self, loaded: loading.Loaded) -> None:
        say = self.stdout.write
        for plan in loading.PLANS:
            say(f"{plan.name}: /o/{plan.slug}/")
            for person in plan.people:
                if person.email:
                    say(f"  {person.email:32} {person.name}")
        say(_("Password of all of them: %(password)s") % {"password": PASSWORD})
        say(_("Code for a phone, valid seven days and once: %(code)s") % {"code": loaded.phone_code})


def chosen_day(asked: date | None) -> date:
    """Return the day the running things stand at, or refuse one outside what the scenario and the clock allow."""
    now = timezone.now().date()
    if now < SCENARIO_DAY:
        raise CommandError(
            _("The scenario ends on %(day)s and this machine's clock says %(now)s. Set the clock.")
            % {"day": SCENARIO_DAY, "now": now}
        )
    day = asked or now
    if not SCENARIO_DAY <= day <= now:
        raise CommandError(_("Choose a day from %(first)s to %(now)s.") % {"first": SCENARIO_DAY, "now": now})
    return day
