"""`manage.py demo_facts`: say who may sign in to the loaded demo and what its pages must show."""

import json
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.exceptions import ObjectDoesNotExist
from django.core.management.base import BaseCommand, CommandError
from django.utils import translation
from django.utils.translation import gettext as _

from monitoring.demo import facts
from projects.models import Organisation


class Command(BaseCommand):
    """Everything is read from the database, nothing from a list of wished answers."""

    help = "List the demo's sign-ins, addresses and the figures its pages must show."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="for programs")
        parser.add_argument(
            "--code", action="store_true", help="give the demo's phone a new code and show it"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError(_("This installation is no demo (TALLYGROVE_DEMO is not set)."))
        if not Organisation.objects.filter(is_demo=True).exists():
            raise CommandError(_("No demo is loaded here. Run manage.py load_demo first."))
        try:
            with translation.override("en-gb"):
                found = facts.demo_facts()
        except ObjectDoesNotExist as missing:
            raise CommandError(
                _("A part of the demo's story is not there (%(what)s). If figures are still being computed, run "
                  "manage.py sweep; if people changed the demo, load it into a new database.")
                % {"what": missing}
            ) from missing  # fmt: skip
        if options["code"]:
            found["phone_code"] = facts.new_phone_code()
        if options["json"]:
            self.stdout.write(json.dumps(found, ensure_ascii=False, indent=1))
            return
        self.say(found)

    def say(self, found: dict[str, Any]) -> None:
        """Print for people."""
        for person in found["people"]:
            self.stdout.write(f"{person['email']:32} {person['password']}  {person['who']}")
        for beat in found["beats"]:
            self.stdout.write(f"{beat['path']}  {beat['story']}: {', '.join(beat['expect'])}")
        if "phone_code" in found:
            self.stdout.write(_("Code for a phone: %(code)s") % {"code": found["phone_code"]})
