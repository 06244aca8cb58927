"""The cast every test shares.

ana manages the hill group, ben leads its field work, vera volunteers on one project, fred funds one
project; olaf manages another organisation and must never see the hill group's rows.
"""

import os
import shutil
import tempfile
from pathlib import Path

import hypothesis
import pytest
from django.conf import settings
from django.test import Client, TransactionTestCase
from whitenoise.middleware import WhiteNoiseMiddleware

from deploy.scripts.programs import CHROMIUM
from projects import access, append_only
from projects.models import Membership, Organisation
from tests import database_template, factories

os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")  # the browser driver runs an event loop


def pytest_configure(config: pytest.Config) -> None:
    """Give each run an SQLite file of its own: a stale write-ahead log beside a new file is an I/O error."""
    from django.conf import settings

    told = settings.DATABASES["default"]
    if told["ENGINE"].endswith("sqlite3"):
        folder = Path(tempfile.mkdtemp(prefix="tallygrove-test-"))
        told["TEST"]["NAME"] = str(folder / "test.sqlite3")
        config.add_cleanup(lambda: shutil.rmtree(folder, ignore_errors=True))


# Short forms by default; HYPOTHESIS_PROFILE=thorough searches as long as the library does by itself.
hypothesis.settings.register_profile("short", max_examples=30, deadline=None)
hypothesis.settings.register_profile("thorough", deadline=None)
hypothesis.settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "short"))

# Folders whose tests ask nothing of one database that the other could answer differently, or load a whole demo: pages
# and services with plain statements. What is done at once by several people runs on both all the same.
ON_ONE_DATABASE = ("access", "demo", "look", "people", "places", "planning", "results", "species", "stock")
# Folders on the way of a count: on PostgreSQL where there is one, as a service runs, else on
# SQLite. `deploy/check --fast` has them on SQLite, where a whole run still loads, computes and walks the demo.
ON_POSTGRESQL = ("api", "field_log", "jobs", "rounds", "uploads")

real_teardown = TransactionTestCase._fixture_teardown


def teardown_with_an_open_log(self: TransactionTestCase) -> None:
    """Let the flush between transaction tests empty the log, which refuses deletion otherwise."""
    from django.db import connection

    with connection.schema_editor() as editor:
        append_only.remove(editor)
    real_teardown(self)
    with connection.schema_editor() as editor:
        append_only.install(editor)


TransactionTestCase._fixture_teardown = teardown_with_an_open_log

found_files: dict[str, object] = {}
look_for_files = WhiteNoiseMiddleware.add_files_from_finders


def look_for_files_once(self: WhiteNoiseMiddleware) -> None:
    """Read the folder of static files once in a process: every test client asks for it anew."""
    if not found_files:
        look_for_files(self)
        found_files.update(self.files)
    self.files.update(found_files)


WhiteNoiseMiddleware.add_files_from_finders = look_for_files_once


@pytest.hookimpl(tryfirst=True)  # before -m chooses
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what touches the database; skip by name what this run's database or broker cannot serve."""
    for item in items:
        asked = {"db", "transactional_db"} & set(getattr(item, "fixturenames", ()))
        if asked or item.get_closest_marker("django_db"):
            item.add_marker("database")
            if item.path.parent.name in ON_POSTGRESQL and "at_once" not in item.path.stem:
                item.add_marker("on_postgresql")
        of_both = "at_once" in item.path.stem or item.get_closest_marker("postgres")
        if item.path.parent.name in ON_ONE_DATABASE and not of_both:
            item.add_marker("one_database")
    on_postgresql = settings.DATABASES["default"]["ENGINE"].endswith("postgresql")
    lacking = {
        "postgres": "" if on_postgresql else "needs PostgreSQL: run deploy/test, or set TALLYGROVE_DATABASE",
        "worker": "" if on_postgresql and settings.BROKER else "needs PostgreSQL and Redis: run deploy/test",
    }
    for item in items:
        for mark, reason in lacking.items():
            if reason and item.get_closest_marker(mark):
                item.add_marker(pytest.mark.skip(reason=reason))


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings_parallel_suffix) -> None:
    """Begin from the migrated template instead of running every migration once more in this process."""
    told = settings.DATABASES["default"]
    if told["ENGINE"].endswith("sqlite3"):
        database_template.copy_file(Path(told["TEST"]["NAME"]))
    else:
        told.setdefault("TEST", {})["TEMPLATE"] = database_template.database_to_copy(told)


@pytest.fixture(scope="session")
def django_db_keepdb(request) -> bool:
    """Keep the copied file for this run's migrate to find in order; PostgreSQL copies its template itself."""
    return settings.DATABASES["default"]["ENGINE"].endswith("sqlite3") or request.config.option.reuse_db


@pytest.fixture(autouse=True)
def quiet_jobs(settings):
    """Leave recomputing to the tests that ask for it."""
    settings.JOBS_EMBEDDED_THREAD = False


@pytest.fixture(scope="session")
def playwright_api():
    """The browser driver; one for all folders, since two cannot run in one process."""
    if CHROMIUM.find() is None:
        pytest.skip("Chromium is missing: nothing was driven in a browser")
    sync_api = pytest.importorskip("playwright.sync_api")
    with sync_api.sync_playwright() as playwright:
        yield playwright


@pytest.fixture
def hill(db) -> Organisation:
    return factories.organisation("hill", time_zone="Europe/Lisbon")


@pytest.fixture
def other(db) -> Organisation:
    return factories.organisation("other")


@pytest.fixture
def oak(db):
    return factories.species("quercus-robur")


@pytest.fixture
def project(hill):
    return factories.project(hill, name="Terraces")


@pytest.fixture
def site(hill):
    return factories.site(hill, name="Upper site")


@pytest.fixture
def block(hill, project, site):
    return factories.block(hill, project, site, name="North slope")


@pytest.fixture
def lot(hill, oak):
    return factories.lot(hill, oak, code="24-117")


@pytest.fixture
def cohort(block, lot, hill):
    return factories.cohort(block, lot, factories.season(hill, "planting", year=2024))


@pytest.fixture
def plots(block):
    return [factories.plot(block, f"N{number}") for number in range(1, 4)]


@pytest.fixture
def baselines(plots, oak, cohort):
    return [factories.baseline(plot, oak, 20, cohort=cohort) for plot in plots]


@pytest.fixture
def survey_round(project, plots, baselines):
    return factories.survey_round(project, plots, name="Second season")


@pytest.fixture
def ana(hill) -> Membership:
    return factories.member(hill, "manager", email="ana@hill.example")


@pytest.fixture
def ben(hill) -> Membership:
    return factories.member(hill, "field_lead", email="ben@hill.example")


@pytest.fixture
def vera(hill, project) -> Membership:
    return factories.member(hill, "volunteer", email="vera@hill.example", projects=[project])


@pytest.fixture
def fred(hill, project) -> Membership:
    return factories.member(hill, "funder", email="fred@hill.example", projects=[project])


@pytest.fixture
def olaf(other) -> Membership:
    return factories.member(other, "manager", email="olaf@other.example")


@pytest.fixture
def actor(ana) -> access.Actor:
    """Ana, as services see her."""
    return access.member_actor(ana)


@pytest.fixture
def signed_in():
    """Return a browser signed in as a member: `signed_in(ana).get(...)`."""

    def sign_in(membership: Membership) -> Client:
        client = Client()
        client.force_login(membership.user, backend="allauth.account.auth_backends.AuthenticationBackend")
        return client

    return sign_in
