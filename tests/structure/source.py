"""What the structure tests read: our modules and what each of them imports."""

import ast
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
APPS = ("species", "projects", "monitoring", "api")  # each may import only those before it, and itself


def modules(*folders: str) -> list[Path]:
    """Return our Python files under the folders, without migrations."""
    found = [path for folder in folders for path in (ROOT / folder).rglob("*.py")]
    return sorted(path for path in found if "migrations" not in path.parts)


def name_of(path: Path) -> str:
    """Return a file's path in the checkout."""
    return path.relative_to(ROOT).as_posix()


def imports(path: Path) -> Iterator[str]:
    """Yield the dotted name of every import of a file, those inside functions included."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            if node.level:
                package = name_of(path).removesuffix(".py").split("/")[: -node.level]
                yield ".".join([*package, node.module or ""]).strip(".")
            else:
                yield node.module or ""


def first(name: str) -> str:
    """Return the package an import comes from."""
    return name.split(".")[0]
