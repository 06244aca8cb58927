"""The checks in their order: what each runs, on which database, and what it needs."""

import secrets
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

KINDS = ("lint", "types", "settings", "sqlite", "phone", "postgres", "worker", "browser")
FAST = ("lint", "types", "settings", "sqlite")
MANAGE = (sys.executable, "manage.py")
PYTEST = (sys.executable, "-m", "pytest", "-q")
IN_PARALLEL = ("-n", "2")
BY_FILE = (*IN_PARALLEL, "--dist", "loadfile")  # a file's browser is started once
ELSEWHERE = "not worker and not browser"
WAITING = "they mostly wait: one for pages, one for a worker"

# A service as it would run in earnest; `check --deploy` must have nothing to say about it.
IN_EARNEST = {
    "TALLYGROVE_PUBLIC_ADDRESS": "https://grove.example",
    "TALLYGROVE_HOSTS": "grove.example",
    "TALLYGROVE_DATABASE": "postgresql://tallygrove@127.0.0.1:5432/tallygrove",
    "TALLYGROVE_DATABASE_POOL": "1",
    "TALLYGROVE_BROKER": "redis://127.0.0.1:6379/0",
    "TALLYGROVE_SECRET_KEY": secrets.token_urlsafe(48),
}


@dataclass(frozen=True)
class Step:
    """One command. `lacks` says why it cannot run here; `shown` lets its output through as it comes."""

    name: str
    kind: str
    command: tuple[str, ...]
    env: dict[str, str] = field(default_factory=dict)
    lacks: str = ""
    shown: bool = False
    together: str = ""  # steps in a row with the same word here run at the same time


@dataclass(frozen=True)
class Means:
    """What this run has at hand."""

    scratch: Path
    database: str
    broker: str
    node: str | None
    chromium: str | None
    on_postgresql: bool = True  # whether this run comes to the tests on PostgreSQL


def all_steps(means: Means, pytest_arguments: Sequence[str] = ()) -> list[Step]:
    """Return every step in order, the quick ones first."""
    return [*lint_steps(), *settings_steps(), *pytest_steps(means, pytest_arguments), phone_step(means)]


def lint_steps() -> list[Step]:
    """Format, lint, words, hosts, types."""
    python = sys.executable
    return [
        Step("format (ruff)", "lint", (python, "-m", "ruff", "format", "--check", ".")),
        Step("lint (ruff)", "lint", (python, "-m", "ruff", "check", ".")),
        Step("templates", "lint", (python, "-m", "deploy.lint.templates")),
        Step("words wrapped for translation", "lint", (python, "-m", "deploy.lint.words")),
        Step("no host names, no machine paths", "lint", (python, "-m", "deploy.lint.hosts")),
        Step("types (mypy)", "types", (python, "-m", "mypy")),
    ]


def settings_steps() -> list[Step]:
    """Migrations complete; a production environment without a warning."""
    return [
        Step("migrations are complete", "settings", (*MANAGE, "makemigrations", "--check", "--dry-run")),
        Step("system check", "settings", (*MANAGE, "check", "--fail-level", "WARNING")),
        Step(
            "system check of a production environment",
            "settings",
            (*MANAGE, "check", "--deploy", "--fail-level", "WARNING"),
            IN_EARNEST,
        ),
    ]


def pytest_steps(means: Means, arguments: Sequence[str]) -> list[Step]:
    """The tests on both databases, as far as these could differ; then those that need a worker or a browser."""
    sqlite = {"TALLYGROVE_DATABASE": f"sqlite:{means.scratch / 'tests.sqlite3'}"}
    postgres = {"TALLYGROVE_DATABASE": means.database}
    own_queue = f"tests-{secrets.token_hex(6)}"  # a broker that was given may be shared
    queue = {**postgres, "TALLYGROVE_BROKER": means.broker, "TALLYGROVE_QUEUE": own_queue}
    browser = {**sqlite, "TALLYGROVE_CHROMIUM": means.chromium or ""}  # where the demo lies loaded already
    no_database = "" if means.database else "no PostgreSQL"
    there_too = means.database and means.on_postgresql
    here = "not postgres and not on_postgresql" if there_too else "not postgres"
    no_worker = no_database or ("" if means.broker else "no Redis")
    no_browser = "" if means.chromium else "no Chromium"
    parallel, rest = (*IN_PARALLEL, *arguments), tuple(arguments)
    steps = [
        tests("tests on SQLite", "sqlite", f"{ELSEWHERE} and {here}", parallel, sqlite),
        tests(
            "tests on PostgreSQL",
            "postgres",
            f"{ELSEWHERE} and database and not one_database",
            parallel,
            postgres,
            no_database,
        ),
        tests(
            "tests in a browser", "browser", "browser", (*BY_FILE, *arguments), browser, no_browser, WAITING
        ),
        tests("tests with a Celery worker and Redis", "worker", "worker", rest, queue, no_worker, WAITING),
    ]
    return steps if arguments else [doctests(sqlite), *steps]


def tests(
    name: str,
    kind: str,
    marked: str,
    arguments: tuple[str, ...],
    env: dict[str, str],
    lacks: str = "",
    together: str = "",
) -> Step:
    """Return one pytest run over the tests marked so."""
    return Step(name, kind, (*PYTEST, "-m", marked, *arguments), env, lacks, shown=True, together=together)


def doctests(env: dict[str, str]) -> Step:
    """The examples in the docstrings of the packages that only compute."""
    command = (*PYTEST, "--doctest-modules", "monitoring/estimators", "projects/calc")
    return Step("examples in the pure packages", "sqlite", command, env, shown=True)


def phone_step(means: Means) -> Step:
    """Unit tests of the phone form's and the map's modules, in Node's own runner."""
    files = sorted(str(path) for path in Path("tests").rglob("*.test.*js"))
    lacks = "no Node.js" if not means.node else "" if files else "no tests/**/*.test.mjs"
    return Step(
        "unit tests of phone form and map", "phone", (means.node or "node", "--test", *files), {}, lacks
    )
