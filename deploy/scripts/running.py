"""Start a server, wait until it answers, and always stop it by its process id."""

import ctypes
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from deploy.scripts.ports import LOOPBACK

SET_PARENT_DEATH_SIGNAL = 1  # PR_SET_PDEATHSIG of linux/prctl.h


class DidNotStart(Exception):
    """A server ended or stayed silent; the message carries the end of its log."""


def leave_on_signals() -> None:
    """Turn TERM and HUP into an ordinary exit, so that what was started is stopped as after Ctrl-C."""
    for name in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(name, lambda number, _: sys.exit(128 + number))


@contextmanager
def running(
    command: Sequence[str],
    *,
    log: Path,
    env: Mapping[str, str] | None = None,
    stop_signal: int = signal.SIGTERM,
    **options: Any,
) -> Iterator[subprocess.Popen[bytes]]:
    """Run a server in a session of its own (Ctrl-C reaches only us) and end it on the way out."""
    with log.open("ab") as output:
        process = subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=output, stderr=output, env=env,
            start_new_session=True, preexec_fn=ends_with_us(stop_signal), **options,
        )  # fmt: skip
    try:
        yield process
    finally:
        stop(process, stop_signal)


def ends_with_us(stop_signal: int) -> Callable[[], None] | None:
    """Return what asks Linux to end a child when we are killed and cannot do it ourselves; None elsewhere."""
    if not sys.platform.startswith("linux"):
        return None
    libc = ctypes.CDLL(None)
    return lambda: libc.prctl(SET_PARENT_DEATH_SIGNAL, stop_signal)


def stop(process: subprocess.Popen[bytes], stop_signal: int, patience_s: float = 15) -> None:
    """Ask a process to end; insist when it does not."""
    if process.poll() is None:
        process.send_signal(stop_signal)
        try:
            process.wait(patience_s)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def wait_for_port(process: subprocess.Popen[bytes], port: int, *, log: Path, patience_s: float = 30) -> None:
    """Return when something listens on the port."""
    await_answer(process, log, patience_s, lambda: socket.create_connection((LOOPBACK, port), 1).close())


def wait_for_page(process: subprocess.Popen[bytes], url: str, *, log: Path, patience_s: float = 60) -> None:
    """Return when the address answers, whatever it answers."""

    def ask() -> None:
        try:
            urllib.request.urlopen(url, timeout=20).close()  # noqa: S310  (loopback, our own server)
        except urllib.error.HTTPError:
            return

    await_answer(process, log, patience_s, ask)


def await_answer(process: subprocess.Popen[bytes], log: Path, patience_s: float, ask: Any) -> None:
    """Call `ask` until it raises no OSError."""
    until = time.monotonic() + patience_s
    while process.poll() is None and time.monotonic() < until:
        try:
            return ask()
        except OSError:
            time.sleep(0.05)
    state = f"ended with {process.returncode}" if process.poll() is not None else "did not answer"
    raise DidNotStart(f"The server {state}. The end of its log:\n{tail(log)}")


def tail(log: Path, lines: int = 25) -> str:
    """Return the last lines of a log file."""
    return "\n".join(log.read_text(errors="replace").splitlines()[-lines:])
