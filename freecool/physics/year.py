"""The hours of a year in a row, compiled: one zone, one unit, one damper, one rule."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from freecool.core.air import (
    MOLAR_RATIO,
    SaturationTable,
    read_saturation,
    relative_humidity_of,
    saturation_table,
)
from freecool.core.compiled import kernel
from freecool.core.units import parse
from freecool.physics.cooling_unit import DEW_POINT_START_C, WET_BULB_START_C, CoolingUnit
from freecool.physics.damper import Damper, Fan, shut_inflow
from freecool.physics.hour import (
    STEP_S,
    CompressorStage,
    DamperStage,
    Hour,
    coil_moisture,
    compressor_stage,
    damper_moisture,
    damper_stage,
    float_without_call,
    moisture_stage,
    precooling_set_point,
    with_open_windows,
    with_stream,
)
from freecool.physics.rule import Limits, permits
from freecool.physics.zone import Modes

FloatArray = NDArray[np.float64]

# Where a warm-up begins, and how long it is.
START_C = 20.0
WARM_UP_HOURS = 8760
JOULES_PER_KWH = 3.6e6
# Precooling only while a compressor call is this recent.
PRECOOL_MEMORY_H = 24
# A thermostat's usual throttling range; common practice, no source.
UNMET_BAND_K = 0.5
# US EPA: keep indoor relative humidity below 60 %.
HUMID_RH = 0.6
# ASHRAE 62.1-2022 5.12: indoor dew point at most 60 degF while it is above that outdoors; hours without people count
# above 65 % relative humidity only, which is also the limit of occupied rooms in ASHRAE 62.1-2016 5.9.1 (from memory).
INDOOR_DEW_POINT_C = parse("60F", "temperature")
ROOM_RH = 0.65
# What passes these by less is within the model's own error; our own.
DEW_POINT_ERROR_K, RH_ERROR = parse("1F", "difference"), 0.02
# Rooms this dry are uncomfortable; common practice, no source.
DRY_RH = 0.3
# ASHRAE TC 9.9 (2015), class A1, allowable for equipment: at least a dew point of -12 degC and 8 % (from memory).
EQUIPMENT_DEW_POINT_C, EQUIPMENT_RH = -12.0, 0.08
# ASHRAE 160-2009: 30-day running mean.
MEAN_RH_HOURS = 720


class Hours(NamedTuple):
    """What drives a zone, hour by hour: arrays of equal length, SI."""

    input_k: FloatArray
    """What the network's inputs add to each mode's part of the air, and in the last column to the air itself,
    (hours, modes + 1) [K]."""
    outdoor_c: FloatArray
    """Outdoor dry bulb (hours,) [degC]."""
    outdoor_w: FloatArray
    """Outdoor humidity ratio (hours,) [kg/kg]."""
    outdoor_dew_c: FloatArray
    """Outdoor dew point (hours,) [degC]."""
    pressure_pa: FloatArray
    """Air pressure (hours,) [Pa]."""
    density_kg_m3: FloatArray
    """Dry air in outdoor air (hours,) [kg/m3]."""
    heat_j_kgk: FloatArray
    """Heat capacity of outdoor air (hours,) [J/(K kg) of dry air]."""
    air_change_kg_s: FloatArray
    """Infiltration and scheduled ventilation, dry air (hours,) [kg/s]."""
    ventilation_m3_s: FloatArray
    """The part of it that the unit's fan brings (hours,) [m3/s]."""
    window_kg_s: FloatArray
    """Air that open windows can bring when people want cooling, dry air (hours,) [kg/s]."""
    moisture_kg_s: FloatArray
    """Moisture gain of the room (hours,) [kg/s]."""
    cool_c: FloatArray
    """Cooling set point (hours,) [degC]."""
    heat_c: FloatArray
    """Heating set point (hours,) [degC]."""
    continuous: FloatArray
    """1 while the fan runs whatever the call, else 0 (hours,) [-]."""
    occupied: NDArray[np.bool_]
    """Whether people are there (hours,)."""
    price: FloatArray
    """Of electricity (hours,) [currency/kWh]."""
    year: NDArray[np.int64]
    """Index of the year that an hour counts in (hours,)."""


class HourRun(NamedTuple):
    """What a run tells of one hour: a row of its hourly table."""

    indoor_c: float
    """Air temperature at the hour's end [degC]."""
    humidity_ratio: float
    """Of the room at the hour's end [kg/kg]."""
    relative_humidity: float
    """Of the room at the hour's end [0-1]."""
    compressor_w: float
    """Compressor and condenser fan [W]."""
    fan_w: float
    """Indoor and relief fan [W]."""
    heating_w: float
    """Heat to the air [W]."""
    cooling_w: float
    """Sensible heat that the compressor takes from the air [W]."""
    permitted: float
    """1 where the rule lets the damper open, else 0 [-]."""
    damper: float
    """Share of full flow of the open damper [-]."""
    run_time: float
    """Share of the hour that the compressor runs [-]."""
    sensible_to_air_w: float
    """Heat to the air by heating, cooling and a fan that runs whatever the call [W]."""
    extra_air_w_k: float
    """Heat capacity flow of all outdoor air streams [W/K]."""
    extra_air_w: float
    """Heat that they bring, counted from 0 degC [W]."""
    condensate_kg: float
    """Condensed at surfaces [kg]."""
    moisture_in_kg: float
    """Water that the open damper's air brings [kg]."""
    moisture_coil_kg: float
    """Water that the coil takes [kg]."""


class Totals(NamedTuple):
    """What a run adds up, by year; in kernels, the columns of the table of totals."""

    permitted: int
    """Hours in which the rule lets the damper open [h]."""
    cooling: int
    """Hours with a compressor call without the damper [h]."""
    coincident: int
    """Permitted ones among them [h]."""
    carried: int
    """Those among them without a compressor call now [h]."""
    free_cooling: int
    """Damper hours at full flow [h]."""
    damp: int
    """Hours with the damper open above the caution dew point [h]."""
    unmet: int
    """Hours in which a call leaves the air more than 0.5 K above the temperature to hold [h]."""
    unmet_degree_hours: int
    """Above the cooling set point [K h]."""
    compressor_j: int
    """Compressor and condenser fan [J]."""
    fan_j: int
    """Indoor and relief fan [J]."""
    heating_j: int
    """Heat to the air [J]."""
    cooling_j: int
    """Sensible heat that the compressor takes [J]."""
    humid: int
    """Hours above 60 % relative humidity indoors [h]."""
    humid_dew_point: int
    """Hours above a dew point of 60 degF indoors [h]."""
    moisture_in_kg: int
    """Water that the open damper's air brings [kg]."""
    moisture_coil_kg: int
    """Water that the coil takes [kg]."""
    condensate_kg: int
    """Condensed at surfaces [kg]."""
    frost: int
    """Hours with a coil near frost [h]."""
    worst_mean_rh: int
    """Highest 30-day mean of relative humidity indoors [0-1]."""
    damper_open: int
    """Hours with the damper open, however far [h]."""
    electricity_cost: int
    """Of compressor and fan [currency]."""
    outside_table: int
    """Hours with the compressor in conditions that the unit's table does not reach [h]."""
    occupied: int
    """Hours with people [h]."""
    damp_dew_point: int
    """Hours by ASHRAE 62.1-2022 5.12: dew points above 60 degF outdoors and, by more than the error, indoors [h]."""
    damp_occupied: int
    """Occupied hours above 65 % relative humidity indoors by more than the error [h]."""
    dry_occupied: int
    """Occupied hours below 30 % relative humidity indoors by more than the error [h]."""
    very_dry: int
    """Hours drier indoors than equipment is allowed [h]."""


HOURLY = HourRun._fields
"""Names of the columns of an hourly table."""
TOTALS = Totals._fields
"""Names of the columns of a table of totals."""
# Indices of these columns, under their names.
HOUR_COLUMN = HourRun(*range(len(HOURLY)))
TOTAL_COLUMN = Totals(*range(len(TOTALS)))


@kernel(inline=True)
def hour_of(hours, i):
    """The `Hour` of an index, given the arrays of all hours.

    Parameters
    ----------
    hours : Hours
        All hours.
    i : int
        Which one.

    Returns
    -------
    Hour
        Its values.
    """
    return Hour(
        hours.outdoor_c[i],
        hours.outdoor_w[i],
        hours.pressure_pa[i],
        hours.density_kg_m3[i],
        hours.heat_j_kgk[i],
        hours.air_change_kg_s[i],
        hours.ventilation_m3_s[i],
        hours.window_kg_s[i],
        hours.moisture_kg_s[i],
        hours.cool_c[i],
        hours.heat_c[i],
        hours.continuous[i],
    )


@kernel(inline=True)
def floating_temperature(parts, input_k, i):
    """Air temperature that a closed room floats to at the hour's end [degC], given its parts and inputs.

    Parameters
    ----------
    parts : ndarray
        The modes' parts of the air temperature (modes,) [K].
    input_k : ndarray
        As `Hours.input_k` [K].
    i : int
        The hour.

    Returns
    -------
    float
        ``sum(p) + G[-1] u`` of `zone.Modes` [degC].
    """
    floating_c = input_k[i, parts.size]
    for mode in range(parts.size):
        floating_c += parts[mode]
    return floating_c


@kernel(inline=True)
def step_parts(parts, modes, input_k, i, heat_w):
    """Take the modes' parts of the air temperature to the hour's end, in place, given the heat to the air.

    Parameters
    ----------
    parts : ndarray
        (modes,) [K].
    modes : Modes
        Of the zone's network.
    input_k : ndarray
        As `Hours.input_k` [K].
    i : int
        The hour.
    heat_w : float
        To the air, air streams included [W].

    Notes
    -----
    ``p <- keep p + G u + push Q`` of `zone.Modes`.
    """
    for mode in range(parts.size):
        parts[mode] = modes.keep[mode] * parts[mode] + (input_k[i, mode] + modes.push[mode] * heat_w)


@kernel(inline=True)
def running_sum(values, i, before):
    """Sum of the last 720 values, given all up to one and the sum before it.

    Parameters
    ----------
    values : ndarray
        All so far.
    i : int
        Index of the newest.
    before : float
        The sum without it.

    Returns
    -------
    float
        Of fewer where there are no more yet.
    """
    after = before + values[i]
    return after - values[i - MEAN_RH_HOURS] if i >= MEAN_RH_HOURS else after


@kernel(inline=True)
def add_flows(total, run, price):
    """Add an hour's energy, cost and water to the totals of its year, in place, given the hour's run.

    Parameters
    ----------
    total : ndarray
        (TOTALS,).
    run : HourRun
        What the run tells of the hour.
    price : float
        Of electricity [currency/kWh].
    """
    total[TOTAL_COLUMN.compressor_j] += run.compressor_w * STEP_S
    total[TOTAL_COLUMN.fan_j] += run.fan_w * STEP_S
    total[TOTAL_COLUMN.heating_j] += run.heating_w * STEP_S
    total[TOTAL_COLUMN.cooling_j] += run.cooling_w * STEP_S
    total[TOTAL_COLUMN.electricity_cost] += (run.compressor_w + run.fan_w) * price * (STEP_S / JOULES_PER_KWH)
    total[TOTAL_COLUMN.free_cooling] += run.damper
    total[TOTAL_COLUMN.moisture_in_kg] += run.moisture_in_kg
    total[TOTAL_COLUMN.moisture_coil_kg] += run.moisture_coil_kg
    total[TOTAL_COLUMN.condensate_kg] += run.condensate_kg


@kernel(inline=True)
def count_damper(total, permitted, opened, damp, base_called, called):
    """Count an hour of the damper in the totals of its year, in place.

    Parameters
    ----------
    total : ndarray
        (TOTALS,).
    permitted, opened, damp : bool
        The rule lets the damper open; it is open; outdoor air is above the caution dew point.
    base_called, called : bool
        The compressor is called without the damper; in this run.
    """
    if permitted:
        total[TOTAL_COLUMN.permitted] += 1.0
    if opened:
        total[TOTAL_COLUMN.damper_open] += 1.0
        if damp:
            total[TOTAL_COLUMN.damp] += 1.0
    if base_called:
        total[TOTAL_COLUMN.cooling] += 1.0
        if permitted:
            total[TOTAL_COLUMN.coincident] += 1.0
        if not called:
            total[TOTAL_COLUMN.carried] += 1.0


@kernel(inline=True)
def count_comfort(total, run, called, hold_c, cool_c, pressure_pa, limit_pa):
    """Count an hour's air that is too warm or too humid in the totals of its year, in place.

    Parameters
    ----------
    total : ndarray
        (TOTALS,).
    run : HourRun
        What the run tells of the hour.
    called : bool
        The compressor is called.
    hold_c, cool_c : float
        Temperature that it holds, and cooling set point [degC].
    pressure_pa, limit_pa : float
        Air pressure, and vapour pressure at the limit of indoor dew point [Pa].

    Notes
    -----
    Vapour pressure is ``p w / (0.621945 + w)``, ASHRAE Fundamentals (2017) ch. 1 eq. 20.
    """
    if called and run.indoor_c > hold_c + UNMET_BAND_K:
        total[TOTAL_COLUMN.unmet] += 1.0
    if run.indoor_c > cool_c:
        total[TOTAL_COLUMN.unmet_degree_hours] += run.indoor_c - cool_c
    if run.relative_humidity > HUMID_RH:
        total[TOTAL_COLUMN.humid] += 1.0
    if pressure_pa * run.humidity_ratio > limit_pa * (MOLAR_RATIO + run.humidity_ratio):
        total[TOTAL_COLUMN.humid_dew_point] += 1.0


@kernel(inline=True)
def keep_hour(row, run):
    """Write an hour into its row of the hourly table, in place.

    Parameters
    ----------
    row : ndarray
        (HOURLY,).
    run : HourRun
        What the run tells of the hour.
    """
    row[HOUR_COLUMN.indoor_c] = run.indoor_c
    row[HOUR_COLUMN.humidity_ratio] = run.humidity_ratio
    row[HOUR_COLUMN.relative_humidity] = run.relative_humidity
    row[HOUR_COLUMN.compressor_w] = run.compressor_w
    row[HOUR_COLUMN.fan_w] = run.fan_w
    row[HOUR_COLUMN.heating_w] = run.heating_w
    row[HOUR_COLUMN.cooling_w] = run.cooling_w
    row[HOUR_COLUMN.permitted] = run.permitted
    row[HOUR_COLUMN.damper] = run.damper
    row[HOUR_COLUMN.run_time] = run.run_time
    row[HOUR_COLUMN.sensible_to_air_w] = run.sensible_to_air_w
    row[HOUR_COLUMN.extra_air_w_k] = run.extra_air_w_k
    row[HOUR_COLUMN.extra_air_w] = run.extra_air_w
    row[HOUR_COLUMN.condensate_kg] = run.condensate_kg
    row[HOUR_COLUMN.moisture_in_kg] = run.moisture_in_kg
    row[HOUR_COLUMN.moisture_coil_kg] = run.moisture_coil_kg


@kernel(inline=True)
def count_humidity(total, run, occupied, outdoor_dew_c, pressure_pa, damp_pa, dry_pa):
    """Count an hour by what published clauses say of indoor humidity in the totals of its year, in place.

    Parameters
    ----------
    total : ndarray
        (TOTALS,).
    run : HourRun
        What the run tells of the hour.
    occupied : bool
        People are there.
    outdoor_dew_c : float
        Outdoor dew point [degC].
    pressure_pa, damp_pa, dry_pa : float
        Air pressure, and vapour pressures at the limits of indoor dew point, the higher with the model's error [Pa].
    """
    rh, w = run.relative_humidity, run.humidity_ratio
    humid = rh > ROOM_RH + RH_ERROR
    if occupied:
        total[TOTAL_COLUMN.occupied] += 1.0
        if humid:
            total[TOTAL_COLUMN.damp_occupied] += 1.0
        if rh < DRY_RH - RH_ERROR:
            total[TOTAL_COLUMN.dry_occupied] += 1.0
    if outdoor_dew_c > INDOOR_DEW_POINT_C and (occupied or humid) and pressure_pa * w > damp_pa * (MOLAR_RATIO + w):
        total[TOTAL_COLUMN.damp_dew_point] += 1.0
    if rh < EQUIPMENT_RH or pressure_pa * w < dry_pa * (MOLAR_RATIO + w):
        total[TOTAL_COLUMN.very_dry] += 1.0


@kernel()
def run_year(zone, unit, fan, damper, limits, table, base_called, parts, start_w, totals, called, hourly):
    """All hours of a zone in a row, given its first state; the tables and the state are filled in place.

    Parameters
    ----------
    zone : Zone
        Its modes, drives and moisture store.
    unit : CoolingUnit
        The compressor.
    fan : Fan
        Its full flow and power.
    damper : Damper
        Its share, limits and leakage.
    limits : Limits
        The rule.
    table : SaturationTable
        From `freecool.core.air.saturation_table`.
    base_called : ndarray
        Compressor call without the damper (hours,).
    parts : ndarray
        The modes' parts of the air temperature (modes,), changed to the last [K].
    start_w : float
        Humidity ratio at the start [kg/kg].
    totals : ndarray
        Filled (years, TOTALS).
    called : ndarray
        Filled with compressor calls (hours,).
    hourly : ndarray
        Filled (hours, HOURLY), or without rows.

    Returns
    -------
    float
        The last humidity ratio [kg/kg].
    """
    hours, modes = zone.hours, zone.modes
    w = start_w
    was_open = True
    since_call = PRECOOL_MEMORY_H + 1
    last_run_time = 0.0
    wet_bulb_c, dew_point_c = WET_BULB_START_C, DEW_POINT_START_C
    humidity = np.empty(hours.outdoor_c.size)
    humidity_sum = 0.0
    limit_pa, _ = read_saturation(table, INDOOR_DEW_POINT_C)
    damp_pa, _ = read_saturation(table, INDOOR_DEW_POINT_C + DEW_POINT_ERROR_K)
    dry_pa, _ = read_saturation(table, EQUIPMENT_DEW_POINT_C)
    for i in range(hours.outdoor_c.size):
        hour = hour_of(hours, i)
        total = totals[hours.year[i]]
        standing_fan_w = fan.watts * hour.continuous
        call_fan_w = fan.watts * (1.0 - hour.continuous)
        air = float_without_call(floating_temperature(parts, hours.input_k, i), modes.response, standing_fan_w, hour)

        return_c = min(max(air.temperature_c, hour.heat_c), hour.cool_c)
        permitted = damper.fitted and permits(
            limits, table, was_open, hour.outdoor_c, hour.outdoor_w, hour.cool_c, return_c, w, hour.pressure_pa
        )
        was_open = permitted

        ventilation_m3_s = hour.ventilation_m3_s * hour.continuous
        inflow_m3_s = shut_inflow(damper, fan, ventilation_m3_s)
        shut_m3_s = ventilation_m3_s + inflow_m3_s
        # How long the fan will run in this hour is known after it: the last hour's run time stands in.
        drawn_m3_s = inflow_m3_s * max(hour.continuous, last_run_time)
        if drawn_m3_s > 0.0:
            drawn_kg_s = drawn_m3_s * hour.density_kg_m3
            air = with_stream(air, drawn_kg_s * hour.heat_j_kgk, hour.outdoor_c, drawn_kg_s)
        air = with_open_windows(air, hour)

        damped = DamperStage(air, 0.0, 0.0, 0.0, 0.0, hour.cool_c)
        cooled = CompressorStage(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, False, wet_bulb_c, dew_point_c, False)
        heating_w = 0.0
        call = False
        if air.temperature_c < hour.heat_c:
            heating_w = (hour.heat_c - air.temperature_c) / air.response_k_w
            indoor_c = hour.heat_c
        else:
            if permitted:
                precools = damper.precool_k > 0.0 and since_call <= PRECOOL_MEMORY_H
                target_c = precooling_set_point(damper, hour) if precools else hour.cool_c
                through_fan_m3_s = ventilation_m3_s + drawn_m3_s
                damped = damper_stage(air, damper, fan, call_fan_w, hour, through_fan_m3_s, target_c)
            call = damped.air.temperature_c > damped.hold_c
            if call:
                cooled = compressor_stage(
                    damped, unit, fan, call_fan_w, hour, shut_m3_s, w, table, wet_bulb_c, dew_point_c
                )
            indoor_c = damped.air.temperature_c - damped.air.response_k_w * cooled.cooling_w

        saturation_pa, _ = read_saturation(table, indoor_c)
        moisture = moisture_stage(w, damped, cooled, hour, zone.store_kg, saturation_pa)
        sensible_w = heating_w - cooled.cooling_w + standing_fan_w
        run = HourRun(
            indoor_c,
            moisture.humidity_ratio,
            relative_humidity_of(moisture.humidity_ratio, hour.pressure_pa, saturation_pa),
            cooled.power_w,
            standing_fan_w + damped.fan_w + cooled.fan_w,
            heating_w,
            cooled.cooling_w,
            1.0 if permitted else 0.0,
            damped.flow_share,
            cooled.run_time,
            sensible_w,
            damped.air.stream_w_k,
            damped.air.stream_w,
            moisture.condensate_kg,
            damper_moisture(damped, hour, moisture.mean),
            coil_moisture(cooled, hour, moisture.mean),
        )
        heat_w = sensible_w + run.extra_air_w - run.extra_air_w_k * indoor_c
        step_parts(parts, modes, hours.input_k, i, heat_w)
        w = run.humidity_ratio
        since_call = 0 if call else since_call + 1
        last_run_time = run.run_time
        wet_bulb_c, dew_point_c = cooled.wet_bulb_c, cooled.dew_point_c

        called[i] = call
        humidity[i] = run.relative_humidity
        humidity_sum = running_sum(humidity, i, humidity_sum)
        if i >= MEAN_RH_HOURS - 1:
            total[TOTAL_COLUMN.worst_mean_rh] = max(total[TOTAL_COLUMN.worst_mean_rh], humidity_sum / MEAN_RH_HOURS)
        if cooled.frost:
            total[TOTAL_COLUMN.frost] += 1.0
        if cooled.outside_table:
            total[TOTAL_COLUMN.outside_table] += 1.0
        damp = hours.outdoor_dew_c[i] > damper.caution_dew_c
        add_flows(total, run, hours.price[i])
        count_damper(total, permitted, run.damper > 0.0, damp, base_called[i], call)
        count_comfort(total, run, call, damped.hold_c, hour.cool_c, hour.pressure_pa, limit_pa)
        count_humidity(total, run, hours.occupied[i], hours.outdoor_dew_c[i], hour.pressure_pa, damp_pa, dry_pa)
        if hourly.shape[0] > 0:
            keep_hour(hourly[i], run)
    return w


NO_LIMITS = Limits()


class Zone(NamedTuple):
    """A zone ready to run: its modes, drives, and the water that its air and contents hold per kg/kg."""

    modes: Modes
    hours: Hours
    store_kg: float


class YearRun(NamedTuple):
    """One complete run."""

    totals: FloatArray
    """(years, TOTALS)."""
    called: NDArray[np.bool_]
    """Compressor call, by hour."""
    hourly: FloatArray
    """(hours, HOURLY), or no rows."""
    start: tuple[FloatArray, float]
    """Warmed-up parts of the air temperature, and humidity ratio, that it started from."""

    def total(self, name: str) -> FloatArray:
        """One total by year, given its name.

        Parameters
        ----------
        name : str
            One of `TOTALS`.

        Returns
        -------
        ndarray
            (years,), in the unit of `Totals`.
        """
        return self.totals[:, TOTALS.index(name)]

    def column(self, name: str) -> FloatArray:
        """One column of the hourly table, given its name.

        Parameters
        ----------
        name : str
            One of `HOURLY`.

        Returns
        -------
        ndarray
            (hours,), in the unit of `HourRun`.
        """
        return self.hourly[:, HOURLY.index(name)]


NO_DAMPER = Damper(False, 1.0, 0.0, 10.0, True, 0.0, 0.0, INDOOR_DEW_POINT_C)


def simulate(
    zone: Zone,
    unit: CoolingUnit,
    fan: Fan,
    damper: Damper = NO_DAMPER,
    limits: Limits = NO_LIMITS,
    base: YearRun | None = None,
    hourly: bool = False,
    warm_up: bool = True,
) -> YearRun:
    """A complete run of all hours, given zone, unit, fan, damper and rule.

    Parameters
    ----------
    zone : Zone
        Its modes, drives and moisture store.
    unit : CoolingUnit
        The compressor.
    fan : Fan
        Its full flow and power.
    damper : Damper
        `NO_DAMPER` or `Damper.fitted` false for the building without it.
    limits : Limits
        The rule.
    base : YearRun, optional
        The run without the damper, for coincident and carried hours; this run then starts from the same state.
    hourly : bool
        Keep the hourly table.
    warm_up : bool
        Run the first 8,760 hours once before counting.

    Returns
    -------
    YearRun
        Totals by year, compressor calls, and the hourly table where it was asked for.
    """
    hours = zone.hours
    count, years = hours.outdoor_c.size, int(hours.year.max()) + 1
    table: SaturationTable = saturation_table()
    parts, w = (START_C * zone.modes.uniform, float(hours.outdoor_w[0])) if base is None else base.start
    parts = parts.copy()
    base_called = np.zeros(count, dtype=np.bool_) if base is None else base.called

    def _run(part: Zone, start_w: float, rows: FloatArray) -> tuple[float, FloatArray, NDArray[np.bool_]]:
        totals = np.zeros((years, len(TOTALS)))
        called = np.zeros(part.hours.outdoor_c.size, dtype=np.bool_)
        end_w = run_year(part, unit, fan, damper, limits, table, base_called, parts, start_w, totals, called, rows)
        return float(end_w), totals, called

    no_rows = np.zeros((0, len(HOURLY)))
    if warm_up and base is None:
        first = Hours._make(column[:WARM_UP_HOURS] for column in hours)
        w, _, _ = _run(zone._replace(hours=first), w, no_rows)
    start = parts.copy(), w
    rows = np.zeros((count, len(HOURLY))) if hourly else no_rows
    _, totals, called = _run(zone, w, rows)
    if base is None:
        totals[:, TOTAL_COLUMN.cooling] = np.bincount(hours.year, weights=called, minlength=years)
    return YearRun(totals, called, rows, start)
