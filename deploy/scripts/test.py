"""deploy/test: provide what the tests need, start private servers, run deploy/check on them."""

import os
import sys
import time
from collections.abc import Callable
from contextlib import AbstractContextManager, ExitStack

from deploy.scripts import check, services
from deploy.scripts.programs import CHROMIUM, NODE, POSTGRESQL, REDIS, Program, provide
from deploy.scripts.running import leave_on_signals


def main() -> int:
    """Run everything; what was started is stopped whatever happens."""
    leave_on_signals()
    began = time.monotonic()
    options = check.read_options("deploy/test", sys.argv[1:])
    provide([POSTGRESQL, REDIS, CHROMIUM, NODE])
    with ExitStack() as stack:
        lend(stack, "TALLYGROVE_TEST_DATABASE", POSTGRESQL, services.postgresql)
        lend(stack, "TALLYGROVE_TEST_BROKER", REDIS, services.redis)
        failed = check.run(options)
    print(f"deploy/test took {time.monotonic() - began:.0f} s", flush=True)
    return failed


def lend(
    stack: ExitStack, variable: str, program: Program, start: Callable[[], AbstractContextManager[str]]
) -> None:
    """Start a private server unless an address is given or the program is missing."""
    if os.environ.get(variable):
        print(f"Using {variable}={os.environ[variable]}", flush=True)
    elif program.find():
        os.environ[variable] = stack.enter_context(start())
        print(f"Private {program.name} at {os.environ[variable]}", flush=True)


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit(130)
