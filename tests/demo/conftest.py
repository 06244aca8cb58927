"""One loaded demo for all tests of a module, inside a transaction that is thrown away."""

from types import SimpleNamespace

import pytest
from django.db import transaction
from django.test import override_settings

from tests import demo_template


@pytest.fixture(scope="module")
def demo(django_db_setup, django_db_blocker, tmp_path_factory):
    """Species and scenario, loaded; yields what `demo_facts` tells."""
    from monitoring.demo.facts import demo_facts

    quiet = override_settings(DEMO=True, JOBS_EMBEDDED_THREAD=False)
    copy = tmp_path_factory.mktemp("demo") / "demo.sqlite3"
    with django_db_blocker.unblock(), quiet, demo_template.shown(copy), transaction.atomic():
        yield SimpleNamespace(**demo_facts())
        transaction.set_rollback(True)
