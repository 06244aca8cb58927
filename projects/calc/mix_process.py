"""What a process that searches for a mix is asked and answers: JSON in, a line of JSON out for each mix so far."""

import json
from collections.abc import Callable, Sequence
from dataclasses import asdict
from typing import Any, TextIO

from projects.calc.mix import MOST_WORTH, Mix, mixes_so_far
from projects.calc.mix_program import no_clock
from projects.calc.mix_rules import Ground, MixRules, Option, Rule

BY_LOT = ("on_offer", "lot_size", "multiple_of")


def question(
    options: Sequence[Option],
    grounds: Sequence[Ground],
    rules: MixRules,
    *,
    aim: str = MOST_WORTH,
    gap: float = 0.001,
    time_limit_s: float = 60.0,
) -> dict[str, Any]:
    """What the process is asked, as JSON can hold it."""
    plain = asdict(rules)
    for name in BY_LOT:
        plain[name] = [[*lot, number] for lot, number in plain[name].items()]
    return {
        "options": [asdict(option) for option in options],
        "grounds": [asdict(ground) for ground in grounds],
        "rules": plain, "aim": aim, "gap": gap, "time_limit_s": time_limit_s,
    }  # fmt: skip


def answer(question: dict[str, Any], out: TextIO, clock: Callable[[], float] = no_clock) -> None:
    """Search and write each mix so far on a line."""
    rules = dict(question["rules"])
    for name in BY_LOT:
        rules[name] = {(species, stock): number for species, stock, number in rules[name]}
    found = mixes_so_far(
        [Option(**option) for option in question["options"]],
        [Ground(**ground) for ground in question["grounds"]],
        MixRules(**rules),
        aim=question["aim"], gap=question["gap"], time_limit_s=question["time_limit_s"], clock=clock,
    )  # fmt: skip
    for mix in found:
        out.write(json.dumps({**asdict(mix), "gap": mix.gap, "bound": _finite(mix.bound)}) + "\n")
        out.flush()


def _finite(number: float) -> float | None:
    return number if abs(number) < float("inf") else None


def mix_of(line: str) -> Mix:
    """Read one line of the answer.

    >>> mix_of('{"quantities": [3], "status": "optimal", "bound": null, "gap": 0, "give_up": []}').quantities
    (3,)
    """
    told = json.loads(line)
    told.pop("gap")
    told["bound"] = float("inf") if told["bound"] is None else told["bound"]
    told["quantities"] = tuple(told["quantities"])
    told["ways_out"] = tuple(told.get("ways_out", ()))
    told["give_up"] = tuple(Rule(rule["kind"], tuple(rule["about"])) for rule in told["give_up"])
    return Mix(**told)
