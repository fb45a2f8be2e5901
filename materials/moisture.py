"""Effects of moisture and temperature on wood: equilibrium moisture, stiffness, density and shrinkage.

Sources by number in `sources.md`: [1] Wood Handbook FPL-GTR-282 chapters 4 and 5, [10] Gerhards 1982.
"""

import math
from collections.abc import Sequence

import numpy as np

from materials.errors import MaterialError

REFERENCE_MOISTURE = 12.0
MOISTURE_RANGE = (4.0, 28.0)
FIBRE_SATURATION = 30.0

# Green to ovendry along the grain, normal wood: 0.1 to 0.2 % [13]; the middle is taken.
LONGITUDINAL_SHRINKAGE = 0.0015
LONGITUDINAL_SHRINKAGE_BAND = (0.001, 0.002)

# Change from 12 % moisture at 6 and at 20 %: Table 5-14 of [1] after [10]; from memory, two searches did not
# find it.
_TREND_MOISTURES = (6.0, 12.0, 20.0)
_TREND_ALONG = (1.09, 1.0, 0.87)
_TREND_ACROSS = (1.20, 1.0, 0.77)
_TREND_SHEAR = (1.20, 1.0, 0.80)


def check_moisture(moisture: float) -> float:
    """Return the moisture content unchanged if it is within range.

    Parameters
    ----------
    moisture : Moisture content [% of ovendry mass], 4 to 28.

    Raises `MaterialError`: moisture out of range.
    """
    low, high = MOISTURE_RANGE
    if not low <= moisture <= high:
        hint = " (12 % is written 12, not 0.12)" if 0.0 < moisture < 1.0 else ""
        raise MaterialError(
            f"moisture {moisture:g} % is outside {low:g} to {high:g} %, where the moisture equation holds; "
            f"give a moisture content in that range{hint}"
        )
    return float(moisture)


def property_at(p12: float, p_green: float, *, moisture: float, intersection: float = 25.0) -> float:
    """Return a property of clear wood at a moisture content.

    P = P12 (P12 / Pg)^((12 - M) / (Mp - 12)), [1] Eq 5-3; above Mp the green value. Valid for stiffness and
    most strengths near 21 degC, not for tension across the grain; below about 6 % it extrapolates.

    Parameters
    ----------
    p12, p_green : The property at 12 % and green, same unit, both positive.
    moisture : Moisture content M [%], 4 to 28.
    intersection : Moisture Mp [%] at which the property stops changing ([1] Table 5-13; 25 where not listed).

    Raises `MaterialError`: moisture out of range, or a property that is not positive.

    Examples
    --------
    White ash, modulus of rupture [kPa], the handbook's own example:

    >>> round(property_at(103_000, 66_000, moisture=8, intersection=24), -2)
    119500.0
    """
    check_moisture(moisture)
    if not (p12 > 0.0 and p_green > 0.0):
        raise MaterialError(
            f"properties {p12:g} at 12 % and {p_green:g} green cannot be used in the moisture equation; "
            "both must be positive"
        )
    if not REFERENCE_MOISTURE < intersection <= FIBRE_SATURATION:
        raise MaterialError(
            f"intersection moisture {intersection:g} % is outside 12 to 30 %; take 25 where none is published"
        )
    exponent = (REFERENCE_MOISTURE - min(moisture, intersection)) / (intersection - REFERENCE_MOISTURE)
    return float(p12 * (p12 / p_green) ** exponent)


def _trend(values: Sequence[float], *, moisture: float, intersection: float) -> float:
    """Return the geometric interpolation of three values, extrapolated at both ends, constant above Mp."""
    m = min(check_moisture(moisture), intersection)
    first = 0 if m <= REFERENCE_MOISTURE else 1
    (m0, m1), (v0, v1) = _TREND_MOISTURES[first : first + 2], values[first : first + 2]
    return float(v0 * (v1 / v0) ** ((m - m0) / (m1 - m0)))


def along_factor(moisture: float, *, intersection: float = 25.0) -> float:
    """Return E along the grain over its value at 12 % [-], for woods without a published green value.

    General trend +9 % at 6 %, -13 % at 20 % ([1] Table 5-14 after [10], from memory). Errors as
    `check_moisture`.
    """
    return _trend(_TREND_ALONG, moisture=moisture, intersection=intersection)


def across_factor(moisture: float, *, intersection: float = 25.0) -> float:
    """Return E_R or E_T over its value at 12 % [-].

    General trend +20 % at 6 %, -23 % at 20 % ([1] Table 5-14 after [10], from memory). Errors as
    `check_moisture`.
    """
    return _trend(_TREND_ACROSS, moisture=moisture, intersection=intersection)


def shear_factor(moisture: float, *, intersection: float = 25.0) -> float:
    """Return a shear modulus over its value at 12 % [-].

    General trend +20 % at 6 %, -20 % at 20 % ([1] Table 5-14 after [10], from memory). Errors as
    `check_moisture`.
    """
    return _trend(_TREND_SHEAR, moisture=moisture, intersection=intersection)


def equilibrium_moisture(relative_humidity: float, temperature_c: float = 21.0) -> float:
    """Return the equilibrium moisture content of wood in air [%], [1] Eq 4-5.

    Parameters
    ----------
    relative_humidity : Fraction, 0 to below 1 (0.45 for 45 %).
    temperature_c : Air temperature [degC], -1 to 99 (range from memory: 30 to 210 degF).

    Raises `MaterialError`: humidity or temperature out of range.

    Examples
    --------
    >>> round(equilibrium_moisture(0.65, 21.1), 1)
    12.0
    """
    if not 0.0 <= relative_humidity < 1.0:
        hint = (
            f"; for {relative_humidity:g} % write {relative_humidity / 100:g}"
            if relative_humidity > 1.0
            else ""
        )
        raise MaterialError(
            f"relative humidity {relative_humidity:g} is outside 0 to below 1; give it as a fraction{hint}"
        )
    if not -1.2 <= temperature_c <= 99.0:
        raise MaterialError(
            f"air temperature {temperature_c:g} degC is outside -1 to 99; give degrees Celsius"
        )
    t = temperature_c
    w = 349.0 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    kh = k * relative_humidity
    bound = (k1 * kh + 2.0 * k1 * k2 * kh**2) / (1.0 + k1 * kh + k1 * k2 * kh**2)
    return float(1800.0 / w * (kh / (1.0 - kh) + bound))


def shrinkage(total: float, *, moisture: float) -> float:
    """Return the shrinkage from green to a moisture content, S_x = S_0 (1 - x / 30), [1] Eq 4-9.

    Parameters
    ----------
    total : Shrinkage S_0 from green to ovendry [-], 0 to below 1 (0.041 for 4.1 %).
    moisture : Moisture content x [%], 0 or more; above 30 % there is no shrinkage.

    Raises `MaterialError`: shrinkage or moisture out of range.
    """
    if not 0.0 <= total < 0.5:
        raise MaterialError(
            f"shrinkage {total:g} is outside 0 to 0.5; give it as a fraction (4.1 % is 0.041)"
        )
    if not (moisture >= 0.0 and math.isfinite(moisture)):
        raise MaterialError(f"moisture {moisture:g} % is below zero; give the percentage of ovendry mass")
    return total * max(0.0, 1.0 - moisture / FIBRE_SATURATION)


def swelling(total: float, *, from_moisture: float, to_moisture: float) -> float:
    """Return the free strain [-] of a piece that goes from one moisture to another; positive swells.

    Both lengths by [1] Eq 4-9 from the same green length. Errors as `shrinkage`.
    """
    before = 1.0 - shrinkage(total, moisture=from_moisture)
    after = 1.0 - shrinkage(total, moisture=to_moisture)
    return after / before - 1.0


def density_factor(moisture: float, *, shrink_v: float) -> float:
    """Return density over its value at 12 % [-], mass by [1] Eq 4-14, volume by Eq 4-9 and 4-11.

    `shrink_v` is the volumetric shrinkage green to ovendry [-]. Errors as `check_moisture` and `shrinkage`.
    """
    check_moisture(moisture)
    mass = (1.0 + moisture / 100.0) / (1.0 + REFERENCE_MOISTURE / 100.0)
    volume = swelling(shrink_v, from_moisture=REFERENCE_MOISTURE, to_moisture=moisture) + 1.0
    return mass / volume


def _check_temperature(temperature_c: float, low: float, high: float) -> None:
    if not low <= temperature_c <= high:
        raise MaterialError(
            f"wood temperature {temperature_c:g} degC is outside {low:g} to {high:g}, where the data end; "
            "give degrees Celsius in that range"
        )


def temperature_factor_along(temperature_c: float) -> float:
    """Return E along the grain at 12 % moisture over its value at 20 degC [-].

    100 (P - P70) / P70 = 7.8553 - 0.1108 F, F in degF, [1] Table 5-16 (found); about -0.20 % per kelvin.
    The table holds from -15 to 150 degF: MaterialError outside -26 to 65 degC.
    """
    _check_temperature(temperature_c, -26.0, 65.0)

    def relative(celsius: float) -> float:
        return 1.0 + (7.8553 - 0.1108 * (1.8 * celsius + 32.0)) / 100.0

    return relative(temperature_c) / relative(20.0)


def temperature_factor_across(temperature_c: float) -> float:
    """Return E across the grain at 12 % moisture over its value at 20 degC [-].

    -35 % at 50 degC ([1] Table 5-15, found), interpolated geometrically; below 20 degC the same rate is an
    assumption. MaterialError outside -10 to 50 degC.
    """
    _check_temperature(temperature_c, -10.0, 50.0)
    return float(np.exp(np.log(0.65) * (temperature_c - 20.0) / 30.0))


def temperature_factor_shear(temperature_c: float) -> float:
    """Return a shear modulus over its value at 20 degC [-].

    -25 % at 50 degC ([1] Table 5-15, found, for wet wood: taken for dry wood too, an assumption).
    MaterialError outside -10 to 50 degC.
    """
    _check_temperature(temperature_c, -10.0, 50.0)
    return float(np.exp(np.log(0.75) * (temperature_c - 20.0) / 30.0))
