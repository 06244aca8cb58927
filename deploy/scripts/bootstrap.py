"""Make the virtual environment that a lock file describes and print its interpreter. Standard library only.

Run before anything is installed, so it imports nothing of the project. Messages go to stderr;
stdout carries only the interpreter's path.
"""

import fcntl
import hashlib
import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
STAMP = "tallygrove-installed.json"
OLDEST = (3, 11)


class CannotInstall(Exception):
    """Setting up failed; the message says what the person can do."""


def main() -> int:
    """Make or reuse the environment for the lock file named on the command line."""
    lock = Path(sys.argv[1])
    venv = Path(os.environ.get("TALLYGROVE_VENV") or ROOT / ".venv").absolute()
    try:
        with held(venv):
            python = ready(venv, lock)
    except CannotInstall as problem:
        say(str(problem))
        return 1
    except PermissionError as problem:
        say(
            f"{problem.filename} cannot be written by this user. Set TALLYGROVE_VENV to a folder of your own."
        )
        return 1
    print(python)
    return 0


def ready(venv: Path, lock: Path) -> Path:
    """Return the environment's interpreter after installing whatever the lock file asks for."""
    python = venv / "bin" / "python"
    version = version_of(python) or version_of(make(venv))
    if version is None:
        raise CannotInstall(f"{python} does not run. Delete {venv} and run this again.")
    digest = hashlib.sha256(lock.read_bytes()).hexdigest()
    stamp = read_stamp(venv)
    if stamp.get("python") != version:
        stamp = {"python": version}
    if stamp.get(lock.name) != digest:
        install(python, lock)
        write_stamp(venv, {**stamp, lock.name: digest, **also_installed(lock)})
    return python


def also_installed(lock: Path) -> dict[str, str]:
    """The development lock holds every pin of the runtime lock (a test says so), so it installs both."""
    if lock.name != "requirements-dev.txt":
        return {}
    runtime = lock.with_name("requirements.txt")
    return {runtime.name: hashlib.sha256(runtime.read_bytes()).hexdigest()}


def version_of(python: Path) -> str | None:
    """Return "3.12" for a working interpreter that is new enough, else None."""
    code = "import sys; print('%d.%d' % sys.version_info[:2])"
    try:
        answer = subprocess.run([python, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    except (OSError, subprocess.SubprocessError):
        return None
    version = answer.stdout.strip()
    return version if tuple(map(int, version.split("."))) >= OLDEST else None


def make(venv: Path) -> Path:
    """Create the environment without pip, which needs no extra system package; return its interpreter."""
    say(f"Making the environment in {venv}")
    venv.mkdir(parents=True, exist_ok=True)
    run(
        [sys.executable, "-m", "venv", "--without-pip", "--clear", str(venv)],
        "The environment could not be made",
    )
    return venv / "bin" / "python"


def install(python: Path, lock: Path) -> None:
    """Install the lock file's packages, each checked against its hash."""
    began = time.monotonic()
    say(f"Installing what {lock.name} names (needs the network, takes about a minute)")
    for installer in installers(python):
        command = [*installer, "-qq", "--require-hashes", "--requirement", str(lock)]
        if subprocess.run(command, stdout=sys.stderr, env=quiet_environment()).returncode == 0:
            say(f"Installed in {time.monotonic() - began:.0f} s")
            return
    raise CannotInstall(
        "The packages could not be installed; the reason stands above. The first run needs the network "
        "(a Python package index). Nothing else was changed; run the command again once it is reachable."
    )


def installers(python: Path) -> Iterator[list[str]]:
    """Yield the ways of installing into the environment, fastest first.

    uv reads no pip configuration, so a machine whose index is set there falls through to pip.
    """
    uv = shutil.which("uv")
    if uv and subprocess.run([uv, "--version"], capture_output=True).returncode == 0:
        yield [uv, "pip", "install", "--python", str(python)]
    yield [*pip_for(python), "install", "--disable-pip-version-check", "--no-compile"]  # as imported, not all


def pip_for(python: Path) -> list[str]:
    """Return a pip that installs into the environment: its own, the one Python carries, or the system's."""
    own = [str(python), "-m", "pip"]
    if works([*own, "--version"]) or works([str(python), "-m", "ensurepip"]):
        return own
    system = [sys.executable, "-m", "pip", "--python", str(python)]
    if works([*system, "--version"]):
        return system
    if os.geteuid() == 0 and shutil.which("apt-get"):
        say("This Python carries no pip; installing python3-venv through apt-get")
        works(["apt-get", "update"])
        works(["apt-get", "install", "-y", "--no-install-recommends", "python3-venv"])
        if works([str(python), "-m", "ensurepip"]):
            return own
    raise CannotInstall(
        "This Python has neither pip nor ensurepip, so nothing can be installed. Install one of them "
        "(on Debian or Ubuntu: apt-get install python3-venv) or put uv on the PATH, then run this again."
    )


def works(command: list[str]) -> bool:
    """Run quietly and say whether it succeeded."""
    return subprocess.run(command, capture_output=True, env=quiet_environment()).returncode == 0


def run(command: list[str], failure: str) -> None:
    """Run a command that must succeed."""
    answer = subprocess.run(command, capture_output=True, text=True)
    if answer.returncode:
        raise CannotInstall(f"{failure}: {(answer.stderr or answer.stdout).strip()}")


def quiet_environment() -> dict[str, str]:
    """Never let uv fetch an interpreter, never let a package tool ask a question."""
    return {**os.environ, "UV_PYTHON_DOWNLOADS": "never", "DEBIAN_FRONTEND": "noninteractive"}


def read_stamp(venv: Path) -> dict[str, str]:
    """Return what was installed last time."""
    try:
        return dict(json.loads((venv / STAMP).read_text()))
    except (OSError, ValueError):
        return {}


def write_stamp(venv: Path, stamp: dict[str, str]) -> None:
    """Remember what is installed, so that the next start touches no network."""
    (venv / STAMP).write_text(json.dumps(stamp, indent=1) + "\n")


@contextmanager
def held(venv: Path) -> Iterator[None]:
    """Let two commands started at once set up one after the other."""
    try:
        venv.parent.mkdir(parents=True, exist_ok=True)
        lock = venv.with_name(venv.name + ".lock").open("w")
    except PermissionError:
        yield  # somebody else's environment: it can still be used when it is complete
        return
    with lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def say(message: str) -> None:
    """Tell the person."""
    print(message, file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())
