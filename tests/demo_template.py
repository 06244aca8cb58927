"""The loaded demo as a SQLite file, made once from the code as it stands and copied wherever a test shows it.

Loading computes every figure of the scenario and takes most of a minute; three test processes of a run need it.
"""

import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.core.management import call_command
from django.db import connection

from tests import database_template
from tests.database_template import ROOT, folder, one_at_a_time

APPS = ("species", "projects", "monitoring")
READ = (".py", ".csv", ".json", ".toml")


def digest() -> str:
    """Return a digest of everything the loaded rows come from."""
    found = hashlib.sha256(database_template.digest().encode())
    for app in APPS:
        for path in sorted(path for path in (ROOT / app).rglob("*") if path.suffix in READ):
            found.update(str(path.relative_to(ROOT)).encode() + path.read_bytes())
    return found.hexdigest()[:16]


def load(path: Path) -> None:
    """Load the demo into a file with empty tables, in processes of their own."""
    with tempfile.TemporaryDirectory() as data:
        ours = {
            "TALLYGROVE_DATABASE": f"sqlite:{path}", "TALLYGROVE_DATA_DIR": data, "TALLYGROVE_DEMO": "1",
            "TALLYGROVE_BROKER": "",
        }  # fmt: skip
        for command in ("load_species", "load_demo"):
            line = [sys.executable, "manage.py", command, "--verbosity", "0"]
            subprocess.run(line, cwd=ROOT, env={**os.environ, **ours}, check=True)


def loaded() -> Path:
    """Return the file, made if it is not there yet; files of earlier code are thrown away."""
    path = folder() / f"demo-{digest()}.sqlite3"
    being_made = folder() / f"making-{os.getpid()}.sqlite3"
    if not path.exists():
        database_template.copy_file(being_made)
        with one_at_a_time("demo-lock"):
            if not path.exists():
                for old in folder().glob("demo-*.sqlite3"):
                    old.unlink(missing_ok=True)
                load(being_made)
                being_made.rename(path)
    being_made.unlink(missing_ok=True)
    return path


@contextmanager
def shown(copy: Path) -> Iterator[None]:
    """Let this process, a server's threads included, work on a loaded demo instead of the tests' own database."""
    if connection.vendor != "sqlite":
        call_command("load_species", verbosity=0)
        call_command("load_demo", verbosity=0)
        yield
        return
    shutil.copyfile(loaded(), copy)
    told, usual = connection.settings_dict, connection.settings_dict["NAME"]
    connection.close()
    told["NAME"] = str(copy)
    try:
        yield
    finally:
        connection.close()
        told["NAME"] = usual
