"""No package host, no index setting and no path of one machine in any file: `python -m deploy.lint.hosts`.

The lock files must install from whatever index a machine is set up with, so they name none.
"""

import re
import sys
from pathlib import Path

from deploy.lint.findings import ROOT, Finding, project_files, report

# Written with brackets so that this file does not hold what it looks for.
PACKAGE_HOST = re.compile(
    r"\b(?:[\w-]+\.)*(?:py[p]i|pyth[o]nhosted|npm[j]s|yarn[p]kg|crates[.]io|goprox[y])\.(?:org|com|dev|io)\b",
    re.IGNORECASE,
)
INDEX_SETTING = re.compile(
    r"(?:--(?:extra-)?index[-_]url|--find-[l]inks|--trusted-h[o]st|^\s*(?:index-url|find-links|registry)\s*=)",
    re.IGNORECASE,
)
MACHINE_PATH = re.compile(r"(?<![\w./~-])/(?:w[o]rk|r[o]ot|h[o]me/\w+|Us[e]rs/\w+)/")
ADDRESS = re.compile(r"(?:https?|file|git)(?:\+\w+)?://", re.IGNORECASE)
RULES = (
    (PACKAGE_HOST, "names a package host"),
    (INDEX_SETTING, "sets a package index"),
    (MACHINE_PATH, "names a folder of one machine"),
)
LOCKS = ("requirements.txt", "requirements-dev.txt")
BINARY = {".png", ".woff2", ".ico", ".webp", ".jpg", ".jpeg", ".xlsx", ".mo", ".gz", ".pdf"}


def lint(name: str, text: str) -> list[Finding]:
    """Return every line of one file that names a host, an index or a machine's folder.

    >>> [finding.message for finding in lint("requirements.txt", "example @ https://example.org/a.whl")]
    ['a lock file names an address']
    >>> lint("README.md", "See https://example.org/")
    []
    """
    rules = (*RULES, (ADDRESS, "a lock file names an address")) if name in LOCKS else RULES
    return [
        Finding(name, number, message)
        for number, line in enumerate(text.splitlines(), 1)
        for rule, message in rules
        if rule.search(line)
    ]


def text_of(path: Path) -> str | None:
    """Return a file's text, or None for a binary file."""
    if path.suffix in BINARY:
        return None
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return None


def main() -> int:
    """Lint every file of the project."""
    findings = []
    for path in project_files():
        text = text_of(path)
        if text is not None:
            findings += lint(path.relative_to(ROOT).as_posix(), text)
    return report(findings)


if __name__ == "__main__":
    sys.exit(main())
