"""Private PostgreSQL and Redis for one run: on free ports, in a temporary folder, gone afterwards."""

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from deploy.scripts.ports import LOOPBACK, any_free
from deploy.scripts.programs import POSTGRESQL, REDIS
from deploy.scripts.running import running, wait_for_port

# Nothing here outlives the run, so it need not survive a power cut.
POSTGRESQL_SETTINGS = {
    "fsync": "off",
    "synchronous_commit": "off",
    "full_page_writes": "off",
    "max_connections": "100",
    "shared_buffers": "256MB",
    "unix_socket_directories": "",
    "listen_addresses": LOOPBACK,
}
INITDB_OPTIONS = ("-U", "postgres", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")


@contextmanager
def postgresql() -> Iterator[str]:
    """Yield the address of a private PostgreSQL server, as TALLYGROVE_DATABASE wants it."""
    programs = Path(str(POSTGRESQL.find()))
    with scratch("postgresql") as folder:
        who, data, log, port = unprivileged(folder), folder / "data", folder / "log", any_free()
        subprocess.run(
            [programs / "initdb", "-D", data, *INITDB_OPTIONS],
            check=True,
            capture_output=True,
            cwd=folder,
            **who,
        )
        settings = [part for name, value in POSTGRESQL_SETTINGS.items() for part in ("-c", f"{name}={value}")]
        command = [str(programs / "postgres"), "-D", str(data), "-p", str(port), *settings]
        fast = signal.SIGINT  # ends what clients left open
        with running(command, log=log, stop_signal=fast, cwd=folder, **who) as server:
            wait_for_port(server, port, log=log)
            yield f"postgresql://postgres@{LOOPBACK}:{port}/tallygrove"


@contextmanager
def redis() -> Iterator[str]:
    """Yield the address of a private Redis server, as TALLYGROVE_BROKER wants it."""
    with scratch("redis") as folder:
        port, log = any_free(), folder / "log"
        command = [
            str(REDIS.find()), "--bind", LOOPBACK, "--port", str(port),
            "--save", "", "--appendonly", "no", "--dir", str(folder),
        ]  # fmt: skip
        with running(command, log=log) as server:
            wait_for_port(server, port, log=log)
            yield f"redis://{LOOPBACK}:{port}/0"


@contextmanager
def scratch(name: str) -> Iterator[Path]:
    """Yield a temporary folder that vanishes with all that is in it."""
    folder = Path(tempfile.mkdtemp(prefix=f"tallygrove-{name}-"))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def unprivileged(folder: Path) -> dict[str, Any]:
    """PostgreSQL refuses to run as root: return how to run it as another user, who gets the folder."""
    if os.geteuid() != 0:
        return {}
    user = next(user for user in map(known_user, ("postgres", "nobody")) if user)
    os.chown(folder, user.pw_uid, user.pw_gid)
    return {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}


def known_user(name: str) -> pwd.struct_passwd | None:
    """Return a user of this machine, or None."""
    try:
        return pwd.getpwnam(name)
    except KeyError:
        return None
