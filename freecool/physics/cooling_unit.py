"""The compressor unit: capacity and power by conditions, and how the coil splits sensible from latent."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

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
from freecool.physics.performance_table import FloatArray, PerformanceTable, is_outside, read_performance
from freecool.physics.re_evaporation import NO_RE_EVAPORATION, ReEvaporation

# NREL/TP-5500-56354 (2013), single speed: a, x, x2, y, y2, xy; x entering wet bulb, y outdoor dry bulb [degF].
NREL_CAPACITY = (3.670270705, -0.098652414, 0.000955906, 0.006552414, -0.0000156, -0.000131877)
NREL_INPUT_RATIO = (-3.302695861, 0.137871531, -0.001056996, -0.012573945, 0.000214638, -0.000145054)
# The region that they were fitted in; the wet bulbs and the upper outdoor bound are from memory.
NREL_WET_BULB_RANGE_C = (parse("57F", "temperature"), parse("72F", "temperature"))
NREL_OUTDOOR_RANGE_C = (parse("65F", "temperature"), parse("125F", "temperature"))
STANDARD_PRESSURE_PA = 101_325.0
# AHRI 210/240: rating points A (95 degF) and B (82 degF), indoor 80/67 degF, default fan 365 W/1000 cfm.
RATING_OUTDOOR_C = parse("95F", "temperature")
MILD_OUTDOOR_C = parse("82F", "temperature")
RATING_WET_BULB_C = parse("67F", "temperature")
RATING_INDOOR_C = parse("80F", "temperature")
RATING_FAN_W_PER_M3_S = 0.365 / CFM_M3_S
RATING_FLOW_M3_S_PER_W = 400.0 * CFM_M3_S / TON_W
# Common practice, no source: a coil leaving air under 40 degF is near frost.
FROST_C = parse("40F", "temperature")
# Where the searches for wet bulb and apparatus dew point start; any values find the same answer.
WET_BULB_START_C = 17.0
DEW_POINT_START_C = 9.0
# Kinds of compressor.
SINGLE_SPEED, TWO_STAGE, VARIABLE_SPEED = 0, 1, 2
# Fan power by the share of full flow: common practice, no source.
FAN_EXPONENT = 2.5
# The search for a speed between the lowest and the highest ends at this step, within these.
SPEED_ERROR = 1e-12
SPEED_STEPS = 100
# The search for the onset of condensing ends at this error, within these steps.
ONSET_ERROR_K = 1e-7
ONSET_STEPS = 30


Curve = tuple[float, float, float, float, float, float]
"""Coefficients of a biquadratic: 1, x, x2, y, y2, xy."""

# How closely the rated bypass factor is searched: to the last digits of a float.
BYPASS_ERROR = 1e-16


class CoolingUnit(NamedTuple):
    """A direct-expansion unit, gross of its indoor fan."""

    capacity_w: float
    """Gross, at the rating point."""
    power_w: float
    """Compressor and condenser fan, at the rating point, the indoor fan left out."""
    capacity_curve: Curve
    """Gross capacity over the rated one: a biquadratic of entering wet bulb and outdoor dry bulb [degC]."""
    power_curve: Curve
    power_times_capacity: bool
    """The power curve is power per capacity, to be multiplied by the capacity curve; else power itself."""
    transfer_kg_s: float
    """-ln(bypass factor) times mass flow at the rating point; constant for a dry-side coil."""
    degradation: float
    """Cd of the part-load factor 1 - Cd (1 - PLR)."""
    lockout_c: float
    """No compressor below this outdoor temperature."""
    wet_bulb_range_c: tuple[float, float]
    """Entering wet bulbs that the curves hold for; beyond, they are read at the end."""
    outdoor_range_c: tuple[float, float]
    """Outdoor temperatures that the curves hold for, likewise."""
    kind: int = SINGLE_SPEED
    """`SINGLE_SPEED`, `TWO_STAGE` or `VARIABLE_SPEED`."""
    low_capacity: float = 1.0
    """Gross capacity of the low stage, or of the lowest speed, over that of the high one; the curves are the same."""
    low_power: float = 1.0
    """Its power over that of the high one."""
    low_flow: float = 1.0
    """Its share of full flow, where it is rated and where a fan of variable speed runs for it alone."""
    middle_capacity: float = 1.0
    """Gross capacity of a third rated speed between them, likewise; that of the high one where none is told."""
    middle_power: float = 1.0
    re_evaporation: ReEvaporation = NO_RE_EVAPORATION
    """Water that goes back into the air from its coil."""
    performance: PerformanceTable | None = None
    """Stands in place of the curves; its type decides at compilation, so that a unit without one pays nothing."""


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
    outside_table: bool
    """Whether its unit's table does not reach what it works at."""


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


@kernel()
def relative_performance(unit, performance, wet_bulb_c, outdoor_c):
    """Gross capacity and power over their values at the rating point, given the unit and where to read it.

    Parameters
    ----------
    unit : CoolingUnit
        Its curves and their ranges.
    performance : PerformanceTable or None
        Of the unit: as an argument of its own it leaves the other branch out at compilation.
    wet_bulb_c, outdoor_c : float
        Beyond what curves or table reach, their edge holds [degC].

    Returns
    -------
    tuple of float
        [-].
    """
    if performance is None:
        x = min(max(wet_bulb_c, unit.wet_bulb_range_c[0]), unit.wet_bulb_range_c[1])
        y = min(max(outdoor_c, unit.outdoor_range_c[0]), unit.outdoor_range_c[1])
        capacity = biquadratic(unit.capacity_curve, x, y)
        return capacity, biquadratic(unit.power_curve, x, y) * (capacity if unit.power_times_capacity else 1.0)
    return read_performance(performance, wet_bulb_c, outdoor_c)


@kernel(inline=True)
def capacity_and_power(unit, wet_bulb_c, outdoor_c):
    """Gross capacity [W] and power of compressor and condenser fan [W] at full run.

    Parameters
    ----------
    unit : CoolingUnit
        Its curves and limits, or its table.
    wet_bulb_c : float
        Of the air entering a wet coil [degC].
    outdoor_c : float
        Outdoor dry bulb [degC].

    Returns
    -------
    tuple of float
        Both 0 below the unit's lock-out.
    """
    if outdoor_c < unit.lockout_c:
        return 0.0, 0.0
    capacity, power = relative_performance(unit, unit.performance, wet_bulb_c, outdoor_c)
    return unit.capacity_w * capacity, unit.power_w * power


@kernel(inline=True)
def low_stage(unit):
    """The low stage or lowest speed of a unit, given the unit.

    Parameters
    ----------
    unit : CoolingUnit
        Of any kind.

    Returns
    -------
    CoolingUnit
        Of a single speed; a unit of a single speed is its own low stage.
    """
    return CoolingUnit(
        unit.capacity_w * unit.low_capacity,
        unit.power_w * unit.low_power,
        unit.capacity_curve,
        unit.power_curve,
        unit.power_times_capacity,
        unit.transfer_kg_s,
        unit.degradation,
        unit.lockout_c,
        unit.wet_bulb_range_c,
        unit.outdoor_range_c,
        SINGLE_SPEED,
        1.0,
        1.0,
        1.0,
        1.0,
        1.0,
        unit.re_evaporation,
        unit.performance,
    )


@kernel(inline=True)
def running_flow(unit, fan):
    """Share of full flow at the low stage, given the unit and a fan that runs for it alone.

    Parameters
    ----------
    unit : CoolingUnit
        Its low stage.
    fan : Fan
        Of one speed, or of variable speed down to its lowest flow.

    Returns
    -------
    float
        1 for a fan of one speed [-].
    """
    return max(unit.low_flow, fan.least_flow) if fan.variable else 1.0


@kernel(inline=True)
def fan_share(low_flow, place):
    """Fan power over its full power at a speed, given the flow of the lowest and the speed's place.

    Parameters
    ----------
    low_flow : float
        Share of full flow at the lowest speed [-].
    place : float
        From 0 at the lowest speed to 1 at the highest [-].

    Returns
    -------
    float
        The flow in between is linear [-].
    """
    return (low_flow + place * (1.0 - low_flow)) ** FAN_EXPONENT


@kernel()
def speed_for(need_w, low_w, high_w, fan_w, low_flow):
    """The place of the speed that brings a need between the lowest and the highest, given the coil at both.

    Parameters
    ----------
    need_w : float
        Cooling of the air, the fan's heat taken off [W].
    low_w, high_w : float
        What the coil takes at either end [W].
    fan_w : float
        Fan at full flow [W].
    low_flow : float
        Share of full flow at the lowest speed [-].

    Returns
    -------
    float
        0 at the lowest speed, 1 at the highest [-]. What the coil takes in between is linear; each pass takes the
        fan's heat of the last one, from above, and so never leaves the range.
    """
    low_fan_w = fan_w * fan_share(low_flow, 0.0)
    place = (need_w - low_w + low_fan_w) / (high_w - fan_w - low_w + low_fan_w)
    for _ in range(SPEED_STEPS):
        before = place
        place = (need_w + fan_w * fan_share(low_flow, place) - low_w) / (high_w - low_w)
        if abs(place - before) < SPEED_ERROR:
            break
    return place


@kernel(inline=True)
def power_between(unit, low, high, place):
    """Compressor and condenser fan at a speed between the lowest and the highest [W], given the coil at both.

    Parameters
    ----------
    unit : CoolingUnit
        Its third rated speed, if any, is met.
    low, high : Coil
        At full run.
    place : float
        From 0 at the lowest speed to 1 at the highest [-].

    Returns
    -------
    float
        Efficiency is a line in capacity between the rated speeds: 10 CFR 430 subpart B appendix M1 section 4.1.4,
        AHRI 210/240-2023 11.2.1.3 (section numbers from memory) [W].
    """
    total_w = low.total_w + place * (high.total_w - low.total_w)
    middle_w = unit.middle_capacity * high.total_w
    middle = middle_w / (unit.middle_power * high.power_w)
    if total_w <= middle_w:
        start_w, start, end_w, end = low.total_w, low.total_w / low.power_w, middle_w, middle
    else:
        start_w, start, end_w, end = middle_w, middle, high.total_w, high.total_w / high.power_w
    return total_w / (start + (end - start) * (total_w - start_w) / (end_w - start_w))


@kernel()
def condensing_onset(unit, table, contact_kg_s, t, outdoor_c, p, dew_point_start_c, wet_bulb_start_c):
    """The coil's dew point, and the entering wet bulb, at which a coil in air of a dry bulb just begins to condense.

    Parameters
    ----------
    unit : CoolingUnit
        The unit it belongs to.
    table : SaturationTable
        From `freecool.core.air.saturation_table`.
    contact_kg_s : float
        Air that meets the coil, mass flow times (1 - bypass) [kg/s].
    t : float
        Entering dry bulb [degC].
    outdoor_c : float
        [degC].
    p : float
        Air pressure [Pa].
    dew_point_start_c, wet_bulb_start_c : float
        Where the searches start [degC].

    Returns
    -------
    tuple of float
        (apparatus dew point, entering wet bulb) [degC]. Capacity depends on the wet bulb only while the coil is wet:
        a dry coil works as at this point (ASHRAE 140 section 5.3, dry-coil cases).

    Notes
    -----
    With all capacity sensible, ``total = m (1 - BF) cp (t - adp)``, and air at the onset is as humid as saturated
    air at adp. Solved for adp by the secant rule.
    """
    before_c, before_error = 0.0, 0.0
    dew_point_c, wet_bulb_c = dew_point_start_c, wet_bulb_start_c
    for step in range(ONSET_STEPS):
        w = saturated_humidity_ratio(table, dew_point_c, p)
        wet_bulb_c = wet_bulb_of(table, t, w, p, wet_bulb_c)
        total, _ = capacity_and_power(unit, wet_bulb_c, outdoor_c)
        error = t - total / (contact_kg_s * (DRY_AIR_HEAT_J_KGK + VAPOUR_HEAT_J_KGK * w)) - dew_point_c
        if abs(error) < ONSET_ERROR_K:
            break
        slope = -1.0 if step == 0 else (error - before_error) / (dew_point_c - before_c)
        before_c, before_error = dew_point_c, error
        dew_point_c -= error / slope
    return dew_point_c, wet_bulb_c


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
    Capacity and power: the unit's curves or table, within their ranges; dry coils: ASHRAE 140 section 5.3. Apparatus
    dew point and bypass factor: ASHRAE Handbook - Fundamentals (2017), chapter 1.
    """
    wet_bulb_c = wet_bulb_of(table, t, w, p, wet_bulb_start_c)
    bypass = math.exp(-unit.transfer_kg_s / mass_flow)
    contact_kg_s = mass_flow * (1.0 - bypass)
    h = enthalpy_of(t, w)
    total, power = capacity_and_power(unit, wet_bulb_c, outdoor_c)
    dew_point_c = saturated_temperature(table, h - total / contact_kg_s, p, dew_point_start_c)
    dew_point_w = saturated_humidity_ratio(table, dew_point_c, p)
    wet = w > dew_point_w
    read_wet_bulb_c = wet_bulb_c
    if wet and total > 0.0:
        h_dew = h - total / contact_kg_s
        sensible = total * (enthalpy_of(t, dew_point_w) - h_dew) / (h - h_dew)
    else:
        if total > 0.0:
            dew_point_c, read_wet_bulb_c = condensing_onset(
                unit, table, contact_kg_s, t, outdoor_c, p, dew_point_c, wet_bulb_c
            )
            dew_point_w = saturated_humidity_ratio(table, dew_point_c, p)
            total, power = capacity_and_power(unit, read_wet_bulb_c, outdoor_c)
        sensible = total
    leaving = t - sensible / (mass_flow * (DRY_AIR_HEAT_J_KGK + VAPOUR_HEAT_J_KGK * w))
    outside = is_outside(unit.performance, read_wet_bulb_c, outdoor_c)
    return Coil(total, sensible, power, leaving, bypass, dew_point_c, dew_point_w, wet, wet_bulb_c, outside)


def rated_unit(
    capacity_w: float,
    efficiency: float,
    sensible_heat_ratio: float,
    degradation: float,
    lockout_c: float = -math.inf,
    mild_point: tuple[float, float] | None = None,
    kind: int = SINGLE_SPEED,
    low_point: tuple[float, float] | None = None,
    low_flow: float = 1.0,
    middle_point: tuple[float, float] | None = None,
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
    kind : int
        `SINGLE_SPEED`, `TWO_STAGE` or `VARIABLE_SPEED`.
    low_point : tuple of float, optional
        Net capacity [W] and efficiency [W/W] of the low stage or lowest speed at 95 degF.
    low_flow : float
        Its share of full flow at that point, and so the rated fan's speed [-].
    middle_point : tuple of float, optional
        The same of a third speed between them, at 95 degF.

    Returns
    -------
    CoolingUnit
        With the NREL curves, or a line through both points.

    Raises
    ------
    ValueError
        The sensible heat ratio leaves no apparatus dew point, or an efficiency no power to the compressor.
    """
    flow = RATING_FLOW_M3_S_PER_W * capacity_w
    fan_w = RATING_FAN_W_PER_M3_S * flow
    gross, power = capacity_w + fan_w, capacity_w / efficiency - fan_w
    low_gross, low_power = _gross(low_point or (capacity_w, efficiency), fan_w * fan_share(low_flow, 0.0))
    middle_gross, middle_power = gross, power
    if middle_point is not None:
        place = speed_for(middle_point[0], low_gross, gross, fan_w, low_flow)
        middle_gross, middle_power = _gross(middle_point, fan_w * fan_share(low_flow, place))
    if mild_point is None:
        capacity_curve = normalised(in_celsius(NREL_CAPACITY), RATING_WET_BULB_C, RATING_OUTDOOR_C)
        power_curve = normalised(in_celsius(NREL_INPUT_RATIO), RATING_WET_BULB_C, RATING_OUTDOOR_C)
    else:
        mild_gross = mild_point[0] + fan_w
        mild_power = mild_point[0] / mild_point[1] - fan_w
        capacity_curve = _line(mild_gross / gross)
        power_curve = _line(mild_power / power)
    w, p = rating_humidity_ratio(RATING_INDOOR_C, RATING_WET_BULB_C), STANDARD_PRESSURE_PA
    mass_flow = flow * float(dry_air_density(RATING_INDOOR_C, w, p))
    transfer = coil_transfer(gross, mass_flow, sensible_heat_ratio, RATING_INDOOR_C, RATING_WET_BULB_C)
    return CoolingUnit(
        gross, power, capacity_curve, power_curve, mild_point is None, transfer, degradation, lockout_c,
        NREL_WET_BULB_RANGE_C, NREL_OUTDOOR_RANGE_C, kind, low_gross / gross, low_power / power, low_flow,
        middle_gross / gross, middle_power / power,
    )  # fmt: skip


def tabulated_unit(
    wet_bulb_c: FloatArray,
    outdoor_c: FloatArray,
    capacity_w: FloatArray,
    sensible_w: FloatArray,
    power_w: FloatArray,
    entering_c: float,
    flow_m3_s: float,
    degradation: float,
    lockout_c: float = -math.inf,
    refuses: bool = False,
) -> CoolingUnit:
    """A `CoolingUnit` of a single speed, given a table of its figures gross of the indoor fan.

    Parameters
    ----------
    wet_bulb_c, outdoor_c : ndarray
        Rising nodes (m,), (n,) around the rating point of 67 and 95 degF [degC].
    capacity_w, sensible_w, power_w : ndarray
        At the nodes (m, n) [W].
    entering_c : float
        Dry bulb at which they stand [degC].
    flow_m3_s : float
        Air through the coil, of standard pressure [m3/s].
    degradation : float
        Part-load degradation coefficient Cd [-].
    lockout_c : float
        Compressor off below this outdoor temperature [degC].
    refuses : bool
        As of `PerformanceTable`.

    Returns
    -------
    CoolingUnit
        Its bypass factor is that of the table's sensible share at the rating point.

    Raises
    ------
    ValueError
        The sensible share at the rating point leaves no apparatus dew point.
    """
    x, y = RATING_WET_BULB_C, RATING_OUTDOOR_C
    gross, power = read_performance(PerformanceTable(wet_bulb_c, outdoor_c, capacity_w, power_w), x, y)
    sensible, _ = read_performance(PerformanceTable(wet_bulb_c, outdoor_c, sensible_w, power_w), x, y)
    transfer = coil_transfer(gross, table_mass_flow(entering_c, flow_m3_s), sensible / gross, entering_c, x)
    everywhere = (-math.inf, math.inf)
    constant = (1.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    return CoolingUnit(
        gross, power, constant, constant, False, transfer, degradation, lockout_c, everywhere, everywhere,
        performance=PerformanceTable(wet_bulb_c, outdoor_c, capacity_w / gross, power_w / power, refuses),
    )  # fmt: skip


def table_mass_flow(entering_c: float, flow_m3_s: float) -> float:
    """Dry air through the coil of a table's nodes, given their dry bulb and volume flow.

    Parameters
    ----------
    entering_c : float
        [degC].
    flow_m3_s : float
        Of standard pressure and the humidity of 67 degF wet bulb [m3/s].

    Returns
    -------
    float
        [kg/s].
    """
    w = rating_humidity_ratio(entering_c, RATING_WET_BULB_C)
    return flow_m3_s * float(dry_air_density(entering_c, w, STANDARD_PRESSURE_PA))


def coil_sensible(unit: CoolingUnit, entering_c: float, flow_m3_s: float) -> FloatArray:
    """What the coil of a unit with a table makes sensible at the table's nodes, given the air that they stand in.

    Parameters
    ----------
    unit : CoolingUnit
        From `tabulated_unit`.
    entering_c, flow_m3_s : float
        As of `tabulated_unit` [degC], [m3/s].

    Returns
    -------
    ndarray
        (m, n) [W]: what a run takes, to be held against the table's own figures. A node at which no such air exists,
        its wet bulb too low for its dry bulb, is taken at no humidity.
    """
    assert unit.performance is not None
    nodes, saturation, kg_s = unit.performance, saturation_table(), table_mass_flow(entering_c, flow_m3_s)
    return np.array(
        [
            [
                run_coil(
                    unit, saturation, kg_s, entering_c, max(rating_humidity_ratio(entering_c, x), 0.0), y,
                    STANDARD_PRESSURE_PA, x, DEW_POINT_START_C,
                ).sensible_w
                for y in nodes.outdoor_c
            ]
            for x in nodes.wet_bulb_c
        ]
    )  # fmt: skip


def _gross(net: tuple[float, float], fan_w: float) -> tuple[float, float]:
    """Gross capacity and compressor power [W], given net capacity [W], whole-unit efficiency [W/W] and fan."""
    power = net[0] / net[1] - fan_w
    if power <= 0.0:
        raise ValueError(
            f"{net[0]:.0f} W at an efficiency of {net[1]:.2f} W/W leaves no power for the compressor beside a rated "
            f"fan of {fan_w:.0f} W: lower the efficiency, or the flow at the low stage"
        )
    return net[0] + fan_w, power


def in_celsius(curve: Curve) -> Curve:
    """The same biquadratic in degC, given one of temperatures in degF.

    Parameters
    ----------
    curve : Curve
        Of two temperatures [degF].

    Returns
    -------
    Curve
        Of the same two [degC].
    """
    a, x, x2, y, y2, xy = curve
    return (
        a + 32.0 * (x + y) + 1024.0 * (x2 + y2 + xy),
        1.8 * (x + 64.0 * x2 + 32.0 * xy),
        3.24 * x2,
        1.8 * (y + 64.0 * y2 + 32.0 * xy),
        3.24 * y2,
        3.24 * xy,
    )


def normalised(curve: Curve, wet_bulb_c: float, outdoor_c: float) -> Curve:
    """A biquadratic over its value at a rating point, given the curve and the point.

    Parameters
    ----------
    curve : Curve
        Of entering wet bulb and outdoor dry bulb [degC].
    wet_bulb_c, outdoor_c : float
        The rating point [degC].

    Returns
    -------
    Curve
        1 at that point.
    """
    rated = biquadratic(curve, wet_bulb_c, outdoor_c)
    a, x, x2, y, y2, xy = (coefficient / rated for coefficient in curve)
    return a, x, x2, y, y2, xy


def _line(mild: float) -> Curve:
    slope = (1.0 - mild) / (RATING_OUTDOOR_C - MILD_OUTDOOR_C)
    return 1.0 - slope * RATING_OUTDOOR_C, 0.0, 0.0, slope, 0.0, 0.0


def rating_humidity_ratio(dry_bulb_c: float, wet_bulb_c: float) -> float:
    """Humidity ratio at standard pressure, given dry bulb and wet bulb.

    Parameters
    ----------
    dry_bulb_c, wet_bulb_c : float
        Of the air [degC].

    Returns
    -------
    float
        ASHRAE Fundamentals (2017) ch. 1 eq. 33 [kg/kg].
    """
    saturated = saturated_humidity_ratio(saturation_table(), wet_bulb_c, STANDARD_PRESSURE_PA)
    return ((2501.0 - 2.326 * wet_bulb_c) * saturated - 1.006 * (dry_bulb_c - wet_bulb_c)) / (
        2501.0 + 1.86 * dry_bulb_c - 4.186 * wet_bulb_c
    )


def coil_transfer(
    gross_w: float, mass_flow: float, sensible_heat_ratio: float, dry_bulb_c: float, wet_bulb_c: float
) -> float:
    """-ln(bypass factor) times mass flow at a rating point, given the sensible heat ratio there.

    Parameters
    ----------
    gross_w : float
        Gross capacity [W].
    mass_flow : float
        Dry air through the coil [kg/s].
    sensible_heat_ratio : float
        Sensible share of the gross capacity [-].
    dry_bulb_c, wet_bulb_c : float
        Of the entering air [degC].

    Returns
    -------
    float
        Constant for a coil whose dry side resists [kg/s].

    Raises
    ------
    ValueError
        No apparatus dew point gives this sensible heat ratio.
    """
    from scipy.optimize import bisect

    table, p = saturation_table(), STANDARD_PRESSURE_PA
    t, w = dry_bulb_c, rating_humidity_ratio(dry_bulb_c, wet_bulb_c)
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
            f"{gross_w:.0f} W and {mass_flow:.3g} kg/s of air; the rating point allows {sensible_share(high):.2f} to "
            f"{sensible_share(low):.2f}"
        )
    bypass = bisect(lambda bypass: sensible_share(bypass) - sensible_heat_ratio, low, high, xtol=BYPASS_ERROR)
    return -math.log(bypass) * mass_flow
