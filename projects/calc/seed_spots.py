"""Seed spots: whether anything lives in a spot whose seeds share a fate in part."""


def chance_spot_lives(living_per_seed: float, seeds: int, correlation: float = 0.0) -> float:
    """Chance that at least one seedling lives in a spot whose seeds share a fate in part.

    Seeds of one spot meet the same mice, drought and weeds: the share that lives differs from spot to spot as a
    Beta of mean `living_per_seed`, and `correlation` is that of two seeds of one spot. Taken as independent (0), the
    chance is too good; at 1 more seeds help nothing.

    >>> round(chance_spot_lives(0.2, 3), 3), round(chance_spot_lives(0.2, 3, 0.3), 3), chance_spot_lives(0.2, 3, 1.0)
    (0.488, 0.386, 0.2)
    """
    if not 0 < living_per_seed <= 1:
        raise ValueError(f"living_per_seed must be a share above 0 and up to 1, got {living_per_seed}.")
    if seeds < 1:
        raise ValueError("a spot needs at least one seed.")
    if not 0 <= correlation <= 1:
        raise ValueError("the correlation must lie between 0 and 1.")
    if correlation == 1 or living_per_seed == 1:
        return living_per_seed
    # P(no seed lives) is a product over the seeds, each drawn after those before it died.
    dead = 1.0
    for drawn in range(seeds):
        own = (1 - living_per_seed) * (1 - correlation)
        dead *= (own + drawn * correlation) / (1 - correlation + drawn * correlation)
    return 1 - dead
