"""One loaded demo for all tests of a module, inside a transaction that is thrown away."""

from types import SimpleNamespace

import pytest
from django.core.management import call_command
from django.db import transaction
from django.test import override_settings


@pytest.fixture(scope="module")
def demo(django_db_setup, django_db_blocker):
    """Load species and scenario once; yields what `demo_facts` tells."""
    from monitoring.demo.facts import demo_facts

    quiet = override_settings(DEMO=True, JOBS_EMBEDDED_THREAD=False)
    with django_db_blocker.unblock(), quiet, transaction.atomic():
        call_command("load_species", verbosity=0)
        call_command("load_demo", verbosity=0)
        yield SimpleNamespace(**demo_facts())
        transaction.set_rollback(True)
