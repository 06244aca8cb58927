"""Modules stay small enough to read in one sitting and are named for what they hold."""

from tests.structure.source import APPS, modules, name_of

HARD_LIMIT, WISHED = 400, 250
SHAPELESS = {"utils", "util", "helpers", "helper", "misc", "common", "lib", "tools"}


def length(path):
    return len(path.read_text(encoding="utf-8").splitlines())


def test_no_module_is_longer_than_400_lines(capsys):
    lengths = {name_of(path): length(path) for path in modules(*APPS, "deploy")}
    long = {name: lines for name, lines in sorted(lengths.items()) if lines > WISHED}
    if long:
        with capsys.disabled():
            print(
                "\nOver 250 lines, look for a seam:",
                ", ".join(f"{name} {lines}" for name, lines in long.items()),
            )
    assert {name: lines for name, lines in long.items() if lines > HARD_LIMIT} == {}


def test_no_module_has_a_name_that_says_nothing():
    wrong = [
        name_of(path)
        for path in modules(*APPS, "deploy", "tests")
        if set(path.parts) & SHAPELESS or path.stem in SHAPELESS
    ]
    assert wrong == []
