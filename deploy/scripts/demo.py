"""deploy/demo: set up the invented scenario on SQLite, serve it on the loopback address, say who may sign in."""

import argparse
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from deploy.scripts import walk_demo
from deploy.scripts.demo_data import ROOT, CannotSetUp, DemoData, kept_open
from deploy.scripts.ports import LOOPBACK, free_port
from deploy.scripts.running import DidNotStart, leave_on_signals, running, tail, wait_for_page

PORT = 8000


def main() -> int:
    """Read the options and do what they say."""
    leave_on_signals()
    options = read_options()
    try:
        return check(options) if options.check else demo(options)
    except (CannotSetUp, DidNotStart) as problem:
        print(problem, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nStopped before it was ready. deploy/demo begins again.", file=sys.stderr)
        return 130


def read_options() -> argparse.Namespace:
    """Return the options."""
    parser = argparse.ArgumentParser(
        "deploy/demo", description="Try Tallygrove with invented data on this machine."
    )
    parser.add_argument("--port", type=int, default=PORT, help=f"port on 127.0.0.1 (default {PORT})")
    parser.add_argument("--fresh", action="store_true", help="throw the demo's data away and begin again")
    parser.add_argument("--no-serve", action="store_true", help="set up and stop")
    parser.add_argument("--check", action="store_true", help="set up apart, walk the pages, exit 0 or 1")
    return parser.parse_args()


def demo(options: argparse.Namespace) -> int:
    """Set up the demo, keep what was there, and serve it until Ctrl-C."""
    data = DemoData(data_folder() / "demo")
    data.set_up(fresh=options.fresh)
    if options.no_serve:
        print(f"The demo's data is ready in {data.folder}")
        return 0
    with kept_open(data), serving(data, options.port) as (address, server):
        welcome(data, address)
        try:
            return server.wait()
        except KeyboardInterrupt:
            print("\nStopped. Nothing is lost: deploy/demo starts again where you left off.")
            return 0


def check(options: argparse.Namespace) -> int:
    """Set up in a folder of its own, walk the pages as each person, leave nothing behind."""
    with tempfile.TemporaryDirectory(prefix="demo-check-", dir=data_folder()) as name:
        data = DemoData(Path(name) / "demo")
        data.set_up(fresh=True)
        with serving(data, options.port) as (address, _):
            failed = walk_demo.walk(address, data.facts())
        if failed:
            print(f"\nThe end of the web server's log:\n{tail(data.log, 60)}")
        return failed


def data_folder() -> Path:
    """Return where demos keep their data: `var` in the checkout, else what TALLYGROVE_DATA_DIR names."""
    folder = Path(os.environ.get("TALLYGROVE_DATA_DIR") or ROOT / "var")
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@contextmanager
def serving(data: DemoData, wanted_port: int) -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """Yield the address of a running web server and its process."""
    port = free_port(wanted_port)
    address = f"http://{LOOPBACK}:{port}"
    command = [sys.executable, "-m", "gunicorn", "-c", "deploy/gunicorn.py", "deploy.wsgi"]
    environment = {
        **data.environment(),
        "TALLYGROVE_BIND": f"{LOOPBACK}:{port}",
        "TALLYGROVE_WEB_PROCESSES": "1",
    }
    with running(command, log=data.log, env=environment, cwd=ROOT) as server:
        wait_for_page(server, address + "/accounts/login/", log=data.log)
        yield address, server


def welcome(data: DemoData, address: str) -> None:
    """Print where to go and who to be."""
    facts = data.facts()
    people = facts["people"]
    width = max(len(person["email"]) for person in people)
    print(f"\nTallygrove with invented data is at {address}\n")
    for person in people:
        print(f"  {person['email']:{width}}  {person['password']}  {person['who']}")
    print(f"\nA volunteer's phone: {address}/field/ with the code {facts['phone_code']} (good for one phone)")
    print(f"A funder's page without sign-in: {address}{facts['share']}")
    print(f"\nData: {data.folder} (deploy/demo --fresh begins again). Log: {data.log}")
    print("Stop with Ctrl-C.", flush=True)


if __name__ == "__main__":
    sys.exit(main())
