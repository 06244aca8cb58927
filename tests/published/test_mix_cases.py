"""Integer programs enumerated outside this project, put to the mix as plants, lots and blocks.

The mix asks for the most living trees within a budget, the cases for the least cost: so the least cost is the
smallest budget that still has a mix. Prices are multiplied to whole numbers.
"""

import itertools
import json
from pathlib import Path

import pytest

from projects.calc.mix import INFEASIBLE, OPTIMAL, best_mix, broken_rules
from projects.calc.mix_rules import BUDGET, LEAST_PLANTED, Ground, MixRules, Option, Rule
from tests.published.rows import checks

CASES = {
    case["id"]: case
    for case in json.loads((Path(__file__).parent / "data" / "mix_checks.json").read_text("utf-8"))["cases"]
}


def option(species, price, block="A", survival=0.8):
    return Option(block, species, "container", species, species, survival=survival, price=price)


def on_offer(numbers):
    return {(f"lot {i}", "container"): int(most) for i, most in enumerate(numbers)}


@checks("12-infeasible")
def test_twenty_are_wanted_and_seventeen_are_to_be_had():
    """Case 12-infeasible: exhaustive enumeration found no feasible point. Stock is never wished away."""
    given = CASES["12-infeasible"]["inputs"]
    wanted, stock = int(given["lo"][0]), given["hi"][1:]
    options = [option("lot 0", given["c"][0]), option("lot 1", given["c"][1])]
    rules = MixRules(on_offer=on_offer(stock))
    found = best_mix(options, [Ground("A", wanted)], rules)
    assert found.status == INFEASIBLE
    assert found.give_up == (Rule(LEAST_PLANTED, ("A",)),)
    enough = best_mix(options, [Ground("A", int(sum(stock)))], rules)
    assert (enough.status, enough.quantities) == (OPTIMAL, (8, 9))


@checks("12-trays")
def test_a_hundred_plants_in_whole_trays_cost_152():
    """Case 12-trays, by exhaustive enumeration: trays of 24, 15 and 40, at least 100 plants, least cost 152."""
    case = CASES["12-trays"]
    sizes, prices, wanted = case["inputs"]["A"][0], case["inputs"]["c"], case["inputs"]["lo"][0]
    least = int(case["expected"]["objective"])
    spots = int(sum(10 * size for size in sizes))
    trays = {(f"lot {i}", "container"): int(size) for i, size in enumerate(sizes)}
    scale = 120  # cost of a plant as a whole number: 120 is divided by every tray
    options = [
        option(f"lot {i}", scale * price / size)
        for i, (price, size) in enumerate(zip(prices, sizes, strict=True))
    ]
    ground = [Ground("A", spots, wanted / spots)]
    most = on_offer(10 * size for size in sizes)
    found = best_mix(options, ground, MixRules(budget=scale * least, on_offer=most, multiple_of=trays), gap=0)
    assert found.status == OPTIMAL
    assert found.cost == pytest.approx(scale * least)
    bought = [n / size for n, size in zip(found.quantities, sizes, strict=True)]
    assert bought == [round(n) for n in bought]
    assert sum(found.quantities) >= wanted
    short = MixRules(budget=scale * (least - 1), on_offer=most, multiple_of=trays)
    assert best_mix(options, ground, short).status == INFEASIBLE
    loose = best_mix(options, ground, MixRules(budget=scale * (least - 1), on_offer=most))
    assert loose.status == OPTIMAL  # it is the whole trays that make 151 too little
    assert broken_rules(loose.quantities, options, ground, short)


def test_trays_are_as_enumerated_here():
    """The same case walked through: 152 is the least cost of 100 plants or more, and nothing else reaches it."""
    given = CASES["12-trays"]["inputs"]
    costs = {
        trays: sum(n * price for n, price in zip(trays, given["c"], strict=True))
        for trays in itertools.product(range(11), repeat=3)
        if sum(n * size for n, size in zip(trays, given["A"][0], strict=True)) >= given["lo"][0]
    }
    least = min(costs.values())
    assert least == CASES["12-trays"]["expected"]["objective"]
    assert tuple(CASES["12-trays"]["expected"]["one_solution"]) in [t for t, c in costs.items() if c == least]


@checks("12-two-sites")
def test_two_lots_shared_between_two_blocks_cost_20_10():
    """Case 12-two-sites, by exhaustive enumeration: 12 and 9 plants from lots of 14 and 15, least cost 20.10."""
    case = CASES["12-two-sites"]
    given, least = case["inputs"], round(100 * case["expected"]["objective"])
    spots = [int(given["lo"][0]), int(given["lo"][1])]
    grounds = [Ground("A", spots[0]), Ground("B", spots[1])]
    options = [
        option(f"lot {lot}", 100 * given["c"][2 * block + lot], "AB"[block])
        for block in range(2)
        for lot in range(2)
    ]
    offer = on_offer(given["hi"][2:])
    found = best_mix(options, grounds, MixRules(budget=least, on_offer=offer), gap=0)
    assert found.status == OPTIMAL
    assert list(found.quantities) == case["expected"]["one_solution"]
    assert found.cost == pytest.approx(least)
    short = best_mix(options, grounds, MixRules(budget=least - 1, on_offer=offer))
    assert short.status == INFEASIBLE
    assert short.give_up
    assert {rule.kind for rule in short.give_up} <= {BUDGET, LEAST_PLANTED}
