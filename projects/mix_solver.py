"""A mix searched for in a process of its own, so that whoever waits for it can stop it.

    python -m projects.mix_solver < question.json

It ends when whoever began it is gone, however that one ended: nobody would read the answer.
"""

import json
import os
import sys
import threading
import time

from projects.calc.mix_process import answer

LOOK_EVERY_SECONDS = 1.0


def end_with(parent: int) -> None:
    """End this process once its parent is another than it was."""
    while os.getppid() == parent:
        time.sleep(LOOK_EVERY_SECONDS)
    os._exit(1)


if __name__ == "__main__":
    threading.Thread(target=end_with, args=(os.getppid(),), daemon=True).start()
    answer(json.load(sys.stdin), sys.stdout, clock=time.monotonic)
