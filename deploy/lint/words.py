"""Every word a person reads goes through gettext: `python -m deploy.lint.words [file ...]`.

Looks at the places where Django shows text: messages, validation errors, refusals, labels, help texts,
verbose names and choices. A literal there that is not wrapped, and a translation of an f-string (which
no catalogue can hold), are findings.
"""

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

from deploy.lint.findings import ROOT, Finding, project_files, report

GETTEXT = {
    "_",
    "gettext",
    "gettext_lazy",
    "gettext_noop",
    "ngettext",
    "ngettext_lazy",
    "pgettext",
    "pgettext_lazy",
}
# Function name -> which positional argument a person reads.
SPOKEN = {
    "ValidationError": 0,
    "Refusal": 0,
    "Http404": 0,
    "PermissionDenied": 0,
    "Fault": 1,
    "add_error": 1,
    "add_message": 2,
}
MESSAGES = {"debug", "info", "success", "warning", "error"}  # of django.contrib.messages
SPOKEN_KEYWORDS = {"label", "help_text", "verbose_name", "verbose_name_plural", "empty_label", "label_suffix"}
SPOKEN_IN_META = {"verbose_name", "verbose_name_plural"}
SPOKEN_DICTIONARIES = {"labels", "help_texts", "error_messages"}
CHOICES = {"TextChoices", "IntegerChoices", "Choices"}
NOT_SHOWN = ("tests", "deploy", "migrations", "commands")  # operators and machines read those


def lint(name: str, source: str) -> list[Finding]:
    """Return every unwrapped literal of one module.

    >>> [finding.message for finding in lint("a.py", 'messages.error(request, "Saved")')]
    ['“Saved” is shown to a person: wrap it in gettext']
    >>> lint("a.py", 'messages.error(request, _("Saved"))')
    []
    """
    tree = ast.parse(source)
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            found += [(literal, "is shown to a person: wrap it in gettext") for literal in spoken_by(node)]
            found += [
                (literal, "cannot be looked up: use a plain text with %(name)s") for literal in blurred(node)
            ]
        elif isinstance(node, ast.ClassDef):
            found += [(literal, "is shown to a person: wrap it in gettext") for literal in spoken_in(node)]
    return [Finding(name, node.lineno, f"“{shown(node)}” {why}") for node, why in found]


def spoken_by(call: ast.Call) -> Iterator[ast.expr]:
    """Yield the unwrapped literals among the arguments that a person reads."""
    name = called(call)
    position = SPOKEN.get(name)
    if name in MESSAGES and owner(call) == "messages":
        position = 1
    if position is not None and len(call.args) > position:
        yield from unwrapped(call.args[position])
    if name.endswith("Field") or name in {"ForeignKey", "ManyToManyField"}:
        if (
            call.args
            and owner(call) == "models"
            and name not in {"ForeignKey", "OneToOneField", "ManyToManyField"}
        ):
            yield from unwrapped(call.args[0])
        # A serializer's help text describes the API to a developer, in the one language of its document.
        for keyword in call.keywords if owner(call) != "serializers" else ():
            if keyword.arg in SPOKEN_KEYWORDS:
                yield from unwrapped(keyword.value)
            elif keyword.arg in SPOKEN_DICTIONARIES:
                yield from values(keyword.value)


def spoken_in(owner_class: ast.ClassDef) -> Iterator[ast.expr]:
    """Yield the unwrapped literals in a Meta class or a class of choices."""
    is_choices = any(last_name(base) in CHOICES for base in owner_class.bases)
    for statement in owner_class.body:
        if not (isinstance(statement, ast.Assign) and isinstance(statement.targets[0], ast.Name)):
            continue
        target, value = statement.targets[0].id, statement.value
        if is_choices and isinstance(value, ast.Tuple) and len(value.elts) == 2:
            yield from unwrapped(value.elts[1])
        elif owner_class.name == "Meta" and target in SPOKEN_IN_META:
            yield from unwrapped(value)
        elif owner_class.name == "Meta" and target in SPOKEN_DICTIONARIES:
            yield from values(value)


def values(node: ast.expr) -> Iterator[ast.expr]:
    """Yield the unwrapped values of a dictionary literal."""
    for value in node.values if isinstance(node, ast.Dict) else []:
        yield from unwrapped(value)


def unwrapped(node: ast.expr) -> Iterator[ast.expr]:
    """Yield the literal texts that an expression shows without gettext."""
    if isinstance(node, ast.Constant):
        if isinstance(node.value, str) and any(letter.isalpha() for letter in node.value):
            yield node
    elif isinstance(node, ast.JoinedStr):
        if any(list(unwrapped(part)) for part in node.values if isinstance(part, ast.Constant)):
            yield node
    elif isinstance(node, ast.BinOp):
        yield from unwrapped(node.left)
    elif isinstance(node, ast.IfExp):
        yield from unwrapped(node.body)
        yield from unwrapped(node.orelse)
    elif isinstance(node, ast.List | ast.Tuple | ast.Set):
        for part in node.elts:
            yield from unwrapped(part)
    elif isinstance(node, ast.Dict):
        yield from values(node)
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "format":
        yield from unwrapped(node.func.value)


def blurred(call: ast.Call) -> Iterator[ast.expr]:
    """Yield the arguments of gettext that no catalogue can hold: f-strings and texts already filled in."""
    if called(call) in GETTEXT and call.args and isinstance(call.func, ast.Name):
        text = call.args[0]
        if isinstance(text, ast.JoinedStr | ast.BinOp) or (
            isinstance(text, ast.Call) and called(text) == "format"
        ):
            yield text


def called(call: ast.Call) -> str:
    """Return the last name of what is called: `error` of `messages.error(...)`."""
    return last_name(call.func)


def owner(call: ast.Call) -> str:
    """Return the name before the dot: `messages` of `messages.error(...)`."""
    return last_name(call.func.value) if isinstance(call.func, ast.Attribute) else ""


def last_name(node: ast.expr) -> str:
    """Return the last identifier of a dotted name."""
    if isinstance(node, ast.Attribute):
        return node.attr
    return node.id if isinstance(node, ast.Name) else ""


def shown(node: ast.expr) -> str:
    """Return the beginning of an expression's text."""
    text = node.value if isinstance(node, ast.Constant) else ast.unparse(node)
    return str(text)[:60]


def modules() -> list[Path]:
    """Return the modules whose words reach a person."""
    paths = [path for path in project_files() if path.suffix == ".py"]
    return [path for path in paths if not set(path.relative_to(ROOT).parts) & set(NOT_SHOWN)]


def findings_in(paths: list[Path]) -> list[Finding]:
    """Return the findings of several modules."""
    found = []
    for path in paths:
        name = path.relative_to(ROOT).as_posix() if path.is_relative_to(ROOT) else str(path)
        found += lint(name, path.read_text(encoding="utf-8"))
    return found


def main() -> int:
    """Lint the named files, else every module of the apps."""
    return report(findings_in([Path(name).resolve() for name in sys.argv[1:]] or modules()))


if __name__ == "__main__":
    sys.exit(main())
