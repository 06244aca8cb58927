"""The demo's folder: made by the same commands an operator uses, kept between starts, replaced when asked."""

import fcntl
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent.parent
COMMANDS = ("load_species", "load_demo", "sweep", "demo_facts")


class CannotSetUp(Exception):
    """Setting up failed; the message says what to do."""


@dataclass(frozen=True)
class DemoData:
    """One folder with the database, files and logs of a demo."""

    folder: Path

    @property
    def log(self) -> Path:
        """The web server's log."""
        return self.folder / "web.log"

    @property
    def told(self) -> Path:
        """What loading said: the funder's address is shown once and kept here."""
        return self.folder / "loaded.txt"

    @property
    def is_complete(self) -> bool:
        """Say whether an earlier set-up came to its end."""
        return (self.folder / "complete").exists()

    def set_up(self, *, fresh: bool) -> None:
        """Make the data unless it is there; an earlier attempt that was cut short is begun again."""
        self.folder.parent.mkdir(parents=True, exist_ok=True)
        with locked(self.beside("setting-up.lock"), fcntl.LOCK_EX):
            if fresh or (self.folder.exists() and not self.is_complete):
                self.throw_away()
            self.folder.mkdir(exist_ok=True)
            self.manage("migrate", "--verbosity", "0")
            if not self.is_complete:
                self.load()

    def load(self) -> None:
        """Load species and scenario and compute, then remember that all of it is there."""
        known = self.manage("help", "--commands", shown=False).split()
        missing = [name for name in COMMANDS if name not in known]
        if missing:
            raise CannotSetUp(
                f"This checkout has no command {', '.join(missing)}, so there is no demo to load."
            )
        print("Loading the invented scenario", flush=True)
        self.manage("load_species")
        told = self.manage("load_demo", shown=False)  # its progress goes to stderr, which is shown
        print(told, flush=True)
        self.told.write_text(told)
        self.manage("sweep")
        (self.folder / "complete").write_text(
            "The demo's data is complete; delete this folder to begin again.\n"
        )

    def facts(self) -> dict[str, Any]:
        """Return who may sign in and what the pages must show, with a new code for a phone and the funder's page."""
        found = dict(json.loads(self.manage("demo_facts", "--json", "--code", shown=False)))
        share = re.search(r"/s/\S+", self.told.read_text())
        return {**found, "share": share.group() if share else ""}

    def throw_away(self) -> None:
        """Delete the folder, unless a demo is being served from it."""
        with locked(self.beside("serving.lock"), fcntl.LOCK_EX | fcntl.LOCK_NB):
            shutil.rmtree(self.folder, ignore_errors=True)

    def manage(self, *arguments: str, shown: bool = True) -> str:
        """Run a management command on this data and return what it printed, if it was not shown."""
        answer = subprocess.run(
            [sys.executable, "manage.py", *arguments], env=self.environment(), cwd=ROOT, text=True,
            stdout=None if shown else subprocess.PIPE,
        )  # fmt: skip
        if answer.returncode:
            raise CannotSetUp(f"manage.py {' '.join(arguments)} failed; the reason stands above.")
        return answer.stdout or ""

    def environment(self) -> dict[str, str]:
        """Return a demo's environment: embedded, on the loopback address, without this machine's settings."""
        others = {name: value for name, value in os.environ.items() if not name.startswith("TALLYGROVE_")}
        return {
            **others,
            "TALLYGROVE_DEMO": "1",
            "TALLYGROVE_DATA_DIR": str(self.folder.absolute()),
            "TALLYGROVE_LOG_LEVEL": os.environ.get("TALLYGROVE_LOG_LEVEL", "WARNING"),
        }

    def beside(self, ending: str) -> Path:
        """Return the path of a lock file next to the folder."""
        return self.folder.with_name(f"{self.folder.name}.{ending}")


@contextmanager
def kept_open(data: DemoData) -> Iterator[None]:
    """Keep another start from deleting the data while it is served; several may serve it at once."""
    with locked(data.beside("serving.lock"), fcntl.LOCK_SH):
        yield


@contextmanager
def locked(path: Path, how: int) -> Iterator[None]:
    """Hold a lock on a file."""
    with path.open("w") as lock:
        try:
            fcntl.flock(lock, how)
        except BlockingIOError:
            raise CannotSetUp(
                "A demo is being served from this data. Stop it first, then begin again."
            ) from None
        yield
