"""The mix found is the best there is, obeys its rules, and says which rule to give up when none is."""

import itertools
import json
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from projects.calc.mix import BEST_SO_FAR, INFEASIBLE, NOTHING_FOUND, OPTIMAL, best_mix, broken_rules
from projects.calc.mix_rules import (
    BUDGET,
    LEAST_LIVING,
    LEAST_PLANTED,
    LOT_SIZE,
    MOST_OF_FAMILY,
    MOST_OF_GENUS,
    MOST_OF_SPECIES,
    NITROGEN,
    ON_OFFER,
    SPECIES_NUMBER,
    SPOTS,
    WHOLE_TRAYS,
    Ground,
    MixRules,
    Option,
    Rule,
)


def option(species="oak", stock="bare_root", block="A", survival=0.8, price=1.0, **more):
    names = {"genus": species, "family": species, **more}
    return Option(block, species, stock, survival=survival, price=price, **names)


def brute_force(options, grounds, rules):
    """Best worth over every mix there is; None when no mix obeys."""
    spots = {ground.name: ground.spots for ground in grounds}
    best = None
    for mix in itertools.product(*(range(spots[o.block] + 1) for o in options)):
        if broken_rules(mix, options, grounds, rules):
            continue
        worth = sum(n * o.survival * o.worth for n, o in zip(mix, options, strict=True))
        best = worth if best is None else max(best, worth)
    return best


@pytest.mark.parametrize("seed", range(6))
def test_small_mixes_equal_brute_force(seed):
    rng = np.random.default_rng(seed)
    grounds = [Ground("A", 4, 0.6, None, int(rng.integers(1, 3))), Ground("B", 3, 0.5, 1.0)]
    options = [
        option(f"s{i}", "bare_root", "AB"[i % 2], rng.uniform(0.4, 0.95), rng.uniform(0.5, 2),
               genus=f"g{i // 2}", worth=rng.uniform(0.5, 1.5), fixes_nitrogen=i == 1)
        for i in range(5)
    ]  # fmt: skip
    rules = MixRules(
        most_of_species=0.7, most_of_genus=0.9, budget=float(rng.uniform(3, 8)),
        on_offer={("s0", "bare_root"): 3}, lot_size={("s2", "bare_root"): 2},
    )  # fmt: skip
    found, best = best_mix(options, grounds, rules), brute_force(options, grounds, rules)
    if best is None:
        assert found.status == INFEASIBLE
        assert found.give_up
    else:
        assert found.status == OPTIMAL
        assert found.worth == pytest.approx(best, rel=0.001)
        assert broken_rules(found.quantities, options, grounds, rules) == ()


def test_without_rules_the_surest_species_fills_the_ground():
    found = best_mix([option("oak", survival=0.9), option("birch", survival=0.6)], [Ground("A", 100)])
    assert found.quantities == (100, 0)
    assert (found.living, found.cost, found.gap) == (pytest.approx(90), 100, pytest.approx(0, abs=1e-6))


def test_purpose_can_outweigh_survival():
    options = [option("oak", survival=0.9, worth=0.5), option("pear", survival=0.6, worth=1.0)]
    assert best_mix(options, [Ground("A", 10)]).quantities == (0, 10)


def test_shares_are_of_what_is_planted():
    options = [option(f"s{i}", survival=0.9 - i / 100, genus="g", family="f") for i in range(10)]
    rules = MixRules(most_of_species=0.25)
    found = best_mix(options, [Ground("A", 40)], rules)
    assert found.quantities[:5] == (10, 10, 10, 10, 0)
    assert broken_rules((40, *[0] * 9), options, [Ground("A", 40)], rules) == (Rule(MOST_OF_SPECIES, ("A",)),)


def test_whole_lots_or_none():
    options = [option("oak", survival=0.9), option("birch", survival=0.8)]
    rules = MixRules(lot_size={("oak", "bare_root"): 50}, on_offer={("birch", "bare_root"): 30})
    assert best_mix(options, [Ground("A", 40, 0.5)], rules).quantities == (0, 30)
    assert best_mix(options, [Ground("A", 60, 0.5)], rules).quantities[0] >= 50


def test_trays_are_bought_whole():
    """Against brute force, on small trays over two blocks; a hand-written mix that breaks a tray is told so."""
    options = [
        option("oak", block="A", survival=0.9, price=3.0),
        option("oak", block="B", survival=0.5, price=3.0),
        option("birch", block="A", survival=0.6, price=1.0),
        option("birch", block="B", survival=0.7, price=1.0),
    ]
    grounds = [Ground("A", 6, 0.3), Ground("B", 4, 0.3)]
    for oak, birch in ((1, 3), (4, 3), (3, 5)):
        trays = {("oak", "bare_root"): oak, ("birch", "bare_root"): birch}
        rules = MixRules(budget=17.0, multiple_of=trays)
        found = best_mix(options, grounds, rules, gap=0)
        bought = (sum(found.quantities[:2]), sum(found.quantities[2:]))
        assert (bought[0] % oak, bought[1] % birch) == (0, 0)
        assert found.worth == pytest.approx(brute_force(options, grounds, rules))
    told = broken_rules((4, 1, 0, 2), options, grounds, MixRules(multiple_of={("oak", "bare_root"): 4}))
    assert told == (Rule(WHOLE_TRAYS, ("oak", "bare_root")),)


def test_a_tray_larger_than_the_ground_is_named():
    rules = MixRules(multiple_of={("oak", "bare_root"): 40})
    found = best_mix([option("oak")], [Ground("A", 30)], rules)
    assert found.status == INFEASIBLE
    assert {rule.kind for rule in found.give_up} <= {WHOLE_TRAYS, LEAST_PLANTED}
    with pytest.raises(ValueError, match="tray must hold"):
        best_mix([option("oak")], [Ground("A", 30)], MixRules(multiple_of={("oak", "bare_root"): 0}))


@pytest.mark.parametrize(
    ("grounds", "rules", "kind"),
    [
        ([Ground("A", 100)], MixRules(budget=20), {BUDGET, LEAST_PLANTED}),
        ([Ground("A", 100, 0.5, least_living=95)], MixRules(), {LEAST_LIVING}),
        ([Ground("A", 100, least_species=3)], MixRules(), {SPECIES_NUMBER}),
        ([Ground("A", 100)], MixRules(most_of_species=0.4), {MOST_OF_SPECIES, LEAST_PLANTED}),
        ([Ground("A", 100)], MixRules(most_of_genus=0.4), {MOST_OF_GENUS, LEAST_PLANTED}),
        ([Ground("A", 100)], MixRules(most_of_family=0.4), {MOST_OF_FAMILY, LEAST_PLANTED}),
        ([Ground("A", 100)], MixRules(least_of_nitrogen_fixers=0.1), {NITROGEN, LEAST_PLANTED}),
        (
            [Ground("A", 100)],
            MixRules(lot_size={("oak", "bare_root"): 900, ("birch", "bare_root"): 900}),
            {LOT_SIZE, LEAST_PLANTED},
        ),
    ],
)
def test_contradictions_are_named_by_one_of_their_rules(grounds, rules, kind):
    options = [option("oak", survival=0.9), option("birch", survival=0.6)]
    found = best_mix(options, grounds, rules)
    assert found.status == INFEASIBLE
    assert len(found.give_up) == 1
    assert found.give_up[0].kind in kind


def test_two_contradictions_need_two_rules_given_up():
    options = [option("oak", block="A"), option("oak", block="B")]
    grounds = [Ground("A", 10, 0.5, least_living=9.5), Ground("B", 10, 0.5, least_living=9.5)]
    found = best_mix(options, grounds)
    assert found.give_up == (Rule(LEAST_LIVING, ("A",)), Rule(LEAST_LIVING, ("B",)))


def test_what_is_on_offer_is_never_wished_away():
    options = [option("oak")]
    found = best_mix(options, [Ground("A", 20)], MixRules(on_offer={("oak", "bare_root"): 8}))
    assert found.give_up == (Rule(LEAST_PLANTED, ("A",)),)
    assert broken_rules(
        (12,), options, [Ground("A", 10, 0.5)], MixRules(on_offer={("oak", "bare_root"): 8})
    ) == (
        Rule(ON_OFFER, ("oak", "bare_root")),
        Rule(SPOTS, ("A",)),
    )


def test_time_that_runs_out_is_said():
    rng = np.random.default_rng(1)
    options = [
        option(f"s{s}", f"t{t}", f"B{b}", rng.uniform(0.3, 0.95), rng.uniform(0.5, 6), genus=f"g{s // 2}")
        for s in range(20) for t in range(3) for b in range(8)
    ]  # fmt: skip
    grounds = [Ground(f"B{b}", 1000, 0.9, None, 8) for b in range(8)]
    found = best_mix(options, grounds, MixRules(0.2, 0.3, budget=14_000), gap=0, time_limit_s=0.05)
    assert found.status in (BEST_SO_FAR, NOTHING_FOUND)
    assert found.bound > found.worth


@pytest.mark.parametrize(
    "bad", [[], [option(block="Z")], [option(survival=1.2)], [option(price=-1)], [option(worth=-1)]]
)
def test_what_cannot_be_is_refused(bad):
    with pytest.raises(ValueError, match=r"no species|not among|must be"):
        best_mix(bad, [Ground("A", 10)])


@pytest.mark.parametrize("name", ["12-infeasible", "12-trays", "12-two-sites"])
def test_the_solver_we_rest_on_agrees_with_enumeration(name):
    """Integer programs enumerated outside this project; a new release of the solver has to agree with them."""
    path = Path(__file__).parents[1] / "published" / "data" / "mix_checks.json"
    case = next(case for case in json.loads(path.read_text("utf-8"))["cases"] if case["id"] == name)
    given, expected = case["inputs"], case["expected"]
    low = [-np.inf if v is None else v for v in given["lo"]]
    high = [np.inf if v is None else v for v in given["hi"]]
    found = milp(
        given["c"], constraints=LinearConstraint(np.array(given["A"]), low, high),
        bounds=Bounds(0, given["upper"]), integrality=np.ones(len(given["c"])),
    )  # fmt: skip
    if expected["status"] == "infeasible":
        assert found.status == 2
    else:
        assert found.fun == pytest.approx(expected["objective"], abs=1e-6)
