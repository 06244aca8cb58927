"""Plants as things to judge, lift and carry: quality, mass, screens of lifting and of heat.

Screens warn; they never clear a load or a day. Local rules and a competent person decide.
"""

import math

KG_PER_LB, CM_PER_INCH = 0.45359237, 2.54
BALL_KG_PER_CM3 = 0.024 * KG_PER_LB / CM_PER_INCH**3  # fitted to one grower's table of root balls; ±30 %
NIOSH_KG = 23.0  # load constant of the revised lifting equation (Waters et al. 1993)
FARTHEST_REACH_CM, HIGHEST_CM, FARTHEST_TWIST_DEG = 63.0, 175.0, 135.0  # where that equation ends


def sturdiness(height_cm: float, collar_mm: float) -> float:
    """Height over root-collar diameter, cm per mm.

    >>> sturdiness(30, 5)
    6.0
    """
    _above_zero(height_cm=height_cm, collar_mm=collar_mm)
    return height_cm / collar_mm


def dickson_quality(
    total_g: float, height_cm: float, collar_mm: float, shoot_g: float, root_g: float
) -> float:
    """Dickson quality index from dry masses; compare within one species and age only.

    Dickson, Leaf and Hosner (1960), Forestry Chronicle 36:10 (from memory).

    Raises
    ------
    ValueError
        If a measure is not above 0.

    Examples
    --------
    >>> round(dickson_quality(5, 30, 5, 3.5, 1.5), 3)
    0.6
    """
    _above_zero(total_g=total_g, shoot_g=shoot_g, root_g=root_g)
    return total_g / (sturdiness(height_cm, collar_mm) + shoot_g / root_g)


def root_ball_kg(diameter_cm: float) -> tuple[float, float, float]:
    """Mass of a root ball of a diameter: lowest, expected, highest (±30 % by soil and moisture). [kg]

    >>> [round(kg) for kg in root_ball_kg(60)]
    [100, 143, 187]
    """
    _above_zero(diameter_cm=diameter_cm)
    expected = BALL_KG_PER_CM3 * diameter_cm**3
    return 0.7 * expected, expected, 1.3 * expected


def ball_depth_share(diameter_cm: float) -> float:
    """Least depth of a root ball over its diameter: a municipal specification restating the nursery standard.

    75 % below 20 inches, 65 % from 20 to 30, 60 % from 30 to 48; wider balls are taken alike. Editions differ.

    >>> [ball_depth_share(inches * 2.54) for inches in (16, 24, 36)]
    [0.75, 0.65, 0.6]
    """
    _above_zero(diameter_cm=diameter_cm)
    inches = diameter_cm / CM_PER_INCH
    return 0.75 if inches < 20 else 0.65 if inches < 30 else 0.60


def root_ball_litres(diameter_cm: float, depth_share: float | None = None, shape: float = 2 / 3) -> float:
    """Volume of a root ball: shape × disc × depth, by default as deep as `ball_depth_share` says. [L]

    >>> round(root_ball_litres(60), 1)
    73.5
    """
    depth = ball_depth_share(diameter_cm) if depth_share is None else depth_share
    _above_zero(depth_share=depth, shape=shape)
    return shape * math.pi / 4 * diameter_cm**2 * depth * diameter_cm / 1000


def tray_kg(cells: int, cell_ml: float, kg_per_litre: float = 0.9, crate_kg: float = 1.5) -> float:
    """Mass of a tray of plugs in its crate; density common practice. [kg]

    >>> tray_kg(50, 300)
    15.0
    """
    _above_zero(cells=cells, cell_ml=cell_ml, kg_per_litre=kg_per_litre)
    if not crate_kg >= 0:
        raise ValueError("crate_kg must not be below 0.")
    return cells * cell_ml / 1000 * kg_per_litre + crate_kg


def lifting_screen_kg(
    horizontal_cm: float,
    height_cm: float,
    rise_cm: float,
    *,
    twist_deg: float = 0.0,
    frequency_factor: float = 1.0,
    grip_factor: float = 1.0,
) -> float:
    """Recommended weight limit of the revised NIOSH lifting equation. [kg]

    Parameters
    ----------
    horizontal_cm : hands from the ankles. Beyond 63 cm nothing should be lifted: 0.
    height_cm : hands above the floor at the start, 0..175.
    rise_cm : how far the load travels, up (or down, below 0).
    twist_deg : trunk away from straight ahead, to either side, 0..135.
    frequency_factor, grip_factor : from the equation's tables, 1 at best.

    Raises
    ------
    ValueError
        If a factor lies outside 0..1, or a measure is no number.

    References
    ----------
    Waters, Putz-Anderson, Garg and Fine (1993), Ergonomics 36:749; NIOSH 94-110 (from memory).

    Examples
    --------
    >>> round(lifting_screen_kg(40, 0, 75, frequency_factor=0.94), 1)
    9.2
    """
    if not (0 <= frequency_factor <= 1 and 0 <= grip_factor <= 1):
        raise ValueError("the factors must lie between 0 and 1.")
    if not all(map(math.isfinite, (horizontal_cm, height_cm, rise_cm, twist_deg))):
        raise ValueError("where a load is lifted must be told in numbers.")
    travel, twisted = abs(rise_cm), abs(twist_deg)
    ends = (height_cm, height_cm + rise_cm)
    if horizontal_cm > FARTHEST_REACH_CM or twisted > FARTHEST_TWIST_DEG:
        return 0.0
    if min(ends) < 0 or max(ends) > HIGHEST_CM:
        return 0.0
    horizontal = 25 / max(horizontal_cm, 25)
    vertical = 1 - 0.003 * abs(height_cm - 75)
    distance = 1.0 if travel <= 25 else 0.82 + 4.5 / travel
    twist = 1 - 0.0032 * twisted
    return NIOSH_KG * horizontal * vertical * distance * twist * frequency_factor * grip_factor


def wet_bulb_globe_c(natural_wet_bulb_c: float, globe_c: float, air_c: float) -> float:
    """Heat stress index in the sun (ISO 7243, from memory). [°C]

    >>> round(wet_bulb_globe_c(24, 40, 30), 1)
    27.8
    """
    return 0.7 * natural_wet_bulb_c + 0.2 * globe_c + 0.1 * air_c


def _above_zero(**measures: float) -> None:
    for name, measure in measures.items():
        if not (measure > 0 and math.isfinite(measure)):
            raise ValueError(f"{name} must be a number above 0, got {measure}.")
