"""Find the programs the tests need, installing them through the system's packages where that is permitted."""

import os
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Program:
    """A program of the system: how to find it, the Debian package that brings it, what needs it."""

    name: str
    find: Callable[[], str | None]
    package: str
    for_what: str


def postgresql_folder() -> str | None:
    """Return the folder that holds initdb and postgres: on the PATH, else the newest Debian one."""
    on_path = shutil.which("initdb")
    if on_path and shutil.which("postgres"):
        return str(Path(on_path).parent)
    folders = [path.parent for path in Path("/usr/lib/postgresql").glob("*/bin/initdb")]
    folders.sort(key=lambda folder: int(folder.parent.name) if folder.parent.name.isdigit() else 0)
    return str(folders[-1]) if folders else None


def chromium() -> str | None:
    """Return the browser that the tests drive."""
    given = os.environ.get("TALLYGROVE_CHROMIUM")
    names = (given,) if given else ("chromium", "chromium-browser", "google-chrome", "chrome")
    return next((path for path in map(shutil.which, names) if path), None)


POSTGRESQL = Program("PostgreSQL", postgresql_folder, "postgresql", "the tests on PostgreSQL")
REDIS = Program(
    "Redis", lambda: shutil.which("redis-server"), "redis-server", "the tests with a Celery worker"
)
CHROMIUM = Program("Chromium", chromium, "chromium", "the browser tests")
NODE = Program("Node.js", lambda: shutil.which("node"), "nodejs", "the unit tests of the phone form")


def provide(programs: list[Program]) -> None:
    """Install what is missing when we may; else name what to install and what will be skipped."""
    missing = [program for program in programs if not program.find()]
    if missing and may_install():
        names = [program.package for program in missing]
        print(f"Installing {', '.join(names)} through apt-get", flush=True)
        apt_get("update")
        for name in names:
            apt_get("install", "-y", "--no-install-recommends", name)
    for program in missing:
        if not program.find():
            print(
                f"SKIPPED: {program.for_what}: {program.name} is not on this machine. "
                f"To run them: apt-get install {program.package} (or your system's package of that name).",
                flush=True,
            )


def may_install() -> bool:
    """Only root on a Debian-like system, and only when the person has not forbidden it."""
    forbidden = os.environ.get("TALLYGROVE_INSTALL", "1") == "0"
    return os.geteuid() == 0 and shutil.which("apt-get") is not None and not forbidden


def apt_get(*arguments: str) -> None:
    """Run apt-get without questions. RUNLEVEL=1 keeps a package from starting its own service."""
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive", "RUNLEVEL": "1"}
    answer = subprocess.run(["apt-get", "-q", *arguments], env=environment, capture_output=True, text=True)
    if answer.returncode:
        print(f"apt-get {' '.join(arguments)} failed: {answer.stderr.strip()[-500:]}", flush=True)
