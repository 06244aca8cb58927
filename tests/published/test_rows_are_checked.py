"""No row or case of planning goes unchecked, and each check says where its figure is from."""

import importlib
import inspect
import json
import pkgutil
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

import tests.published
from tests.published.rows import ROWS, SAID, checks

DATA = Path(__file__).parent / "data"


def modules() -> list[ModuleType]:
    names = [module.name for module in pkgutil.iter_modules(tests.published.__path__)]
    return [importlib.import_module(f"tests.published.{name}") for name in names if name.startswith("test_")]


def marked() -> dict[str, list[Callable[..., None]]]:
    """Tests by the row they check; only what pytest would run."""
    found: dict[str, list[Callable[..., None]]] = {}
    for module in modules():
        for name, thing in vars(module).items():
            if name.startswith("test_") and getattr(thing, "__module__", "") == module.__name__:
                for row in getattr(thing, "checks", ()):
                    found.setdefault(row, []).append(thing)
    return found


MARKED = marked()
PRINTED = {
    case["id"]: case["source"]
    for name in ("climate_checks", "mix_checks")
    for case in json.loads((DATA / f"{name}.json").read_text("utf-8"))["cases"]
}


@pytest.mark.parametrize("row", ROWS)
def test_a_row_has_its_check_with_the_source_beside_it(row):
    known, word = ROWS[row]
    assert row in MARKED, f"no test is marked with {row}"
    beside = " ".join(inspect.getsource(test) for test in MARKED[row]) + PRINTED.get(row, "")
    beside = " ".join(beside.split())
    assert word.lower() in beside.lower()
    assert not SAID[known] or any(words in beside.lower() for words in SAID[known])


@pytest.mark.parametrize("row", MARKED)
def test_a_check_is_not_passed_over(row):
    for test in MARKED[row]:
        marks = {mark.name for mark in getattr(test, "pytestmark", [])}
        assert not marks & {"skip", "skipif", "xfail"}


def test_cases_kept_as_data_are_all_asked_for():
    assert {name for name in ROWS if name[:3] in ("10-", "12-")} == set(PRINTED)


def test_a_row_that_is_not_listed_cannot_be_claimed():
    with pytest.raises(KeyError):
        checks("D99")
