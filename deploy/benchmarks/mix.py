"""How near to the best possible mix a search of realistic size comes: deploy/bench mix [--seconds 60]

40 made-up species in 4 stock types for 12 blocks: 1,920 numbers to choose, under rules as planners state them. Four
shapes of question, each from three seeds, searched as the product searches: the best so far kept slice by slice,
ended at a gap of 0.1 % or when the time is over. Fails when a shape of the first kind misses the gap.
"""

import argparse
import datetime
import os
import platform
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from projects.calc.mix import LEAST_COST, MOST_WORTH, OPTIMAL, Mix, broken_rules, mixes_so_far
from projects.calc.mix_rules import Ground, MixRules, Option

N_SPECIES, N_BLOCKS = 40, 12
STOCK = ("bare_root", "container", "balled_burlapped", "cutting")
PRICES = (0.6, 1.1, 60.0, 0.3)
SURVIVAL = (0.72, 0.82, 0.85, 0.6)
GAP = 0.001
RESULT = Path(__file__).parent / "results" / "mix-40x4x12.txt"
Question = tuple[list[Option], list[Ground], MixRules, str]


def main() -> int:
    """Search every shape from every seed, print, store, judge."""
    parser = argparse.ArgumentParser("deploy/bench mix", description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0, help="time limit of each search")
    parser.add_argument("--seeds", type=int, default=3)
    options = parser.parse_args()
    lines = [
        f"{datetime.datetime.now(datetime.UTC):%Y-%m-%d}, {platform.machine()}, {os.cpu_count()} processors, load"
        f" {os.getloadavg()[0]:.1f}; at most {options.seconds:g} s each, to a gap of {GAP:.1%}",
        f"{'shape':44}{'seed':>5}{'seconds':>9}{'gap':>9}{'living':>9}{'cost':>10}",
    ]
    print("\n".join(lines), flush=True)
    missed = 0
    for name, shape in SHAPES.items():
        for seed in range(options.seeds):
            question = shape(np.random.default_rng(seed))
            best, seconds = searched(question, options.seconds)
            missed += name == PLAIN and best.status != OPTIMAL
            lines.append(f"{name:44}{seed:5}{seconds:9.1f}{best.gap:9.3%}{best.living:9.0f}{best.cost:10.0f}")
            print(lines[-1], flush=True)
    lines.append(f"{PLAIN}: {'kept' if not missed else f'missed {missed} times'}.")
    print(lines[-1])
    RESULT.write_text("\n".join(lines) + "\n")
    return 1 if missed else 0


def searched(question: Question, seconds: float) -> tuple[Mix, float]:
    """The last mix of a search and how long it took; a mix that breaks a rule is a fault of ours."""
    options, grounds, rules, aim = question
    began = time.monotonic()
    *_earlier, best = mixes_so_far(
        options, grounds, rules, aim=aim, gap=GAP, time_limit_s=seconds, clock=time.monotonic
    )
    took = time.monotonic() - began
    if any(best.quantities):
        assert not broken_rules(best.quantities, options, grounds, rules)
    return best, took


def options_of(rng: np.random.Generator, *, two_waves: bool = False) -> list[Option]:
    """40 species in 15 genera of 8 families; each grows better on some blocks, and each stock has its price.

    With two waves a quarter of the species bear shade and go in with the second; nitrogen fixers are nurses.
    """
    genus, worth = rng.integers(0, 15, N_SPECIES), rng.uniform(0.3, 1, N_SPECIES)
    fixes, shade = rng.random(N_SPECIES) < 0.15, rng.random(N_SPECIES) < 0.25
    found = []
    for species in range(N_SPECIES):
        for block in range(N_BLOCKS):
            for stock, price, survival in zip(STOCK, PRICES, SURVIVAL, strict=True):
                found.append(
                    Option(
                        f"block {block}", f"species {species}", stock, f"genus {genus[species]}",
                        f"family {genus[species] % 8}", float(np.clip(survival + rng.normal(0, 0.08), 0.05, 0.98)),
                        price * float(rng.uniform(0.8, 1.3)), float(worth[species]),
                        fixes_nitrogen=bool(fixes[species]), is_nurse=bool(fixes[species]),
                        wave=2 if two_waves and shade[species] else 1,
                    )
                )  # fmt: skip
    return found


def grounds_of(rng: np.random.Generator) -> list[Ground]:
    """Blocks of 800 to 4,000 spots, each with five species at least."""
    return [
        Ground(f"block {n}", int(spots), 0.95, least_species=5)
        for n, spots in enumerate(rng.integers(800, 4000, N_BLOCKS))
    ]


MIXTURE = {
    "most_of_species": 0.3,
    "most_of_genus": 0.4,
    "least_of_nitrogen_fixers": 0.1,
    "least_when_used": 0.05,
}


def plain(rng: np.random.Generator) -> Question:
    """Rules of mixture and a budget that binds."""
    grounds = grounds_of(rng)
    budget = 1.1 * sum(ground.spots for ground in grounds)
    return options_of(rng), grounds, MixRules(**MIXTURE, budget=budget), MOST_WORTH


def from_nurseries(rng: np.random.Generator) -> Question:
    """The same with stock on offer and fewest sold of every kind."""
    options, grounds, rules, aim = plain(rng)
    kinds = sorted({(each.species, each.stock_type) for each in options})
    offer = {kind: int(rng.integers(500, 9000)) for kind in kinds}
    return options, grounds, replace(rules, on_offer=offer, lot_size=dict.fromkeys(kinds, 100)), aim


def in_two_waves(rng: np.random.Generator) -> Question:
    """The same, shade-bearers in a second wave where nurse trees take a fifth of the first."""
    options, grounds = options_of(rng, two_waves=True), grounds_of(rng)
    budget = 1.1 * sum(ground.spots for ground in grounds)
    rules = MixRules(**MIXTURE, budget=budget, least_of_nurses=0.2, most_in_second_wave=0.3)
    return options, grounds, rules, MOST_WORTH


def for_least_money(rng: np.random.Generator) -> Question:
    """The living trees wanted, two thirds of the spots, for the least money."""
    options, grounds, rules, _aim = plain(rng)
    wanted = round(sum(ground.spots for ground in grounds) * 2 / 3)
    return options, grounds, replace(rules, budget=None, living_wanted=wanted), LEAST_COST


PLAIN = "rules of mixture and a budget"
SHAPES = {
    PLAIN: plain,
    "with stock on offer and fewest sold": from_nurseries,
    "in two waves under nurse trees": in_two_waves,
    "least money for the trees wanted": for_least_money,
}

if __name__ == "__main__":
    sys.exit(main())
