"""A phone (headless Chromium with its own profile) in front of the fake field server."""

import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import suppress
from pathlib import Path

import pytest

CHROMIUM = (
    os.environ.get("TALLYGROVE_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
)
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP grove.test 127.0.0.1",
]


class Server:
    """The fake field server in a process of its own."""

    def __init__(self) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        self.address = f"http://127.0.0.1:{port}"
        script = Path(__file__).with_name("fake_server.py")
        self.process = subprocess.Popen([sys.executable, str(script), str(port)])
        self._wait()

    def _wait(self) -> None:
        for _ in range(100):
            with suppress(urllib.error.URLError):
                self.state()
                return
            time.sleep(0.1)
        raise RuntimeError("the fake field server did not start")

    def _ask(self, path: str, content: dict | None = None) -> dict:
        body = None if content is None else json.dumps(content).encode()
        with urllib.request.urlopen(urllib.request.Request(self.address + path, data=body)) as response:
            return json.load(response)

    def state(self) -> dict:
        """Return what has arrived."""
        return self._ask("/fake/state")

    def bodies(self) -> list[dict]:
        """Return the visits that have arrived, in order."""
        return [json.loads(item["body"]) for item in self.state()["items"]]

    def fails(self, **faults) -> None:
        """Set how the next batches fail."""
        self._ask("/fake/faults", faults)

    def stop(self) -> None:
        self.process.terminate()
        self.process.wait()


class Phone:
    """One phone: a browser profile that outlives the browser."""

    def __init__(self, playwright, profile: Path, address: str) -> None:
        self.playwright, self.profile, self.address = playwright, profile, address
        self.console: list[str] = []
        self.open()

    def open(self, *, offline: bool = False, locale: str = "en-GB", width: int = 390) -> None:
        self.context = self.playwright.chromium.launch_persistent_context(
            str(self.profile),
            executable_path=CHROMIUM,
            args=FLAGS,
            viewport={"width": width, "height": 800},
            locale=locale,
        )
        self.context.set_default_timeout(10_000)
        self.context.set_offline(offline)
        self.page = self.context.pages[0]
        self.page.on("console", lambda message: self.console.append(message.text))
        self.page.on("pageerror", lambda error: self.console.append(f"error: {error}"))

    def go(self, hash_: str = "") -> None:
        self.page.goto(f"{self.address}/field/{hash_}")

    def see(self, heading: str) -> None:
        self.page.wait_for_selector(f'h1:has-text("{heading}")')

    def status(self, words: str) -> None:
        self.page.wait_for_selector(f'a.status:has-text("{words}")')

    def press(self, label: str) -> None:
        self.page.click(f'main button:has-text("{label}"), main a:has-text("{label}")')

    def enrol(self, code: str = "TEST-CODE-01") -> None:
        self.go(f"#code={code}")
        self.page.click('button:text-is("Open")')
        self.see("Plots to count")
        self.page.evaluate("navigator.serviceWorker.ready.then(() => true)")

    def start_count(self, plot: str) -> None:
        self.press(plot)
        self.see(plot)
        self.press("Count this plot")
        self.page.wait_for_selector("#field-line-0-alive")

    def count(self, plot: str, *alive: int) -> None:
        self.start_count(plot)
        for line, number in enumerate(alive):
            self.page.fill(f"#field-line-{line}-alive", str(number))
        self.press("Check your answers")
        self.see("Check your answers")
        self.press("Save on this phone")
        self.see("Saved on this phone")

    def kill(self) -> None:
        """End the browser at once, as a phone does when it runs out of memory or power."""
        for entry in Path("/proc").glob("[0-9]*/cmdline"):
            with suppress(OSError):
                if str(self.profile) in entry.read_text().replace("\0", " "):
                    os.kill(int(entry.parent.name), signal.SIGKILL)
        with suppress(Exception):
            self.context.close()
        for lock in self.profile.glob("Singleton*"):
            lock.unlink()


@pytest.fixture
def field_server():
    server = Server()
    yield server
    server.stop()


@pytest.fixture
def phone(playwright_api, field_server, tmp_path):
    made = Phone(playwright_api, tmp_path / "profile", field_server.address)
    yield made
    with suppress(Exception):
        made.context.close()
