"""Which app may know of which, and what the packages that only compute may use."""

import ast
import sys

import pytest

from tests.structure.source import APPS, ROOT, first, imports, modules, name_of

COMPUTING = ("species/calc", "projects/calc", "monitoring/calc", "monitoring/estimators")
COMPUTING_MAY_USE = {"numpy", "scipy", *sys.stdlib_module_names}
GEOMETRY = {"projects/calc/geometry.py", "projects/calc/local_plane.py"}
IMPURE = {"os", "socket", "subprocess", "random", "time", "urllib", "sqlite3", "threading"}


@pytest.mark.parametrize("app", APPS)
def test_an_app_imports_no_app_above_it_and_not_deploy(app):
    above = {*APPS[APPS.index(app) + 1 :], "deploy", "tests"}
    wrong = [
        f"{name_of(path)} imports {name}"
        for path in modules(app)
        for name in imports(path)
        if first(name) in above
    ]
    assert wrong == []


def test_every_top_level_package_has_its_place_in_the_arrows():
    packages = {path.parent.name for path in ROOT.glob("*/__init__.py")}
    assert packages == {*APPS, "deploy", "tests"}


def test_computing_packages_import_only_numbers_and_themselves():
    wrong = []
    for path in modules(*COMPUTING):
        may = COMPUTING_MAY_USE | ({"shapely", "pyproj"} if name_of(path) in GEOMETRY else set())
        for name in imports(path):
            own = name.replace(".", "/").startswith(COMPUTING)
            if first(name) not in may and not own:
                wrong.append(f"{name_of(path)} imports {name}")
    assert wrong == []


def test_computing_packages_ask_neither_the_clock_nor_the_machine():
    wrong = [
        f"{name_of(p)} imports {name}"
        for p in modules(*COMPUTING)
        for name in imports(p)
        if first(name) in IMPURE
    ]
    asking = ("date.today(", "datetime.now(", "time.time(", "open(", "print(")
    for path in modules(*COMPUTING):
        code = without_docstrings(path.read_text())
        wrong += [f"{name_of(path)} calls {call})" for call in asking if call in code]
    assert wrong == []


def without_docstrings(source: str) -> str:
    """Return a module's code without comments and docstrings, as Python would print it."""
    tree = ast.parse(source)
    for node in ast.walk(tree):
        if (
            isinstance(node, ast.Module | ast.FunctionDef | ast.ClassDef)
            and ast.get_docstring(node) is not None
        ):
            node.body[0].value.value = ""
    return ast.unparse(tree)


def test_services_tasks_and_commands_do_not_import_views():
    rooms = {"services", "selectors", "models", "tasks", "management", "access", "calc", "estimators"}
    wrong = []
    for path in modules(*APPS):
        room = path.relative_to(ROOT).parts[1].removesuffix(".py")
        if room in rooms:
            wrong += [f"{name_of(path)} imports {name}" for name in imports(path) if ".views" in name]
    assert wrong == []


def test_the_phone_and_the_pages_share_services_because_the_api_owns_no_tables():
    assert not list((ROOT / "api").glob("models*"))
    assert not list((ROOT / "api").glob("migrations*"))
