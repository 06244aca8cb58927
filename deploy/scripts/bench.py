"""deploy/bench NAME: run one of the long measurements that the tests leave out."""

import runpy
import sys
from pathlib import Path

FOLDER = Path(__file__).resolve().parent.parent / "benchmarks"


def main() -> int:
    """Run deploy/benchmarks/NAME.py as a program, or list the names there are."""
    names = sorted(path.stem for path in FOLDER.glob("*.py") if not path.stem.startswith("_"))
    if len(sys.argv) < 2 or sys.argv[1] not in names:
        print(
            f"Usage: deploy/bench NAME [arguments]\nNames: {', '.join(names) or 'none yet'}", file=sys.stderr
        )
        return 2
    name = sys.argv.pop(1)
    runpy.run_module(f"deploy.benchmarks.{name}", run_name="__main__", alter_sys=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
