"""Plants as things to lift, store and put in the ground: quality, mass, lifting screens, pits, mulch, nutrients.

Screens warn; they never call a load safe. Local rules and a competent person decide.
"""

import math

KG_PER_LB, CM_PER_INCH = 0.45359237, 2.54
BALL_KG_PER_CM3 = 0.024 * KG_PER_LB / CM_PER_INCH**3  # fitted to one grower's table of root balls; ±30 %
NIOSH_KG = 23.0  # load constant of the revised lifting equation (Waters et al. 1993)
LITRES_PER_GALLON = 3.785411784
P_OF_P2O5, K_OF_K2O = 0.4364, 0.8301


def sturdiness(height_cm: float, collar_mm: float) -> float:
    """Height over root-collar diameter, cm per mm.

    >>> sturdiness(30, 5)
    6.0
    """
    return height_cm / collar_mm


def dickson_quality(
    total_g: float, height_cm: float, collar_mm: float, shoot_g: float, root_g: float
) -> float:
    """Dickson quality index from dry masses; compare within one species and age only.

    Dickson, Leaf and Hosner (1960), Forestry Chronicle 36:10.

    >>> round(dickson_quality(5, 30, 5, 3.5, 1.5), 3)
    0.6
    """
    return total_g / (sturdiness(height_cm, collar_mm) + shoot_g / root_g)


def root_ball_kg(diameter_cm: float) -> tuple[float, float, float]:
    """Mass of a root ball of a diameter: lowest, expected, highest (±30 % by soil and moisture). [kg]

    >>> [round(kg) for kg in root_ball_kg(60)]
    [100, 143, 187]
    """
    expected = BALL_KG_PER_CM3 * diameter_cm**3
    return 0.7 * expected, expected, 1.3 * expected


def root_ball_litres(diameter_cm: float, depth_share: float = 0.65, shape: float = 2 / 3) -> float:
    """Volume of a root ball: shape × disc × depth. [L]

    >>> round(root_ball_litres(60), 1)
    73.5
    """
    return shape * math.pi / 4 * diameter_cm**2 * depth_share * diameter_cm / 1000


def tray_kg(cells: int, cell_ml: float, kg_per_litre: float = 0.9, crate_kg: float = 1.5) -> float:
    """Mass of a tray of plugs in its crate; density common practice. [kg]

    >>> tray_kg(50, 300)
    15.0
    """
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
    rise_cm : how far the load travels.
    twist_deg : trunk away from straight ahead, 0..135.
    frequency_factor, grip_factor : from the equation's tables, 1 at best.

    References
    ----------
    Waters, Putz-Anderson, Garg and Fine (1993), Ergonomics 36:749; NIOSH 94-110 (from memory).

    Examples
    --------
    >>> round(lifting_screen_kg(40, 0, 75, frequency_factor=0.94), 1)
    9.2
    """
    if horizontal_cm > 63 or not 0 <= height_cm <= 175 or rise_cm > 175 or twist_deg > 135:
        return 0.0
    horizontal = 25 / max(horizontal_cm, 25)
    vertical = 1 - 0.003 * abs(height_cm - 75)
    distance = 1.0 if rise_cm <= 25 else 0.82 + 4.5 / rise_cm
    twist = 1 - 0.0032 * twist_deg
    return NIOSH_KG * horizontal * vertical * distance * twist * frequency_factor * grip_factor


def wet_bulb_globe_c(natural_wet_bulb_c: float, globe_c: float, air_c: float) -> float:
    """Heat stress index in the sun (ISO 7243). [°C]

    >>> round(wet_bulb_globe_c(24, 40, 30), 1)
    27.8
    """
    return 0.7 * natural_wet_bulb_c + 0.2 * globe_c + 0.1 * air_c


def pit_m3(diameter_m: float, depth_m: float) -> float:
    """Volume of a round planting pit. [m³]

    >>> round(pit_m3(1.8, 0.39), 3)
    0.992
    """
    return math.pi / 4 * diameter_m**2 * depth_m


def amendment_cap_litres(pit_volume_m3: float, ball_litres: float, cap: float = 0.2) -> float:
    """Most organic matter to mix into the backfill; the default of none stands before it. [L]

    The cap of 10 to 20 % is common practice and editable.

    >>> round(amendment_cap_litres(0.9924, 73.5, cap=0.25))
    230
    """
    return max(pit_volume_m3 * 1000 - ball_litres, 0) * cap


def mulch_litres(diameter_m: float, depth_cm: float) -> float:
    """Mulch for a ring, kept off the stem. [L]

    >>> round(mulch_litres(1.0, 7.5), 1)
    58.9
    """
    return math.pi / 4 * diameter_m**2 * depth_cm * 10


def watering_litres_per_cm(gallons_per_inch: float) -> float:
    """US gallons per inch of calliper as litres per centimetre.

    >>> [round(watering_litres_per_cm(gallons), 2) for gallons in (1.5, 10)]
    [2.24, 14.9]
    """
    return gallons_per_inch * LITRES_PER_GALLON / CM_PER_INCH


def break_even_trees(perimeter_m: float, fence_per_m: float, guard_each: float) -> float:
    """Trees above which a fence costs less than a guard each.

    >>> break_even_trees(400, 12, 3.20)
    1500.0
    """
    return perimeter_m * fence_per_m / guard_each
