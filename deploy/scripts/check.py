"""deploy/check: run the steps one after the other, say what each took, stop at the first that fails."""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import IO

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
        results: list[Result] = []
        for steps in groups(chosen(options, all_steps(means(scratch, options), options.pytest))):
            latest = take(steps, environment, scratch, may_be_empty=bool(options.pytest))
            print(*latest, sep="\n", flush=True)
            results += latest
            if any(result.state == "FAILED" for result in latest) and not options.keep_going:
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


def groups(steps: list[Step]) -> list[list[Step]]:
    """Return the steps in order, those that go together in one list."""
    found: list[list[Step]] = []
    for step in steps:
        if found and step.together and found[-1][-1].together == step.together:
            found[-1].append(step)
        else:
            found.append([step])
    return found


def take(
    steps: list[Step], environment: dict[str, str], scratch: Path, *, may_be_empty: bool
) -> list[Result]:
    """Run steps at the same time; of several only the first is shown as it goes, the others when they end."""
    wanted = [step for step in steps if not step.lacks]
    codes = execute(wanted, environment, scratch) if wanted else {}
    return [result_of(step, codes.get(step.name), may_be_empty) for step in steps]


def result_of(step: Step, ended: tuple[int, float] | None, may_be_empty: bool) -> Result:
    """Return what became of a step from its exit code and the seconds it took."""
    if ended is None:
        return Result(step, "skipped")
    code, seconds = ended
    passed = code == 0 or (code == NO_TESTS and may_be_empty)
    return Result(step, "ok" if passed else "FAILED", seconds)


def execute(steps: list[Step], environment: dict[str, str], scratch: Path) -> dict[str, tuple[int, float]]:
    """Return {step: (exit code, seconds)}; what is not shown as it goes is shown when a step fails."""
    began, ended = time.monotonic(), {}
    with ExitStack() as stack:
        outputs = {step.name: output_of(step, step is steps[0], scratch, stack) for step in steps}
        processes = {step.name: start(step, environment, outputs[step.name], stack) for step in steps}
        for step in reversed(steps):  # the first is the longest
            code = waited_for(processes[step.name], began)
            ended[step.name] = (code, time.monotonic() - began)
            output = outputs[step.name]
            if output is not None and (code or step.shown):
                output.seek(0)
                print(f"--- {step.name}\n{output.read()}", flush=True)
    return ended


def output_of(step: Step, is_first: bool, scratch: Path, stack: ExitStack) -> IO[str] | None:
    """Return a file for what a step prints, or None where it is shown as it comes."""
    print(f"--- {step.name}", flush=True)
    if step.shown and is_first:
        return None
    return stack.enter_context(tempfile.TemporaryFile("w+", dir=scratch))


def start(
    step: Step, environment: dict[str, str], output: IO[str] | None, stack: ExitStack
) -> subprocess.Popen[str]:
    """Start a step's command; whatever happens, it does not outlive this run."""
    process = subprocess.Popen(
        step.command, env={**environment, **step.env}, text=True, stdin=subprocess.DEVNULL,
        stdout=output, stderr=subprocess.STDOUT if output else None,
    )  # fmt: skip
    stack.callback(ended_by_us, process)
    return process


def ended_by_us(process: subprocess.Popen[str]) -> None:
    """End a process that still runs."""
    if process.poll() is None:
        process.terminate()
        process.wait()


def waited_for(process: subprocess.Popen[str], began: float) -> int:
    """Return a process's exit code, or 124 when it takes too long."""
    try:
        return process.wait(timeout=max(0.0, began + PATIENCE_S - time.monotonic()))
    except subprocess.TimeoutExpired:
        print(f"gave up after {PATIENCE_S} s", flush=True)
        return 124


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
