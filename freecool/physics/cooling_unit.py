"""The compressor unit: capacity and power by conditions, and how the coil splits sensible from latent."""

from __future__ import annotations

import math
from typing import NamedTuple

from freecool.core.air import (
    DRY_AIR_HEAT_J_KGK,
    VAPOUR_HEAT_J_KGK,
    dry_air_density,
    enthalpy_of,
    saturated_humidity_ratio,
    saturated_temperature,
    saturation_table,
    wet_bulb_of,
)
from freecool.core.compiled import kernel
from freecool.core.units import CFM_M3_S, TON_W, parse

# NREL/TP-5500-56354 (2013), single speed: a, x, x2, y, y2, xy; x entering wet bulb, y outdoor dry bulb [degF].
NREL_CAPACITY = (3.670270705, -0.098652414, 0.000955906, 0.006552414, -0.0000156, -0.000131877)
NREL_INPUT_RATIO = (-3.302695861, 0.137871531, -0.001056996, -0.012573945, 0.000214638, -0.000145054)
# The fitted region [degF]; the wet bulbs and the upper outdoor bound are from memory.
WET_BULB_RANGE_F = (57.0, 72.0)
OUTDOOR_RANGE_F = (65.0, 125.0)
# AHRI 210/240: rating points A (95 degF) and B (82 degF), indoor 80/67 degF, default fan 365 W/1000 cfm.
RATING_OUTDOOR_F = 95.0
MILD_OUTDOOR_F = 82.0
RATING_WET_BULB_F = 67.0
RATING_INDOOR_C = parse("80F", "temperature")
RATING_FAN_W_PER_M3_S = 0.365 / CFM_M3_S
RATING_FLOW_M3_S_PER_W = 400.0 * CFM_M3_S / TON_W
# Common practice, no source: a coil leaving air under 40 degF is near frost.
FROST_C = parse("40F", "temperature")
# Where the searches for wet bulb and apparatus dew point start; any values find the same answer.
WET_BULB_START_C = 17.0
DEW_POINT_START_C = 9.0

# How closely the rated bypass factor is searched: to the last digits of a float.
BYPASS_ERROR = 1e-16


class CoolingUnit(NamedTuple):
    """A direct-expansion unit, gross of its indoor fan."""

    capacity_w: float
    """Gross, at the rating point."""
    power_w: float
    """Compressor and condenser fan, at the rating point, the indoor fan left out."""
    capacity_curve: tuple[float, float, float, float, float, float]
    power_curve: tuple[float, float, float, float, float, float]
    power_times_capacity: bool
    """The power curve is an input ratio, to be multiplied by the capacity curve."""
    transfer_kg_s: float
    """-ln(bypass factor) times mass flow at the rating point; constant for a dry-side coil."""
    degradation: float
    """Cd of the part-load factor 1 - Cd (1 - PLR)."""
    lockout_c: float
    """No compressor below this outdoor temperature."""


class Coil(NamedTuple):
    """What the coil does in one hour at full run."""

    total_w: float
    sensible_w: float
    power_w: float
    leaving_c: float
    bypass: float
    dew_point_c: float
    """Apparatus dew point."""
    dew_point_w: float
    wet: bool
    wet_bulb_c: float
    """Of the entering air."""


@kernel()
def biquadratic(k, x, y):
    """Value of a curve in two variables, given its coefficients and both.

    Parameters
    ----------
    k : tuple of float
        Six coefficients.
    x, y : float
        The variables.

    Returns
    -------
    float
        ``k0 + k1 x + k2 x2 + k3 y + k4 y2 + k5 x y``.
    """
    return k[0] + k[1] * x + k[2] * x * x + k[3] * y + k[4] * y * y + k[5] * x * y


@kernel(inline=True)
def run_coil(unit, table, mass_flow, t, w, outdoor_c, p, wet_bulb_start_c, dew_point_start_c):
    """The coil at full run, given the air that enters it and the outdoor temperature.

    Parameters
    ----------
    unit : CoolingUnit
        The unit it belongs to.
    table : SaturationTable
        From `freecool.core.air.saturation_table`.
    mass_flow : float
        Air through the coil, dry air [kg/s].
    t : float
        Its dry bulb [degC].
    w : float
        Its humidity ratio [kg/kg].
    outdoor_c : float
        Outdoor dry bulb [degC].
    p : float
        Air pressure [Pa].
    wet_bulb_start_c, dew_point_start_c : float
        Where the searches for wet bulb and apparatus dew point start: an hour's end near the last one's [degC].

    Returns
    -------
    Coil
        Zero capacity and power below the unit's lock-out.

    Notes
    -----
    The bypass factor follows ``exp(-transfer / mass flow)``, a constant dry-side coil.

    References
    ----------
    Capacity and power: NREL/TP-5500-56354 (2013), single speed, clamped to the fitted region. Apparatus dew point and
    bypass factor: ASHRAE Handbook - Fundamentals (2017), chapter 1.
    """
    wet_bulb_c = wet_bulb_of(table, t, w, p, wet_bulb_start_c)
    wet_bulb_f = min(max(wet_bulb_c * 1.8 + 32.0, WET_BULB_RANGE_F[0]), WET_BULB_RANGE_F[1])
    outdoor_f = min(max(outdoor_c * 1.8 + 32.0, OUTDOOR_RANGE_F[0]), OUTDOOR_RANGE_F[1])
    capacity = biquadratic(unit.capacity_curve, wet_bulb_f, outdoor_f)
    ratio = biquadratic(unit.power_curve, wet_bulb_f, outdoor_f)
    total = unit.capacity_w * capacity
    power = unit.power_w * ratio * (capacity if unit.power_times_capacity else 1.0)
    if outdoor_c < unit.lockout_c:
        total = 0.0
        power = 0.0
    bypass = math.exp(-unit.transfer_kg_s / mass_flow)
    h = enthalpy_of(t, w)
    h_adp = h - total / (mass_flow * (1.0 - bypass))
    adp = saturated_temperature(table, h_adp, p, dew_point_start_c)
    w_adp = saturated_humidity_ratio(table, adp, p)
    wet = w > w_adp
    sensible = total * (enthalpy_of(t, w_adp) - h_adp) / (h - h_adp) if wet and h > h_adp else total
    leaving = t - sensible / (mass_flow * (DRY_AIR_HEAT_J_KGK + VAPOUR_HEAT_J_KGK * w))
    return Coil(total, sensible, power, leaving, bypass, adp, w_adp, wet, wet_bulb_c)


def rated_unit(
    capacity_w: float,
    efficiency: float,
    sensible_heat_ratio: float,
    degradation: float,
    lockout_c: float = -math.inf,
    mild_point: tuple[float, float] | None = None,
) -> CoolingUnit:
    """A `CoolingUnit`, given its nameplate at AHRI 210/240 point A.

    Parameters
    ----------
    capacity_w : float
        Net capacity at 95 degF outdoors [W].
    efficiency : float
        Whole-unit efficiency there, indoor fan included [W/W] (EER / 3.412).
    sensible_heat_ratio : float
        Sensible share of the gross capacity at the rating point [-].
    degradation : float
        Part-load degradation coefficient Cd [-].
    lockout_c : float
        Compressor off below this outdoor temperature [degC].
    mild_point : tuple of float, optional
        Net capacity [W] and efficiency [W/W] at 82 degF: a line joins the two points, in place of the curves.

    Returns
    -------
    CoolingUnit
        With the NREL curves, or a line through both points.

    Raises
    ------
    ValueError
        The sensible heat ratio leaves no apparatus dew point.
    """
    flow = RATING_FLOW_M3_S_PER_W * capacity_w
    fan_w = RATING_FAN_W_PER_M3_S * flow
    gross, power = capacity_w + fan_w, capacity_w / efficiency - fan_w
    if mild_point is None:
        capacity_curve = _normalised(NREL_CAPACITY)
        power_curve = _normalised(NREL_INPUT_RATIO)
    else:
        mild_gross = mild_point[0] + fan_w
        mild_power = mild_point[0] / mild_point[1] - fan_w
        capacity_curve = _line(mild_gross / gross)
        power_curve = _line(mild_power / power)
    transfer = _transfer(gross, flow, sensible_heat_ratio)
    return CoolingUnit(
        gross, power, capacity_curve, power_curve, mild_point is None, transfer, degradation, lockout_c
    )  # fmt: skip


def _normalised(curve: tuple[float, ...]) -> tuple[float, float, float, float, float, float]:
    a, x, x2, y, y2, xy = curve
    rated = biquadratic(curve, RATING_WET_BULB_F, RATING_OUTDOOR_F)
    return a / rated, x / rated, x2 / rated, y / rated, y2 / rated, xy / rated


def _line(mild: float) -> tuple[float, float, float, float, float, float]:
    slope = (1.0 - mild) / (RATING_OUTDOOR_F - MILD_OUTDOOR_F)
    return 1.0 - slope * RATING_OUTDOOR_F, 0.0, 0.0, slope, 0.0, 0.0


def _transfer(gross_w: float, flow_m3_s: float, sensible_heat_ratio: float) -> float:
    """-ln(bypass factor) * mass flow [kg/s] at the rating point, from the rated sensible heat ratio."""
    from scipy.optimize import bisect

    table, p = saturation_table(), 101_325.0
    wet_bulb_c = (RATING_WET_BULB_F - 32.0) / 1.8
    saturated = saturated_humidity_ratio(table, wet_bulb_c, p)
    t = RATING_INDOOR_C
    # ASHRAE Fundamentals (2017) ch. 1 eq. 33.
    w = ((2501.0 - 2.326 * wet_bulb_c) * saturated - 1.006 * (t - wet_bulb_c)) / (
        2501.0 + 1.86 * t - 4.186 * wet_bulb_c
    )
    mass_flow = flow_m3_s * float(dry_air_density(t, w, p))
    h = enthalpy_of(t, w)

    def sensible_share(bypass: float) -> float:
        h_adp = h - gross_w / (mass_flow * (1.0 - bypass))
        adp = saturated_temperature(table, h_adp, p, DEW_POINT_START_C)
        w_adp = saturated_humidity_ratio(table, adp, p)
        return (enthalpy_of(t, w_adp) - h_adp) / (h - h_adp) if w > w_adp else 1.0

    # More bypass makes a colder coil: the share that is sensible falls, then rises as the coil has nothing left to dry.
    low, high = 1e-4, 0.6
    if not sensible_share(high) <= sensible_heat_ratio <= sensible_share(low):
        raise ValueError(
            f"a sensible heat ratio of {sensible_heat_ratio:g} has no apparatus dew point at "
            f"400 cfm a ton; the rating point allows {sensible_share(high):.2f} to {sensible_share(low):.2f}"
        )
    bypass = bisect(lambda bypass: sensible_share(bypass) - sensible_heat_ratio, low, high, xtol=BYPASS_ERROR)
    return -math.log(bypass) * mass_flow
