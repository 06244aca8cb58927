"""The solver's process: it answers on its lines, minds the time, and ends with whoever began it."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

from projects.calc.mix import LEAST_COST, MOST_WORTH, Mix
from projects.calc.mix_process import mix_of, question
from projects.calc.mix_rules import Ground, MixRules, Option

ROOT = Path(__file__).resolve().parents[2]
OAK = Option("A", "oak", "bare_root", "oak", "oak", survival=0.8, price=2.0)
ASKED = question([OAK], [Ground("A", 50)], MixRules(), time_limit_s=5.0)


def test_the_process_answers_from_any_folder_that_is_named_to_it():
    done = subprocess.run(
        [sys.executable, "-m", "projects.mix_solver"], input=json.dumps(ASKED), cwd=ROOT, env={},
        capture_output=True, text=True, check=True, timeout=60,
    )  # fmt: skip
    last = mix_of(done.stdout.splitlines()[-1])
    assert (last.quantities, last.status) == ((50,), "optimal")


def test_the_process_ends_when_whoever_began_it_is_killed():
    begin = (
        "import subprocess, sys, time\n"
        "child = subprocess.Popen([sys.executable, '-m', 'projects.mix_solver'], stdin=subprocess.PIPE)\n"
        "print(child.pid, flush=True); time.sleep(1); print('begun', flush=True); time.sleep(60)\n"
    )
    parent = subprocess.Popen([sys.executable, "-c", begin], cwd=ROOT, stdout=subprocess.PIPE, text=True)
    keeper = int(parent.stdout.readline())
    parent.stdout.readline()
    parent.send_signal(signal.SIGKILL)
    parent.wait()
    parent.stdout.close()
    until = time.monotonic() + 20
    while is_alive(keeper):
        assert time.monotonic() < until, "the solver outlived whoever began it"
        time.sleep(0.1)


def is_alive(pid: int) -> bool:
    """Whether a process is there and no mere entry that waits to be read."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    stat = Path(f"/proc/{pid}/stat")
    return not stat.exists() or stat.read_text().rpartition(")")[2].split()[0] != "Z"


def test_without_a_bound_nothing_is_said_to_be_near_the_best():
    for aim, bound in ((MOST_WORTH, float("inf")), (LEAST_COST, float("-inf"))):
        mix = Mix((1,), "best_so_far", worth=1.0, cost=1.0, bound=bound, aim=aim)
        assert mix.gap == 1.0
        json.dumps({"gap": mix.gap}, allow_nan=False)  # PostgreSQL keeps no NaN in a job's result
