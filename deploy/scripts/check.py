"""deploy/check: run the steps one after the other, say what each took, stop at the first that fails."""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from deploy.scripts.programs import CHROMIUM, NODE
from deploy.scripts.running import leave_on_signals
from deploy.scripts.steps import FAST, KINDS, Means, Step, all_steps

NO_TESTS = 5  # pytest's exit code when nothing was selected
PATIENCE_S = 900
KEPT = ("TALLYGROVE_TEST_", "TALLYGROVE_VENV", "TALLYGROVE_PYTHON", "TALLYGROVE_CHROMIUM")


@dataclass(frozen=True)
class Result:
    """What became of a step: ok, FAILED or skipped."""

    step: Step
    state: str
    seconds: float = 0.0

    def __str__(self) -> str:
        reason = f" ({self.step.lacks})" if self.state == "skipped" else ""
        return f"{self.state:8}{self.seconds:6.1f} s  {self.step.name}{reason}"


def main() -> int:
    """Read the options and run."""
    leave_on_signals()
    return run(read_options("deploy/check", sys.argv[1:]))


def read_options(program: str, arguments: list[str]) -> argparse.Namespace:
    """Return the options; whatever is not one of ours goes to pytest."""
    parser = argparse.ArgumentParser(
        program, description="Format, lint, types, settings and tests, stopping at the first failure.",
        epilog="Other arguments go to pytest; then only the steps that run pytest are run.",
    )  # fmt: skip
    parser.add_argument(
        "--only", choices=KINDS, action="append", help="run only steps of this kind (repeatable)"
    )
    parser.add_argument("--fast", action="store_true", help=f"only {', '.join(FAST)}")
    parser.add_argument("--keep-going", action="store_true", help="run the later steps after a failure too")
    options, for_pytest = parser.parse_known_args(arguments)
    options.pytest = for_pytest
    return options


def run(options: argparse.Namespace) -> int:
    """Run the chosen steps and print the summary; return 0 only when none failed."""
    with tempfile.TemporaryDirectory(prefix="tallygrove-check-") as name:
        scratch = Path(name)
        environment = clean_environment(scratch)
        results = []
        for step in chosen(options, all_steps(means(scratch, options), options.pytest)):
            results.append(take(step, environment, may_be_empty=bool(options.pytest)))
            print(results[-1], flush=True)
            if results[-1].state == "FAILED" and not options.keep_going:
                break
    return summary(results)


def means(scratch: Path, options: argparse.Namespace) -> Means:
    """Return what this run has at hand."""
    database, broker = (os.environ.get(f"TALLYGROVE_TEST_{name}", "") for name in ("DATABASE", "BROKER"))
    return Means(scratch, database, broker, NODE.find(), CHROMIUM.find(), "postgres" in kinds_of(options))


def kinds_of(options: argparse.Namespace) -> set[str]:
    """Return the kinds of step that the options ask for."""
    return set(options.only or (FAST if options.fast else KINDS))


def chosen(options: argparse.Namespace, steps: list[Step]) -> list[Step]:
    """Return the steps that the options ask for."""
    kinds = kinds_of(options)
    return [
        step for step in steps if step.kind in kinds and not (options.pytest and "pytest" not in step.command)
    ]


def clean_environment(scratch: Path) -> dict[str, str]:
    """Return the environment without this machine's own settings of ours; data goes to a scratch folder.

    Compiled files are kept: a run starts some fifty Pythons over the same sources, each of which would compile
    them again, and every assertion with them.
    """
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith("TALLYGROVE_") or name.startswith(KEPT)
    }
    kept.pop("PYTHONDONTWRITEBYTECODE", None)
    data = scratch / "data"
    data.mkdir()
    environment = {**kept, "TALLYGROVE_DATA_DIR": str(data), "TALLYGROVE_LOG_LEVEL": "WARNING"}
    return environment | ({} if os.access(".", os.W_OK) else caches_in(scratch))


def caches_in(scratch: Path) -> dict[str, str]:
    """Return where the tools keep their caches when the checkout belongs to somebody else."""
    return {
        "RUFF_CACHE_DIR": str(scratch / "ruff"),
        "MYPY_CACHE_DIR": str(scratch / "mypy"),
        "PYTHONPYCACHEPREFIX": str(scratch / "compiled"),
        "PYTEST_ADDOPTS": f"-o cache_dir={scratch / 'pytest'}",
    }


def take(step: Step, environment: dict[str, str], *, may_be_empty: bool) -> Result:
    """Run one step."""
    if step.lacks:
        return Result(step, "skipped")
    print(f"--- {step.name}", flush=True)
    began = time.monotonic()
    code = execute(step, {**environment, **step.env})
    passed = code == 0 or (code == NO_TESTS and may_be_empty)
    return Result(step, "ok" if passed else "FAILED", time.monotonic() - began)


def execute(step: Step, environment: dict[str, str]) -> int:
    """Return the exit code; a quiet step's output is shown only when it fails."""
    process = subprocess.Popen(
        step.command, env=environment, text=True, stdin=subprocess.DEVNULL,
        stdout=None if step.shown else subprocess.PIPE, stderr=None if step.shown else subprocess.STDOUT,
    )  # fmt: skip
    try:
        output, _ = process.communicate(timeout=PATIENCE_S)
    except BaseException as reason:
        process.terminate()
        process.wait()
        if isinstance(reason, subprocess.TimeoutExpired):
            print(f"gave up after {PATIENCE_S} s", flush=True)
            return 124
        raise
    if process.returncode and output:
        print(output, flush=True)
    return process.returncode


def summary(results: list[Result]) -> int:
    """Print one line per step and the outcome."""
    print("\n" + "=" * min(80, shutil.get_terminal_size().columns))
    for result in results:
        print(result)
    failed = [result.step.name for result in results if result.state == "FAILED"]
    print(f"FAILED: {', '.join(failed)}" if failed else "All steps passed.", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit(130)
