"""The lock files install the same thing everywhere, from whatever index a machine uses."""

import re
import tomllib

import pytest

from deploy.lint import hosts
from tests.structure.source import ROOT

LOCKS = ("requirements.txt", "requirements-dev.txt")
PIN = re.compile(r"^([A-Za-z0-9_.-]+)(?:\[[\w,]+\])?==(\S+?)(?:\s*;\s*(.+?))?\s*\\?$")


def pins(name: str) -> dict[tuple[str, str], str]:
    """Return (package, condition) -> version."""
    lines = (ROOT / name).read_text().splitlines()
    matches = [PIN.match(line) for line in lines if line and not line.startswith((" ", "#"))]
    assert all(matches), "a line is not a pin"
    return {(match[1].lower(), match[3] or ""): match[2] for match in matches}


@pytest.mark.parametrize("name", LOCKS)
def test_a_lock_file_names_no_host(name):
    assert hosts.lint(name, (ROOT / name).read_text()) == []


@pytest.mark.parametrize("name", LOCKS)
def test_every_pin_has_hashes(name):
    blocks = re.split(r"\n(?=\S)", (ROOT / name).read_text().strip())
    assert blocks
    assert [block.splitlines()[0] for block in blocks if "--hash=sha256:" not in block] == []


def test_the_development_lock_holds_every_pin_of_the_runtime_lock():
    assert pins("requirements.txt").items() <= pins("requirements-dev.txt").items()


def test_every_dependency_we_ask_for_is_locked():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    wanted = {re.split(r"[\[<>=!~ ;]", line)[0].lower() for line in project["project"]["dependencies"]}
    assert wanted <= {package for package, _ in pins("requirements.txt")}
    wanted |= {re.split(r"[\[<>=!~ ;]", line)[0].lower() for line in project["dependency-groups"]["dev"]}
    assert wanted <= {package for package, _ in pins("requirements-dev.txt")}


def test_no_file_of_the_project_names_a_package_host_or_a_machine():
    assert hosts.main() == 0


@pytest.mark.parametrize(
    "line",
    [
        "--index-" + "url https://index.example/simple",
        "package @ file:///wheels/package.whl",
        "--find-" + "links wheels",
    ],
)
def test_the_lint_finds_an_address_in_a_lock_file(line):
    assert hosts.lint("requirements.txt", line)


@pytest.mark.parametrize(
    "text", ["see https://" + "py" + "pi.org/project/x", "/ro" + "ot/.cache/x", "/ho" + "me/ana/x"]
)
def test_the_lint_finds_hosts_and_machine_folders_anywhere(text):
    assert hosts.lint("README.md", text)
