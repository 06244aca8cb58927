"""`manage.py rebuild`: drop every derived row and make it again from the log."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from monitoring.services.rebuild import RebuildFailed, derived_digest, rebuild
from projects.models import Organisation


class Command(BaseCommand):
    """All derived rows again, with a digest before and after."""

    help = "Drop every derived row and make it again from the log; prints a digest of all of them."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--organisation", metavar="SLUG", help="only this organisation")
        parser.add_argument("--dry-run", action="store_true", help="only print the digest of what is there")

    def handle(self, *args: Any, **options: Any) -> None:
        """One organisation after the other."""
        for organisation in chosen(options["organisation"]):
            before = derived_digest(organisation)
            if options["dry_run"]:
                self.stdout.write(f"{organisation.slug} {before}")
                continue
            try:
                result = rebuild(organisation)
            except RebuildFailed as failure:
                raise CommandError(
                    _("%(organisation)s could not be rebuilt and is as it was. %(problem)s")
                    % {"organisation": organisation.slug, "problem": failure}
                ) from failure
            self.stdout.write(f"{organisation.slug} {result.digest}")
            self.stdout.write(
                (_("%(visits)s visits and %(figures)s figures, the same as before.") if result.digest == before
                 else _("%(visits)s visits and %(figures)s figures; they were behind the log and are not any more."))
                % {"visits": result.visits, "figures": result.figures}
            )  # fmt: skip


def chosen(slug: str | None) -> list[Organisation]:
    """The organisations a command is about."""
    rows = list(Organisation.objects.filter(slug=slug) if slug else Organisation.objects.order_by("slug"))
    if slug and not rows:
        raise CommandError(_("There is no organisation “%(slug)s”.") % {"slug": slug})
    return rows
