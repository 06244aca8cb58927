"""Seed: how much to sow, how many seeds a cell needs, how many mother trees a collection needs."""

import math
from collections.abc import Sequence


def _shares(**shares: float) -> None:
    for name, share in shares.items():
        if not 0 < share <= 1:
            raise ValueError(f"{name} must be a share above 0 and up to 1, got {share}.")


def _amounts(**amounts: float) -> None:
    for name, amount in amounts.items():
        if not 0 <= amount < math.inf:
            raise ValueError(f"{name} must be a number not below 0, got {amount}.")


def _above_zero(**amounts: float) -> None:
    for name, amount in amounts.items():
        if not 0 < amount < math.inf:
            raise ValueError(f"{name} must be a number above 0, got {amount}.")


def pure_live_share(purity: float, germination: float, hard_seed: float = 0.0) -> float:
    """Share of bulk seed that is pure and alive; dormant (hard) seed counts as alive.

    >>> round(pure_live_share(0.98, 0.92, 0.05), 4)
    0.9506
    """
    _shares(purity=purity, germination=germination)
    if hard_seed < 0 or germination + hard_seed > 1 + 1e-9:  # 0.93 and 0.07 are 1, whatever binary digits say
        raise ValueError("germination and hard seed together must not exceed 1.")
    return purity * min(germination + hard_seed, 1.0)


def bulk_for_pure_live(pure_live: float, purity: float, germination: float, hard_seed: float = 0.0) -> float:
    """Bulk seed that holds a wanted amount of pure live seed, in the same unit.

    >>> round(bulk_for_pure_live(3.00, 0.98, 0.92, 0.05), 2)
    3.16
    """
    _amounts(pure_live=pure_live)
    return pure_live / pure_live_share(purity, germination, hard_seed)


def chance_cell_is_filled(germination: float, seeds: int) -> float:
    """Chance that a cell sown with some seeds is not empty, seeds taken as independent.

    >>> round(chance_cell_is_filled(0.65, 3), 3)
    0.957
    """
    _shares(germination=germination)
    if seeds < 1:
        raise ValueError("a cell needs at least one seed.")
    return 1.0 if germination == 1 else -math.expm1(seeds * math.log1p(-germination))


def seeds_per_cell(germination: float, wanted_chance: float = 0.9) -> int:
    """Fewest seeds in a cell that fill it with a wanted chance.

    >>> seeds_per_cell(0.55, 0.95)
    4
    """
    _shares(germination=germination, wanted_chance=wanted_chance)
    if wanted_chance == 1 and germination < 1:
        raise ValueError("no number of seeds fills a cell for certain; ask for 0.95, say.")
    if germination == 1:
        return 1
    return max(math.ceil(math.log1p(-wanted_chance) / math.log1p(-germination) - 1e-9), 1)


def sowing_kg_per_ha(
    plants_per_m2: float, seeds_per_kg: float, purity: float, germination: float, field_establishment: float
) -> float:
    """Seed for a wanted number of plants on a square metre of a broadcast or drilled bed. [kg/ha]

    >>> round(sowing_kg_per_ha(100, 50_000, 0.95, 0.80, 0.60), 2)
    43.86
    """
    _shares(purity=purity, germination=germination, field_establishment=field_establishment)
    _amounts(plants_per_m2=plants_per_m2)
    _above_zero(seeds_per_kg=seeds_per_kg)
    return plants_per_m2 * 10_000 / (seeds_per_kg * purity * germination * field_establishment)


def seed_for_spots_kg(spots: int, seeds_per_spot: int, seeds_per_kg: float, purity: float = 1.0) -> float:
    """Seed for spots sown by number. [kg]

    >>> round(seed_for_spots_kg(2500, 3, 3000, 0.98), 3)
    2.551
    """
    _shares(purity=purity)
    _amounts(spots=spots, seeds_per_spot=seeds_per_spot)
    _above_zero(seeds_per_kg=seeds_per_kg)
    return spots * seeds_per_spot / (seeds_per_kg * purity)


def seed_for_living_kg(
    living_wanted: float, living_per_seed: float, seeds_per_kg: float, purity: float = 1.0
) -> float:
    """Seed for a number of seedlings alive at the check age. [kg]

    `living_per_seed` replaces germination × field establishment: it is what was seen to live of seed sown
    (about 20 % is quoted for seed dropped from the air, common practice; small broadcast seed has no default).

    >>> round(seed_for_living_kg(1000, 0.20, 300), 2)
    16.67
    """
    _shares(living_per_seed=living_per_seed, purity=purity)
    _amounts(living_wanted=living_wanted)
    _above_zero(seeds_per_kg=seeds_per_kg)
    return living_wanted / (living_per_seed * seeds_per_kg * purity)


def chance_allele_is_caught(frequency: float, mother_trees: int, *, selfing: bool = False) -> float:
    """Chance that a collection holds an allele at least once: 2n copies from outcrossers, n from selfers.

    Brown and Marshall (1995), as quoted by the native seed collection protocol of the United States.

    >>> round(chance_allele_is_caught(0.05, 59, selfing=True), 4), round(chance_allele_is_caught(0.05, 30), 4)
    (0.9515, 0.9539)
    """
    _shares(frequency=frequency)
    if mother_trees < 1:
        raise ValueError("there must be one mother tree at least.")
    return 1 - (1 - frequency) ** (mother_trees if selfing else 2 * mother_trees)


def mother_trees_needed(frequency: float = 0.05, chance: float = 0.95, *, selfing: bool = False) -> int:
    """Fewest unrelated mother trees that catch an allele with a chance.

    >>> mother_trees_needed(), mother_trees_needed(selfing=True)
    (30, 59)
    """
    _shares(frequency=frequency, chance=chance)
    if chance == 1:
        raise ValueError("no number of mother trees catches an allele for certain; ask for 0.95, say.")
    if frequency == 1:
        return 1
    copies = math.ceil(math.log1p(-chance) / math.log1p(-frequency) - 1e-9)
    return copies if selfing else math.ceil(copies / 2)


def effective_parents(contributions: Sequence[float]) -> float:
    """Number of equal parents (or lots) that would give the same diversity: 1 / Σ share² (Lindgren and Kang).

    >>> effective_parents([50, 20, 10, 10, 10])
    3.125
    """
    total = sum(contributions)
    if total <= 0 or min(contributions) < 0:
        raise ValueError("contributions must not be negative, nor all 0.")
    return total**2 / sum(part**2 for part in contributions)
