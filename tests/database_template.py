"""An empty database with every table, laid down once and copied by each test process.

Running the migrations takes most of a minute on a busy machine, and a run of the tests starts six processes. The
template's name is a digest of everything that decides what the tables look like, so an edited migration makes a new
one. It is kept between runs: a file in the system's folder for passing things, a database on PostgreSQL.
"""

import fcntl
import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import django

ROOT = Path(__file__).resolve().parents[1]
DECIDING = ("*/migrations/*.py", "projects/tenancy.py", "projects/append_only.py", "deploy/databases.py")


def digest() -> str:
    """Return a digest of migrations, of what they call, and of the releases that run them."""
    found = hashlib.sha256(f"{django.get_version()} {sys.version}".encode())
    for path in sorted(path for pattern in DECIDING for path in ROOT.glob(pattern)):
        found.update(str(path.relative_to(ROOT)).encode() + path.read_bytes())
    return found.hexdigest()[:16]


def folder() -> Path:
    """Where templates and their lock stand: for one user, since another's file might be anything."""
    path = Path(tempfile.gettempdir()) / f"tallygrove-templates-{os.getuid()}"
    path.mkdir(mode=0o700, exist_ok=True)
    if path.stat().st_uid != os.getuid():
        raise PermissionError(f"{path} belongs to somebody else.")
    return path


@contextmanager
def one_at_a_time(what: str = "lock") -> Iterator[None]:
    """Let one process lay a template down while the others wait for it."""
    with (folder() / what).open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def migrate(address: str) -> None:
    """Run the migrations into an empty database, in a process of their own."""
    with tempfile.TemporaryDirectory() as data:
        environment = {**os.environ, "TALLYGROVE_DATABASE": address, "TALLYGROVE_DATA_DIR": data}
        command = [sys.executable, "manage.py", "migrate", "--verbosity", "0"]
        subprocess.run(command, cwd=ROOT, env=environment, check=True)


def copy_file(target: Path) -> None:
    """Put a migrated SQLite file where this process will look for its test database."""
    template = folder() / f"{digest()}.sqlite3"
    with one_at_a_time():
        if not template.exists():
            being_made = template.with_suffix(f".{os.getpid()}")
            migrate(f"sqlite:{being_made}")
            being_made.rename(template)
        shutil.copyfile(template, target)


def database_to_copy(told: dict[str, Any]) -> str:
    """Return the name of a migrated PostgreSQL database on the server of these settings."""
    import psycopg

    name = f"tallygrove_template_{digest()}"
    place = {"host": told["HOST"], "port": told["PORT"], "user": told["USER"], "password": told["PASSWORD"]}
    given = {key: value for key, value in place.items() if value}
    with (
        one_at_a_time(),
        psycopg.connect(dbname="postgres", autocommit=True, **given) as server,
    ):
        if server.execute("SELECT 1 FROM pg_database WHERE datname = %s", (name,)).fetchone() is None:
            being_made = f"{name}_{os.getpid()}"
            server.execute(f'CREATE DATABASE "{being_made}"')
            migrate(address_of(told, being_made))
            server.execute(f'ALTER DATABASE "{being_made}" RENAME TO "{name}"')
    return name


def address_of(told: dict[str, Any], name: str) -> str:
    """Return a database's address as the settings read it."""
    who = f"{told['USER']}:{told['PASSWORD']}@" if told["PASSWORD"] else f"{told['USER']}@"
    return f"postgresql://{who}{told['HOST']}:{told['PORT']}/{name}"
