"""What a lint of ours found, and which files of the checkout it looks at."""

import subprocess
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
LEFT_OUT = {"__pycache__", "node_modules", "var"}


@dataclass(frozen=True, order=True)
class Finding:
    """One broken rule at one line of one file."""

    path: str
    line: int
    message: str

    def __str__(self) -> str:
        return f"{self.path}:{self.line}: {self.message}"


def project_files() -> list[Path]:
    """Return the files that belong to the project, new ones included; works in a tree without git too."""
    git = ["git", "-C", str(ROOT), "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    try:
        answer = subprocess.run(git, capture_output=True, check=True)  # noqa: S603  (our own arguments)
    except (OSError, subprocess.CalledProcessError):
        return sorted(path for path in ROOT.rglob("*") if path.is_file() and is_ours(path))
    names = {name for name in answer.stdout.decode().split("\0") if name}
    return sorted(path for path in (ROOT / name for name in names) if path.is_file())


def is_ours(path: Path) -> bool:
    """Say whether a file of a tree without git is neither hidden nor left by a tool."""
    return not any(part in LEFT_OUT or part.startswith(".") for part in path.relative_to(ROOT).parts)


def report(findings: list[Finding]) -> int:
    """Print the findings; return the exit code."""
    for finding in sorted(findings):
        print(finding)
    return 1 if findings else 0
