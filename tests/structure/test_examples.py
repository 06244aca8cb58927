"""The examples in the docstrings of every computing room are true."""

import doctest
import importlib
import pkgutil

import pytest

import monitoring.calc
import projects.calc
import species.calc

MODULES = [
    f"{room.__name__}.{module.name}"
    for room in (species.calc, projects.calc, monitoring.calc)
    for module in pkgutil.iter_modules(room.__path__)
]


@pytest.mark.parametrize("name", MODULES)
def test_examples_are_true(name):
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_the_rooms_hold_examples():
    found = sum(
        bool(test.examples)
        for name in MODULES
        for test in doctest.DocTestFinder().find(importlib.import_module(name))
    )
    assert found > 40
