"""The examples in the docstrings of the estimators are true, and the package stays pure."""

import ast
import doctest
import importlib
import pkgutil
import sys
from pathlib import Path

import pytest

import monitoring.estimators

MODULES = [
    f"monitoring.estimators.{module.name}" for module in pkgutil.iter_modules(monitoring.estimators.__path__)
]


@pytest.mark.parametrize("name", MODULES)
def test_examples_in_docstrings_are_true(name):
    assert doctest.testmod(importlib.import_module(name)).failed == 0


@pytest.mark.parametrize("name", MODULES)
def test_estimators_import_only_numpy_scipy_and_the_standard_library(name):
    path = Path(importlib.import_module(name).__file__)
    allowed = {"numpy", "scipy", "monitoring", "projects"} | set(sys.stdlib_module_names)
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
        names += [node.module] if isinstance(node, ast.ImportFrom) else []
        assert {name.split(".")[0] for name in names} <= allowed
        own = [name for name in names if name.startswith(("monitoring", "projects"))]
        assert all(name.startswith(("monitoring.estimators", "projects.calc")) for name in own)  # pure, both
