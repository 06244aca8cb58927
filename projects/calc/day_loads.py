"""What a crew lifts on a planting day: the heaviest single load of each stock type beside a screen.

A screen warns and never clears: a load below it can still hurt. Local rules and a competent person decide.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import floor, isfinite

from projects.calc.stock_handling import BALL_KG_PER_CM3, lifting_screen_kg, root_ball_kg, tray_kg

HEAVIEST_OF_BALL = 1.3  # the upper end of the band around a ball's mass

TRAY, BUNDLE, BALL, SACK = "tray", "bundle", "ball", "sack"
MACHINE_ONLY, BELOW_SCREEN = "machine_only", "below_screen"
CARRIED_AS = {
    "container": TRAY,
    "bare_root": BUNDLE,
    "cutting": BUNDLE,
    "wildling": BUNDLE,
    "balled_burlapped": BALL,
    "direct_seed": SACK,
}


@dataclass(frozen=True, slots=True)
class Sizes:
    """How stock comes to hand; every number may be changed.

    Attributes
    ----------
    cells, cell_ml : plugs to a tray, and the volume of one. [mL] Common practice.
    bundle, plant_g : plants to a bundle, and the mass of one. [g] From memory.
    ball_cm : across the root ball. [cm] Common practice.
    sack_kg : a sack of seed. [kg] Common practice.
    """

    cells: int = 50
    cell_ml: float = 300
    bundle: int = 50
    plant_g: float = 200
    ball_cm: float = 40
    sack_kg: float = 20


@dataclass(frozen=True, slots=True)
class Load:
    """One thing as it is lifted. [kg]"""

    kind: str
    lowest_kg: float
    highest_kg: float
    screen_kg: float

    @property
    def verdict(self) -> str:
        """`machine_only` where it may weigh more than the screen, else `below_screen`; never more than that."""
        return MACHINE_ONLY if self.highest_kg > self.screen_kg else BELOW_SCREEN


def usual_screen_kg() -> float:
    """The screen for lifting from the ground to the waist, hands 40 cm from the ankles. [kg]

    Once a minute for an hour at most. Waters et al. (1993), revised NIOSH equation, from memory.

    >>> round(usual_screen_kg(), 1)
    9.2
    """
    return lifting_screen_kg(40, 0, 75, frequency_factor=0.94)


def loads(stock_types: Iterable[str], sizes: Sizes = Sizes(), screen_kg: float | None = None) -> list[Load]:
    """Return the single loads of some stock types, the heaviest first.

    Parameters
    ----------
    stock_types : keys of `CARRIED_AS`; others are left out.
    sizes : how the stock comes to hand.
    screen_kg : above it a machine lifts; by default `usual_screen_kg()`. [kg]

    Raises
    ------
    ValueError
        If a size is not above 0.

    Examples
    --------
    >>> [(load.kind, round(load.highest_kg), load.verdict) for load in loads(["container", "bare_root"])]
    [('tray', 15, 'machine_only'), ('bundle', 10, 'machine_only')]
    >>> loads(["bare_root"], Sizes(bundle=25))[0].verdict
    'below_screen'
    """
    limit = usual_screen_kg() if screen_kg is None else screen_kg
    kinds = {CARRIED_AS[each] for each in stock_types if each in CARRIED_AS}
    found = [Load(kind, *_mass(kind, sizes), limit) for kind in sorted(kinds)]
    return sorted(found, key=lambda load: -load.highest_kg)


def _mass(kind: str, sizes: Sizes) -> tuple[float, float]:
    if kind == BALL:
        lowest, _expected, highest = root_ball_kg(sizes.ball_cm)
        return lowest, highest
    if kind == TRAY:
        mass = tray_kg(sizes.cells, sizes.cell_ml)
    elif kind == BUNDLE:
        mass = sizes.bundle * sizes.plant_g / 1000
    else:
        mass = sizes.sack_kg
    if not (mass > 0 and isfinite(mass)):
        raise ValueError("a load must weigh more than nothing.")
    return mass, mass


def cells_within(screen_kg: float, cell_ml: float, crate_kg: float = 1.5, kg_per_litre: float = 0.9) -> int:
    """How many plugs a crate may hold to weigh no more than the screen.

    >>> cells_within(9.2, 300)
    28
    """
    return max(0, floor((screen_kg - crate_kg) / (cell_ml / 1000 * kg_per_litre)))


def widest_ball_cm(screen_kg: float) -> float:
    """The root ball whose mass stays within the screen even at the upper end of its band. [cm]

    >>> round(widest_ball_cm(9.2))
    22
    """
    if not (screen_kg > 0 and isfinite(screen_kg)):
        raise ValueError("the screen must be a mass above 0.")
    return float((screen_kg / (HEAVIEST_OF_BALL * BALL_KG_PER_CM3)) ** (1 / 3))
