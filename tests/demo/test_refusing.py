"""Where the demo is not loaded, and that the refusal says why."""

from datetime import date

import pytest
from django.core.management import CommandError, call_command

from monitoring.demo.progress import Progress
from monitoring.management.commands.load_demo import chosen_day
from projects.models import Organisation


def test_without_the_demo_setting_nothing_is_loaded(db, settings):
    settings.DEMO = False
    for command in ("load_demo", "demo_facts"):
        with pytest.raises(CommandError, match="TALLYGROVE_DEMO"):
            call_command(command)
    assert not Organisation.objects.exists()


def test_an_address_in_use_by_a_real_organisation_is_left_alone(db, settings):
    settings.DEMO = True
    Organisation.objects.create(slug="kimbaru", name="A real group")
    with pytest.raises(CommandError, match="kimbaru"):
        call_command("load_demo")
    assert Organisation.objects.count() == 1


def test_without_species_the_command_says_what_to_run_first(db, settings):
    settings.DEMO = True
    with pytest.raises(CommandError, match="load_species"):
        call_command("load_demo")


def test_facts_of_a_demo_that_is_not_there_say_so(db, settings):
    settings.DEMO = True
    with pytest.raises(CommandError, match="load_demo"):
        call_command("demo_facts")


def test_a_day_before_the_story_is_refused():
    with pytest.raises(CommandError, match="2026-11-25"):
        chosen_day(date(2026, 11, 24))


class Recorder:
    """A stream that is no terminal."""

    def __init__(self):
        self.text = ""

    def write(self, text):
        self.text += text

    def flush(self):
        pass


def test_progress_without_a_terminal_is_a_few_plain_lines():
    out = Recorder()
    bar = Progress(500, out)
    for _step in range(500):
        bar.step("records")
    assert 10 <= out.text.count("\n") <= 12 and "\r" not in out.text and "100 %" in out.text
