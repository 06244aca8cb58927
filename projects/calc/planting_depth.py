"""How deep a plant, a cutting or a seed goes into the ground, in numbers. All of it common practice.

The words a crew reads stand in `projects/crew_day_words.py`, each with its source.
"""

from math import isfinite

SEED_TIMES = (2.0, 3.0)  # covered by so many times its own size; common practice
CUTTING_SHARE = 2 / 3  # of its length below ground; common practice
BUDS_ABOVE = 2  # at least, common practice
COLLAR_BELOW_CM = (0.0, 2.0)  # root collar of bare-root stock below the ground; common practice
PLUG_COVER_CM = (
    1.0,
    2.0,
)  # soil over a plug, so that it does not draw water out of the ground; common practice
PIT_TIMES = (2.0, 3.0)  # width of the pit over that of a root ball; common practice


def seed_depth_mm(seed_mm: float) -> tuple[float, float]:
    """Soil over a seed of a size, least and most. [mm]

    >>> seed_depth_mm(15)
    (30.0, 45.0)
    """
    least, most = SEED_TIMES
    return least * _above_zero(seed_mm), most * seed_mm


def cutting_below_cm(length_cm: float) -> float:
    """How much of a cutting of a length is in the ground. [cm]

    >>> cutting_below_cm(30)
    20.0
    """
    return _above_zero(length_cm) * CUTTING_SHARE


def pit_width_cm(ball_cm: float) -> tuple[float, float]:
    """Width of the pit for a root ball, least and most. It is never deeper than the ball. [cm]

    >>> pit_width_cm(50)
    (100.0, 150.0)
    """
    least, most = PIT_TIMES
    return least * _above_zero(ball_cm), most * ball_cm


def _above_zero(length: float) -> float:
    if not (length > 0 and isfinite(length)):
        raise ValueError(f"a length must be a number above 0, got {length}.")
    return length
