"""The commands in deploy/: what they promise about folders, ports, second runs and what they leave behind."""

import argparse
import contextlib
import hashlib
import http.server
import os
import shutil
import socket
import subprocess
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest

from deploy.scripts import (
    bootstrap,
    check,
    demo_data,
    ports,
    programs,
    running,
    services,
    steps,
    tally,
    walk_demo,
)
from deploy.scripts.browse import Page, Visitor, read
from tests.structure.source import ROOT

COMMANDS = ("deploy/demo", "deploy/test", "deploy/check", "deploy/bench", ".ci/run")


# --- the shell part ------------------------------------------------------------------------


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_can_be_run_and_is_plain_sh(name):
    path = ROOT / name
    assert os.access(path, os.X_OK)
    assert path.read_text().startswith("#!/bin/sh\n")
    assert subprocess.run(["sh", "-n", path]).returncode == 0


def test_ci_runs_the_tests():
    assert (ROOT / ".ci/run").read_text().splitlines()[-1] == 'exec "$(dirname -- "$0")/../deploy/test" "$@"'


def path_with(tmp_path, **scripts: str) -> dict[str, str]:
    """Return an environment whose only programs are the ones a shell needs and the given fake ones."""
    for name in ("sh", "dirname", "readlink"):
        (tmp_path / name).symlink_to(shutil.which(name))
    for name, body in scripts.items():
        (tmp_path / name).write_text(f"#!/bin/sh\n{body}\n")
        (tmp_path / name).chmod(0o755)
    return {"PATH": str(tmp_path)}


def test_a_machine_without_a_new_enough_python_is_told_so(tmp_path):
    script = (ROOT / "deploy/scripts/start.sh").read_text().replace(" /usr/bin/python3;", ";")
    (tmp_path / "deploy").mkdir()
    (tmp_path / "deploy" / "start.sh").write_text(script + "\nenvironment requirements.txt\n")
    environment = path_with(tmp_path, python3='[ "$1" = --version ] && echo Python 3.9.2 || exit 1')
    answer = subprocess.run(
        ["sh", tmp_path / "deploy/start.sh"], env=environment, capture_output=True, text=True
    )
    assert answer.returncode == 1
    assert "needs Python 3.11 or newer; this machine has: Python 3.9.2" in answer.stderr
    assert "TALLYGROVE_PYTHON" in answer.stderr


def test_a_command_works_from_any_folder_and_through_a_link(tmp_path):
    link = tmp_path / "bench"
    link.symlink_to(ROOT / "deploy/bench")
    environment = {**os.environ, "TALLYGROVE_VENV": sys.prefix}
    if not (running_venv_is_complete()):
        pytest.skip("these tests do not run in an environment that deploy/test made")
    answer = subprocess.run([link, "nothing"], cwd=tmp_path, env=environment, capture_output=True, text=True)
    assert "Usage: deploy/bench NAME" in answer.stderr
    assert answer.returncode == 2


def running_venv_is_complete() -> bool:
    lock = ROOT / "requirements-dev.txt"
    stamp = bootstrap.read_stamp(Path(sys.prefix))
    return stamp.get(lock.name) == hashlib.sha256(lock.read_bytes()).hexdigest()


# --- the environment -----------------------------------------------------------------------


@pytest.fixture
def lock(tmp_path):
    path = tmp_path / "requirements.txt"
    path.write_text("")
    return path


@pytest.fixture
def installs(monkeypatch):
    """Count the installations instead of doing them."""
    done = []
    monkeypatch.setattr(bootstrap, "install", lambda python, lock: done.append(lock.read_text()))
    return done


def test_the_second_start_installs_nothing(tmp_path, lock, installs):
    python = bootstrap.ready(tmp_path / "venv", lock)
    assert (
        subprocess.run([python, "-c", "import sys; sys.exit(sys.prefix == sys.base_prefix)"]).returncode == 0
    )
    assert bootstrap.ready(tmp_path / "venv", lock) == python
    assert installs == [""]


def test_a_changed_lock_file_is_installed_again(tmp_path, lock, installs):
    bootstrap.ready(tmp_path / "venv", lock)
    lock.write_text("# another")
    bootstrap.ready(tmp_path / "venv", lock)
    assert installs == ["", "# another"]


def test_an_environment_whose_python_is_gone_is_made_anew(tmp_path, lock, installs):
    python = bootstrap.ready(tmp_path / "venv", lock)
    python.unlink()
    python.symlink_to(tmp_path / "gone")
    bootstrap.ready(tmp_path / "venv", lock)
    assert bootstrap.version_of(python)
    assert len(installs) == 2


def test_an_installation_that_failed_is_not_remembered(tmp_path, lock, monkeypatch):
    monkeypatch.setattr(bootstrap, "installers", lambda python: iter([["false"]]))
    with pytest.raises(bootstrap.CannotInstall, match="needs the network"):
        bootstrap.ready(tmp_path / "venv", lock)
    assert lock.name not in bootstrap.read_stamp(tmp_path / "venv")


def test_a_python_without_any_installer_says_what_to_install(tmp_path, monkeypatch):
    monkeypatch.setattr(bootstrap, "works", lambda command: False)
    monkeypatch.setattr(bootstrap.os, "geteuid", lambda: 1000)
    with pytest.raises(bootstrap.CannotInstall, match="apt-get install python3-venv"):
        bootstrap.pip_for(tmp_path / "python")


# --- ports and processes -------------------------------------------------------------------


def test_a_taken_port_is_passed_over_and_said(capsys):
    with socket.socket() as taken:
        taken.bind((ports.LOOPBACK, 0))
        taken.listen()
        wanted = taken.getsockname()[1]
        port = ports.free_port(wanted)
    assert port != wanted
    assert f"Port {wanted} is taken; using {port} instead." in capsys.readouterr().out


def test_a_server_that_ends_at_once_shows_the_end_of_its_log(tmp_path):
    log = tmp_path / "log"
    command = [sys.executable, "-c", "print('no such table'); raise SystemExit(3)"]
    with (
        pytest.raises(running.DidNotStart, match=r"ended with 3(.|\n)*no such table"),
        running.running(command, log=log) as server,
    ):
        running.wait_for_port(server, 1, log=log)


def test_what_was_started_is_stopped_when_the_work_fails(tmp_path):
    command = [sys.executable, "-c", "import time; time.sleep(60)"]
    with pytest.raises(ZeroDivisionError), running.running(command, log=tmp_path / "log") as server:
        raise ZeroDivisionError
    assert server.poll() is not None


@pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="only Linux ends children of a killed parent"
)
def test_what_was_started_ends_even_when_we_are_killed(tmp_path):
    code = (
        "import sys, pathlib; from deploy.scripts.running import running\n"
        "with running([sys.executable, '-c', 'import time; time.sleep(60)'], log=pathlib.Path(sys.argv[1])) as child:\n"
        "    print(child.pid, flush=True); sys.stdin.read()"
    )
    parent = subprocess.Popen(
        [sys.executable, "-c", code, tmp_path / "log"],
        cwd=ROOT,
        text=True,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    with parent:
        child = int(parent.stdout.readline())
        assert is_alive(child)
        parent.kill()
        parent.wait()
    until = time.monotonic() + 20
    while is_alive(child) and time.monotonic() < until:
        time.sleep(0.05)
    assert not is_alive(child)


def is_alive(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


@pytest.mark.parametrize(
    ("program", "start"), [(programs.POSTGRESQL, services.postgresql), (programs.REDIS, services.redis)]
)
def test_a_private_server_is_gone_afterwards(program, start, tmp_path, monkeypatch):
    if not program.find():
        pytest.skip(f"{program.name} is not installed")
    made = []
    scratch = services.scratch
    monkeypatch.setattr(services, "scratch", lambda name: noted(scratch(name), made))
    with start() as address:
        port = int(address.rsplit(":", 1)[1].split("/")[0])
        assert not ports.is_free(port)
        assert made[0].exists()
    assert ports.is_free(port)
    assert not made[0].exists()


@contextlib.contextmanager
def noted(inner, made):
    """Remember what a context yields."""
    with inner as value:
        made.append(value)
        yield value


def test_a_missing_program_that_may_not_be_installed_is_named_with_its_package(monkeypatch, capsys):
    monkeypatch.setattr(programs, "may_install", lambda: False)
    missing = programs.Program("Chromium", lambda: None, "chromium", "the browser tests")
    programs.provide([missing])
    printed = capsys.readouterr().out
    assert "SKIPPED: the browser tests: Chromium is not on this machine" in printed
    assert "apt-get install chromium" in printed


def test_a_missing_program_is_installed_after_the_list_was_renewed(monkeypatch, capsys):
    asked = []
    monkeypatch.setattr(programs, "may_install", lambda: True)
    monkeypatch.setattr(programs, "apt_get", lambda *arguments: asked.append(arguments))
    programs.provide(
        [programs.Program("Redis", lambda: "/bin/redis" if asked else None, "redis-server", "x")]
    )
    assert asked[0] == ("update",)
    assert asked[1][-1] == "redis-server"
    assert "SKIPPED" not in capsys.readouterr().out


def test_nothing_is_installed_where_the_person_forbids_it(monkeypatch):
    monkeypatch.setenv("TALLYGROVE_INSTALL", "0")
    assert not programs.may_install()


# --- deploy/check --------------------------------------------------------------------------


def options(*arguments: str) -> argparse.Namespace:
    return check.read_options("deploy/check", list(arguments))


def names(chosen):
    return [step.name for step in chosen]


@pytest.fixture
def everything(tmp_path):
    means = steps.Means(tmp_path, "postgresql://x/y", "redis://x", "node", "chromium")
    return lambda *arguments: check.chosen(
        options(*arguments), steps.all_steps(means, options(*arguments).pytest)
    )


def test_everything_is_run_on_both_databases_and_with_a_worker(everything):
    chosen = everything()
    assert {step.kind for step in chosen} == set(steps.KINDS)
    assert not any(step.lacks for step in chosen if step.kind != "phone")


def test_fast_leaves_out_what_needs_servers(everything):
    assert {step.kind for step in everything("--fast")} == set(steps.FAST)


def marks(of: list[steps.Step], kind: str) -> str:
    return next(step.command[step.command.index("-m", 3) + 1] for step in of if step.kind == kind)


def test_what_sqlite_leaves_to_postgresql_is_run_on_sqlite_where_postgresql_is_not_come_to(tmp_path):
    there = steps.Means(tmp_path, "postgresql://x/y", "redis://x", None, None)
    assert "not on_postgresql" in marks(steps.pytest_steps(there, ("-k", "x")), "sqlite")
    assert "on_postgresql" not in marks(steps.pytest_steps(there, ("-k", "x")), "postgres")
    for nowhere in (replace(there, on_postgresql=False), replace(there, database="")):
        assert "on_postgresql" not in marks(steps.pytest_steps(nowhere, ("-k", "x")), "sqlite")
    assert not check.means(tmp_path, options("--fast")).on_postgresql
    assert check.means(tmp_path, options()).on_postgresql


def test_pytest_arguments_reach_every_pytest_run_and_only_those(everything):
    chosen = everything("-k", "lot")
    assert chosen
    assert all(step.command[-2:] == ("-k", "lot") for step in chosen)


def test_a_machine_that_lacks_something_skips_it_by_name(tmp_path, capsys):
    means = steps.Means(tmp_path, "", "", None, None)
    lacking = [step for step in steps.all_steps(means) if step.lacks]
    skipped = check.take(lacking, {}, tmp_path, may_be_empty=False)
    assert {result.state for result in skipped} == {"skipped"}
    assert check.summary(skipped) == 0
    printed = capsys.readouterr().out
    for reason in ("no PostgreSQL", "no Node.js", "no Chromium"):
        assert reason in printed


def python(name: str, code: str, **more) -> steps.Step:
    return steps.Step(name, "lint", (sys.executable, "-c", code), **more)


def test_a_failing_step_is_named_and_fails_the_run(tmp_path, capsys):
    step = python("on purpose", "print('why'); raise SystemExit(1)")
    results = check.take([step], dict(os.environ), tmp_path, may_be_empty=False)
    assert check.summary(results) == 1
    printed = capsys.readouterr().out
    assert "why" in printed
    assert "FAILED: on purpose" in printed


def test_a_run_that_selects_no_test_fails_unless_somebody_selected(tmp_path):
    step = python("nothing", "raise SystemExit(5)")
    for may_be_empty, state in ((False, "FAILED"), (True, "ok")):
        (result,) = check.take([step], dict(os.environ), tmp_path, may_be_empty=may_be_empty)
        assert result.state == state


def test_steps_that_go_together_run_at_the_same_time_and_each_tells_what_it_said(tmp_path, capfd):
    meet = "import pathlib, sys, time; here, there = map(pathlib.Path, sys.argv[1:]); here.touch()"
    wait = "; t = time.monotonic()\nwhile not there.exists() and time.monotonic() - t < 20: time.sleep(0.02)"
    code = meet + wait + "\nprint('met' if there.exists() else 'alone', here.name)"
    one, two = (
        steps.Step(
            name,
            "lint",
            (sys.executable, "-c", code, str(tmp_path / name), str(tmp_path / other)),
            shown=True,
        )
        for name, other in (("one", "two"), ("two", "one"))
    )
    failing = python("three", "print('why'); raise SystemExit(3)")
    results = check.take([one, two, failing], dict(os.environ), tmp_path, may_be_empty=False)
    assert [(result.step.name, result.state) for result in results] == [
        ("one", "ok"), ("two", "ok"), ("three", "FAILED"),
    ]  # fmt: skip
    printed = capfd.readouterr().out
    assert all(said in printed for said in ("met one", "met two", "why"))


def test_only_neighbours_with_one_word_go_together():
    a, b, c, d = (
        python(name, "", together=word) for name, word in (("a", ""), ("b", "x"), ("c", "x"), ("d", ""))
    )
    assert check.groups([a, b, c, d]) == [[a], [b, c], [d]]
    assert check.groups([b, a, c]) == [[b], [a], [c]]


def test_the_checks_do_not_see_this_machines_settings(tmp_path, monkeypatch):
    monkeypatch.setenv("TALLYGROVE_PUBLIC_ADDRESS", "https://grove.example")
    monkeypatch.setenv("TALLYGROVE_TEST_DATABASE", "postgresql://x/y")
    environment = check.clean_environment(tmp_path)
    assert "TALLYGROVE_PUBLIC_ADDRESS" not in environment
    assert environment["TALLYGROVE_TEST_DATABASE"] == "postgresql://x/y"
    assert environment["TALLYGROVE_DATA_DIR"].startswith(str(tmp_path))


# --- deploy/demo ---------------------------------------------------------------------------


@pytest.fixture
def demo(tmp_path, monkeypatch):
    data = demo_data.DemoData(tmp_path / "var" / "demo")
    asked = []

    def manage(self, *arguments, shown=True):
        asked.append(arguments[0])
        return "\n".join(demo_data.COMMANDS)

    monkeypatch.setattr(demo_data.DemoData, "manage", manage)
    return data, asked


def test_a_demo_is_loaded_once_and_kept(demo):
    data, asked = demo
    data.set_up(fresh=False)
    (data.folder / "mine").touch()
    data.set_up(fresh=False)
    assert asked.count("load_demo") == 1
    assert (data.folder / "mine").exists()


def test_a_set_up_that_was_cut_short_is_begun_again(demo):
    data, asked = demo
    data.folder.mkdir(parents=True)
    (data.folder / "tallygrove.sqlite3").touch()
    data.set_up(fresh=False)
    assert not (data.folder / "tallygrove.sqlite3").exists()
    assert "load_demo" in asked


def test_fresh_throws_the_data_away_unless_it_is_being_served(demo):
    data, _ = demo
    data.set_up(fresh=False)
    (data.folder / "mine").touch()
    with demo_data.kept_open(data), pytest.raises(demo_data.CannotSetUp, match="Stop it first"):
        data.set_up(fresh=True)
    assert (data.folder / "mine").exists()
    data.set_up(fresh=True)
    assert not (data.folder / "mine").exists()


def test_a_demo_takes_none_of_this_machines_settings(demo, monkeypatch):
    monkeypatch.setenv("TALLYGROVE_DATABASE", "postgresql://real/service")
    environment = demo[0].environment()
    assert "TALLYGROVE_DATABASE" not in environment
    assert environment["TALLYGROVE_DEMO"] == "1"


# --- the walker ----------------------------------------------------------------------------


def test_the_reader_takes_what_a_person_sees():
    page = Page("http://127.0.0.1/", 200, {}, 0.0)
    read(
        page,
        '<script>no</script><p>61\u202f%  alive</p><a href="/a/">The <b>north</b> slope</a>'
        "<input type=hidden name=t value=1>",
    )
    assert page.text == "61 % alive The north slope"
    assert page.links == [("The north slope", "/a/")]
    assert page.hidden == {"t": "1"}


class FakeService(http.server.BaseHTTPRequestHandler):
    """Answers like the service: a home page with links, one of them broken."""

    pages = {
        "/": "/good/ /bad/ /x/1/ /x/2/ /x/3/ /x/4/",
        "/good/": "",
        "/x/1/": "",
        "/x/2/": "",
        "/x/3/": "",
        "/x/4/": "",
    }

    def do_GET(self):
        found = self.pages.get(self.path)
        self.send_response(404 if found is None else 200)
        self.send_header("Content-Type", "text/html")
        self.send_header("Content-Security-Policy", "default-src 'self'")
        self.end_headers()
        self.wfile.write("".join(f'<a href="{link}">{link}</a>' for link in (found or "").split()).encode())

    def log_message(self, *_):
        pass


@pytest.fixture
def service():
    server = http.server.ThreadingHTTPServer((ports.LOOPBACK, 0), FakeService)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"http://{ports.LOOPBACK}:{server.server_port}"
    server.shutdown()
    thread.join()
    server.server_close()


def test_the_walker_reports_a_broken_link_and_opens_a_few_of_each_kind(service):
    paths = {page.path: page.status for page in walk_demo.reachable(Visitor(service), "/")}
    assert paths["/bad/"] == 404
    assert paths["/good/"] == 200
    assert len([path for path in paths if path.startswith("/x/")]) == walk_demo.ALIKE


def test_the_walker_fails_where_a_figure_is_missing(service, capsys):
    found = tally.Tally()
    stop = walk_demo.Stop("manager", "/", ("good",), ("{survival}",))
    walk_demo.look(found, Visitor(service), stop, {"survival": "61 %"})
    assert (found.good, found.bad) == (1, 1)
    assert "FAIL  manager: / → good shows “61 %”" in capsys.readouterr().out


def test_the_walker_fails_where_a_link_is_missing(service, capsys):
    found = tally.Tally()
    walk_demo.look(found, Visitor(service), walk_demo.Stop("manager", "/", ("nowhere",)), {})
    assert found.bad == 1
    assert "no link “nowhere” on /" in capsys.readouterr().out


def test_waiting_for_a_page_ends_when_it_answers(service, tmp_path):
    log = tmp_path / "log"
    with running.running([sys.executable, "-c", "import time; time.sleep(60)"], log=log) as server:
        began = time.monotonic()
        running.wait_for_page(server, service + "/", log=log)
    assert time.monotonic() - began < 20
