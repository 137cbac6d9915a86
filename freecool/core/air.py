"""Moist air: array functions on psychrolib, and the saturation table that the year loop reads.

The only file that imports psychrolib: its unit switch is global, so it is set once, to SI, here.
"""

from __future__ import annotations

from functools import cache
from typing import Any, NamedTuple

import numpy as np
import psychrolib
from numpy.typing import ArrayLike, NDArray

from freecool.core.compiled import kernel
from freecool.core.errors import WeatherError

psychrolib.SetUnitSystem(psychrolib.SI)

# ASHRAE Handbook - Fundamentals (2017) chapter 1: eq. 20 (ratio of molar masses), eq. 30 (enthalpy), table 1.
MOLAR_RATIO = 0.621945
DRY_AIR_HEAT_J_KGK = 1006.0
VAPOUR_HEAT_J_KGK = 1860.0
VAPORISATION_J_KG = 2_501_000.0
LIQUID_WATER_HEAT_J_KGK = 4186.0
DRY_AIR_GAS_CONSTANT_J_KGK = 287.042
KELVIN = 273.15

# Outside these a pressure is in the wrong unit: the highest town is near 53 kPa, the record at sea level 108.4 kPa.
PLAUSIBLE_PRESSURE_PA = (45_000.0, 110_000.0)

FloatArray = NDArray[np.float64]


def _loop(function: Any, *arrays: str) -> Any:
    """A compiled loop over flat arrays of equal size, given a psychrolib function and names for its arguments.

    It is written out as source, because numba keeps on disk neither a closure over a function nor a loop that is given
    one, and its ufuncs add half a second to every start.
    """
    source = (
        f"def {function.__name__}({', '.join(arrays)}):\n"
        f"    out = empty_like({arrays[0]})\n"
        "    for i in range(out.size):\n"
        f"        out[i] = function({', '.join(f'{array}[i]' for array in arrays)})\n"
        "    return out\n"
    )
    names = {"__name__": __name__, "empty_like": np.empty_like, "function": function}
    # numba keeps only what comes from a file.
    exec(compile(source, __file__, "exec"), names)
    return kernel()(names[function.__name__])


_saturation_pressure = _loop(psychrolib.GetSatVapPres, "t")
_humidity_ratio_from_dew_point = _loop(psychrolib.GetHumRatioFromTDewPoint, "dew_point", "p")
_humidity_ratio_from_relative_humidity = _loop(psychrolib.GetHumRatioFromRelHum, "t", "rh", "p")
_relative_humidity = _loop(psychrolib.GetRelHumFromHumRatio, "t", "w", "p")
_dew_point_from_relative_humidity = _loop(psychrolib.GetTDewPointFromRelHum, "t", "rh")
_dew_point_from_wet_bulb = _loop(psychrolib.GetTDewPointFromTWetBulb, "t", "wet_bulb", "p")
_wet_bulb = _loop(psychrolib.GetTWetBulbFromHumRatio, "t", "w", "p")
_enthalpy = _loop(psychrolib.GetMoistAirEnthalpy, "t", "w")
_dew_point_from_humidity_ratio = _loop(psychrolib.GetTDewPointFromHumRatio, "start", "w", "p")

# Where psychrolib's search for a dew point starts; it bounds the answer too.
DEW_POINT_SEARCH_C = 60.0


def _apply(function: Any, *values: ArrayLike) -> Any:
    """A loop over flat arrays, given values that broadcast; numpy's own scalar for scalars."""
    arrays = np.broadcast_arrays(*(np.asarray(value, dtype=float) for value in values))
    flat = function(*(np.ascontiguousarray(array).ravel() for array in arrays))
    return flat.reshape(arrays[0].shape)[()]


def _checked(pressure_pa: ArrayLike) -> FloatArray:
    pressure = np.asarray(pressure_pa, dtype=float)
    low, high = PLAUSIBLE_PRESSURE_PA
    bad = ~((pressure >= low) & (pressure <= high))
    if bad.any():
        first = float(pressure[bad].flat[0]) if pressure.ndim else float(pressure)
        raise WeatherError(
            f"The air pressure is {first:g} Pa, expected {low:g} to {high:g} Pa: "
            "give station pressure in pascal (1 hPa or mbar = 100 Pa), or the site's elevation."
        )
    return pressure


def _finite(name: str, *values: ArrayLike) -> None:
    for value in values:
        if not np.isfinite(value).all():
            raise WeatherError(f"{name}: a value is missing (NaN); fill or repair the weather first.")


def saturation_pressure(dry_bulb_c: ArrayLike) -> FloatArray:
    """Saturation vapour pressure over water or ice, given dry bulb.

    Parameters
    ----------
    dry_bulb_c : array_like
        Dry bulb [degC].

    Returns
    -------
    ndarray
        Saturation pressure, same shape [Pa].

    Raises
    ------
    WeatherError
        A value is missing (NaN).

    References
    ----------
    ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 5 and 6.
    """
    _finite("saturation pressure", dry_bulb_c)
    return _apply(_saturation_pressure, dry_bulb_c)


def humidity_ratio_from_dew_point(dew_point_c: ArrayLike, pressure_pa: ArrayLike) -> FloatArray:
    """Humidity ratio, given dew point and pressure.

    Parameters
    ----------
    dew_point_c : array_like
        Dew point [degC].
    pressure_pa : array_like
        Air pressure [Pa].

    Returns
    -------
    ndarray
        Humidity ratio [kg/kg], in the parameters' broadcast shape.

    Raises
    ------
    WeatherError
        A value is missing (NaN), or a pressure is in the wrong unit.

    References
    ----------
    ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 20.
    """
    _finite("humidity ratio from dew point", dew_point_c)
    return _apply(_humidity_ratio_from_dew_point, dew_point_c, _checked(pressure_pa))


def humidity_ratio_from_relative_humidity(
    dry_bulb_c: ArrayLike, relative_humidity: ArrayLike, pressure_pa: ArrayLike
) -> FloatArray:
    """Humidity ratio, given dry bulb, relative humidity and pressure.

    Parameters
    ----------
    dry_bulb_c : array_like
        Dry bulb [degC].
    relative_humidity : array_like
        Relative humidity [0-1].
    pressure_pa : array_like
        Air pressure [Pa].

    Returns
    -------
    ndarray
        Humidity ratio [kg/kg], in the parameters' broadcast shape.

    Raises
    ------
    WeatherError
        A value is missing (NaN), or a pressure is in the wrong unit.

    References
    ----------
    ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 20 and 22.
    """
    _finite("humidity ratio from relative humidity", dry_bulb_c, relative_humidity)
    return _apply(_humidity_ratio_from_relative_humidity, dry_bulb_c, relative_humidity, _checked(pressure_pa))


def relative_humidity(dry_bulb_c: ArrayLike, humidity_ratio: ArrayLike, pressure_pa: ArrayLike) -> FloatArray:
    """Relative humidity, given dry bulb, humidity ratio and pressure.

    Parameters
    ----------
    dry_bulb_c : array_like
        Dry bulb [degC].
    humidity_ratio : array_like
        Humidity ratio [kg/kg].
    pressure_pa : array_like
        Air pressure [Pa].

    Returns
    -------
    ndarray
        Relative humidity [0-1], in the parameters' broadcast shape.

    Raises
    ------
    WeatherError
        A value is missing (NaN), or a pressure is in the wrong unit.

    References
    ----------
    ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 20 and 22.
    """
    _finite("relative humidity", dry_bulb_c, humidity_ratio)
    return _apply(_relative_humidity, dry_bulb_c, humidity_ratio, _checked(pressure_pa))


def dew_point_from_relative_humidity(dry_bulb_c: ArrayLike, relative_humidity: ArrayLike) -> FloatArray:
    """Dew point, given dry bulb and relative humidity.

    Parameters
    ----------
    dry_bulb_c : array_like
        Dry bulb [degC].
    relative_humidity : array_like
        Relative humidity [0-1].

    Returns
    -------
    ndarray
        Dew point [degC], in the parameters' broadcast shape.

    Raises
    ------
    WeatherError
        A value is missing (NaN).

    References
    ----------
    ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 5, 6 and 22.
    """
    _finite("dew point from relative humidity", dry_bulb_c, relative_humidity)
    return _apply(_dew_point_from_relative_humidity, dry_bulb_c, relative_humidity)


def dew_point_from_humidity_ratio(humidity_ratio: ArrayLike, pressure_pa: ArrayLike) -> FloatArray:
    """Dew point, given humidity ratio and pressure.

    Parameters
    ----------
    humidity_ratio : array_like
        Humidity ratio [kg/kg].
    pressure_pa : array_like
        Air pressure [Pa].

    Returns
    -------
    ndarray
        Dew point [degC], in the parameters' broadcast shape.

    Raises
    ------
    WeatherError
        A value is missing (NaN), or a pressure is in the wrong unit.

    References
    ----------
    ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 5, 6 and 20.
    """
    _finite("dew point from humidity ratio", humidity_ratio)
    return _apply(_dew_point_from_humidity_ratio, DEW_POINT_SEARCH_C, humidity_ratio, _checked(pressure_pa))


def dew_point_from_wet_bulb(dry_bulb_c: ArrayLike, wet_bulb_c: ArrayLike, pressure_pa: ArrayLike) -> FloatArray:
    """Dew point, given dry bulb, wet bulb and pressure.

    Parameters
    ----------
    dry_bulb_c : array_like
        Dry bulb [degC].
    wet_bulb_c : array_like
        Wet bulb [degC].
    pressure_pa : array_like
        Air pressure [Pa].

    Returns
    -------
    ndarray
        Dew point [degC], in the parameters' broadcast shape.

    Raises
    ------
    WeatherError
        A value is missing (NaN), or a pressure is in the wrong unit.

    References
    ----------
    ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 33 and 35, and eq. 5, 6 and 20.
    """
    _finite("dew point from wet bulb", dry_bulb_c, wet_bulb_c)
    return _apply(_dew_point_from_wet_bulb, dry_bulb_c, wet_bulb_c, _checked(pressure_pa))


def wet_bulb(dry_bulb_c: ArrayLike, humidity_ratio: ArrayLike, pressure_pa: ArrayLike) -> FloatArray:
    """Wet bulb, given dry bulb, humidity ratio and pressure.

    Parameters
    ----------
    dry_bulb_c : array_like
        Dry bulb [degC].
    humidity_ratio : array_like
        Humidity ratio [kg/kg].
    pressure_pa : array_like
        Air pressure [Pa].

    Returns
    -------
    ndarray
        Wet bulb [degC], in the parameters' broadcast shape.

    Raises
    ------
    WeatherError
        A value is missing (NaN), or a pressure is in the wrong unit.

    References
    ----------
    ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 33 and 35.
    """
    _finite("wet bulb", dry_bulb_c, humidity_ratio)
    return _apply(_wet_bulb, dry_bulb_c, humidity_ratio, _checked(pressure_pa))


def enthalpy(dry_bulb_c: ArrayLike, humidity_ratio: ArrayLike) -> FloatArray:
    """Moist-air enthalpy, given dry bulb and humidity ratio.

    Parameters
    ----------
    dry_bulb_c : array_like
        Dry bulb [degC].
    humidity_ratio : array_like
        Humidity ratio [kg/kg].

    Returns
    -------
    ndarray
        Enthalpy above 0 degC [J per kg dry air], in the parameters' broadcast shape.

    Raises
    ------
    WeatherError
        A value is missing (NaN).

    Notes
    -----
    Inch-pound tables count from 0 degF instead: `freecool.core.units` moves their limits to this zero.

    References
    ----------
    ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 30.
    """
    _finite("enthalpy", dry_bulb_c, humidity_ratio)
    return _apply(_enthalpy, dry_bulb_c, humidity_ratio)


def dry_air_density(dry_bulb_c: ArrayLike, humidity_ratio: ArrayLike, pressure_pa: ArrayLike) -> FloatArray:
    """Dry air in a cubic metre of moist air, given dry bulb, humidity ratio and pressure.

    Parameters
    ----------
    dry_bulb_c : array_like
        Dry bulb [degC].
    humidity_ratio : array_like
        Humidity ratio [kg/kg].
    pressure_pa : array_like
        Air pressure [Pa].

    Returns
    -------
    ndarray
        Density of the dry air [kg/m3], in the parameters' broadcast shape.

    Raises
    ------
    WeatherError
        A value is missing (NaN), or a pressure is in the wrong unit.

    References
    ----------
    ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 26.
    """
    _finite("dry-air density", dry_bulb_c, humidity_ratio)
    t, w, p = np.asarray(dry_bulb_c), np.asarray(humidity_ratio), _checked(pressure_pa)
    return p / (DRY_AIR_GAS_CONSTANT_J_KGK * (t + KELVIN) * (1.0 + w / MOLAR_RATIO))


def heat_capacity(humidity_ratio: ArrayLike) -> FloatArray:
    """Heat capacity of moist air, given humidity ratio.

    Parameters
    ----------
    humidity_ratio : array_like
        Humidity ratio [kg/kg].

    Returns
    -------
    ndarray
        Heat capacity, same shape [J per K and kg of dry air].

    References
    ----------
    ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 30, its slope in dry bulb.
    """
    return DRY_AIR_HEAT_J_KGK + VAPOUR_HEAT_J_KGK * np.asarray(humidity_ratio, dtype=float)


def pressure_at_elevation(elevation_m: ArrayLike) -> FloatArray:
    """Standard-atmosphere pressure, given elevation.

    Parameters
    ----------
    elevation_m : array_like
        Elevation above sea level [m].

    Returns
    -------
    ndarray
        Pressure, same shape [Pa].

    References
    ----------
    ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 3.
    """
    return 101_325.0 * (1.0 - 2.25577e-5 * np.asarray(elevation_m, dtype=float)) ** 5.2559


class SaturationTable(NamedTuple):
    """Saturation pressure at equal steps of temperature, for fast linear reading inside kernels."""

    start_c: float
    per_k: float
    pressure_pa: FloatArray


@cache
def saturation_table() -> SaturationTable:
    """The saturation table of psychrolib, from -80 to 100 degC by 0.05 K.

    Returns
    -------
    SaturationTable
        Made once. Linear reading errs by 2 parts in a million above freezing, 8 at -80 degC, 77 in the one step across
        0.01 degC.
    """
    step = 0.05
    temperatures = -80.0 + step * np.arange(3601)
    return SaturationTable(-80.0, 1.0 / step, saturation_pressure(temperatures))


@kernel()
def read_saturation(table, t):
    """Saturation pressure and its slope, given the table and a temperature.

    Parameters
    ----------
    table : SaturationTable
        From `saturation_table`.
    t : float
        Temperature [degC].

    Returns
    -------
    tuple of float
        Pressure [Pa] and slope [Pa/K], straight on beyond the table's ends.
    """
    position = (t - table.start_c) * table.per_k
    i = min(max(int(position), 0), table.pressure_pa.size - 2)
    low = table.pressure_pa[i]
    rise = table.pressure_pa[i + 1] - low
    return low + (position - i) * rise, rise * table.per_k


@kernel()
def saturated_humidity_ratio(table, t, p):
    """Humidity ratio at saturation, given the table, temperature and pressure.

    Parameters
    ----------
    table : SaturationTable
        From `saturation_table`.
    t : float
        Temperature [degC].
    p : float
        Air pressure [Pa].

    Returns
    -------
    float
        Humidity ratio [kg/kg].

    References
    ----------
    ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 21.
    """
    e, _ = read_saturation(table, t)
    return MOLAR_RATIO * e / (p - e)


@kernel()
def relative_humidity_of(w, p, saturation_pa):
    """Relative humidity, given humidity ratio, pressure and saturation pressure.

    Parameters
    ----------
    w : float
        Humidity ratio [kg/kg].
    p : float
        Air pressure [Pa].
    saturation_pa : float
        Saturation pressure at the air's dry bulb [Pa].

    Returns
    -------
    float
        Relative humidity [0-1].

    References
    ----------
    ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 20 and 22.
    """
    return p * w / ((MOLAR_RATIO + w) * saturation_pa)


@kernel()
def enthalpy_of(t, w):
    """Moist-air enthalpy, given dry bulb and humidity ratio.

    Parameters
    ----------
    t : float
        Dry bulb [degC].
    w : float
        Humidity ratio [kg/kg].

    Returns
    -------
    float
        Enthalpy above 0 degC [J per kg dry air].

    References
    ----------
    ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 30.
    """
    return DRY_AIR_HEAT_J_KGK * t + w * (VAPORISATION_J_KG + VAPOUR_HEAT_J_KGK * t)


# Newton's rule below stops at this step, which a hundred-thousandth of a kelvin's error follows by its square.
NEWTON_STEP_K = 1e-5
# No step is longer: the saturation curve is steep enough to throw the rule off its table.
NEWTON_LEAP_K = 10.0
# Vapour takes up less heat than the liquid it came from.
LATENT_FALL_J_KGK = LIQUID_WATER_HEAT_J_KGK - VAPOUR_HEAT_J_KGK


@kernel()
def saturated_temperature(table, h, p, guess):
    """Temperature at which saturated air has an enthalpy, given it and the pressure, by Newton's rule.

    Parameters
    ----------
    table : SaturationTable
        From `saturation_table`.
    h : float
        Enthalpy [J/kg].
    p : float
        Air pressure [Pa].
    guess : float
        Where the search starts [degC].

    Returns
    -------
    float
        Temperature [degC].

    Notes
    -----
    Both sides are multiplied by the pressure of dry air, which leaves one division a step.

    References
    ----------
    ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 21 and 30.
    """
    t = guess
    for _ in range(30):
        e, slope = read_saturation(table, t)
        dry = p - e
        short = DRY_AIR_HEAT_J_KGK * t - h
        latent = VAPORISATION_J_KG + VAPOUR_HEAT_J_KGK * t
        error = short * dry + MOLAR_RATIO * e * latent
        rise = DRY_AIR_HEAT_J_KGK * dry - short * slope + MOLAR_RATIO * (slope * latent + e * VAPOUR_HEAT_J_KGK)
        step = error / rise
        t -= min(max(step, -NEWTON_LEAP_K), NEWTON_LEAP_K)
        if abs(step) < NEWTON_STEP_K:
            break
    return t


@kernel()
def wet_bulb_of(table, t, w, p, guess):
    """Wet bulb above freezing, given dry bulb, humidity ratio and pressure, by Newton's rule.

    Parameters
    ----------
    table : SaturationTable
        From `saturation_table`.
    t : float
        Dry bulb [degC].
    w : float
        Humidity ratio [kg/kg].
    p : float
        Air pressure [Pa].
    guess : float
        Where the search starts [degC].

    Returns
    -------
    float
        Wet bulb [degC].

    Notes
    -----
    Both sides are multiplied by the pressure of dry air, which leaves one division a step.

    References
    ----------
    ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 33.
    """
    h = enthalpy_of(t, w)
    heat = DRY_AIR_HEAT_J_KGK + w * LIQUID_WATER_HEAT_J_KGK
    wet = guess
    for _ in range(30):
        e, slope = read_saturation(table, wet)
        dry = p - e
        short = heat * wet - h
        latent = VAPORISATION_J_KG - LATENT_FALL_J_KGK * wet
        error = short * dry + MOLAR_RATIO * e * latent
        rise = heat * dry - short * slope + MOLAR_RATIO * (slope * latent - e * LATENT_FALL_J_KGK)
        step = error / rise
        wet -= min(max(step, -NEWTON_LEAP_K), NEWTON_LEAP_K)
        if abs(step) < NEWTON_STEP_K:
            break
    return wet
