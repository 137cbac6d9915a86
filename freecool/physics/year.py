"""The hours of a year in a row, compiled: one zone, one unit, one damper, one rule."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from freecool.core.air import (
    KELVIN,
    MOLAR_RATIO,
    SaturationTable,
    read_saturation,
    relative_humidity_of,
    saturation_table,
)
from freecool.core.compiled import kernel
from freecool.core.units import parse
from freecool.physics.cooling_unit import DEW_POINT_START_C, FROST_C, WET_BULB_START_C, CoolingUnit, run_coil
from freecool.physics.damper import LEAST_DRIVE_K, Damper, Fan, damper_stream, part_flow
from freecool.physics.moisture import moisture_hour
from freecool.physics.rule import Limits, permits
from freecool.physics.zone import Modes

FloatArray = NDArray[np.float64]

STEP_S = 3600.0
# Where a warm-up begins; it forgets it.
START_C = 20.0
JOULES_PER_KWH = 3.6e6
# Precooling only while a compressor call is this recent.
PRECOOL_MEMORY_H = 24
PRECOOL_ABOVE_HEATING_K = 1.0
# A thermostat's usual throttling range; common practice, no source.
UNMET_BAND_K = 0.5
# People open windows only when it is at least this much cooler outside; common practice, no source.
WINDOW_DRIVE_K = 1.0
# US EPA: keep indoor relative humidity below 60 %.
HUMID_RH = 0.6
# ASHRAE 62.1-2022 5.12: indoor dew point at most 60 degF.
INDOOR_DEW_POINT_C = parse("60F", "temperature")
# ASHRAE 160-2009: 30-day running mean.
MEAN_RH_HOURS = 720


class Hours(NamedTuple):
    """What drives a zone, hour by hour: arrays of equal length, SI."""

    forced: FloatArray
    """G u of the modes, the air's in the last column (hours, modes + 1)."""
    outdoor_c: FloatArray
    outdoor_w: FloatArray
    outdoor_dew_c: FloatArray
    pressure_pa: FloatArray
    density_kg_m3: FloatArray
    """Dry air in outdoor air."""
    heat_j_kgk: FloatArray
    """Heat capacity of outdoor air per kg of dry air."""
    air_change_kg_s: FloatArray
    """Infiltration and scheduled ventilation, dry air."""
    ventilation_m3_s: FloatArray
    """The part of it that the unit's fan brings."""
    window_kg_s: FloatArray
    """Air that open windows can bring when people want cooling."""
    moisture_kg_s: FloatArray
    cool_c: FloatArray
    heat_c: FloatArray
    continuous: FloatArray
    """1 while the fan runs whatever the call, else 0."""
    price: FloatArray
    """Of electricity, per kWh."""
    year: NDArray[np.int64]
    """Index of the year that an hour counts in."""


TOTALS = (
    "permitted", "cooling", "coincident", "carried", "free_cooling", "damp", "unmet", "unmet_degree_hours",
    "compressor_j", "fan_j", "heating_j", "cooling_j", "humid", "humid_dew_point", "moisture_in_kg",
    "moisture_coil_kg", "condensate_kg", "frost", "worst_mean_rh", "damper_open", "electricity_cost",
)  # fmt: skip
HOURLY = (
    "indoor_c", "humidity_ratio", "relative_humidity", "compressor_w", "fan_w", "heating_w", "cooling_w",
    "permitted", "damper", "run_time", "sensible_to_air_w", "extra_air_w_k", "extra_air_w", "condensate_kg",
    "moisture_in_kg", "moisture_coil_kg",
)  # fmt: skip
(
    PERMITTED, COOLING, COINCIDENT, CARRIED, FREE, DAMP, UNMET, DEGREE_HOURS, COMPRESSOR, FAN, HEATING, COOLED, HUMID,
    HUMID_DEW, WATER_IN, WATER_COIL, CONDENSATE, FROST, WORST_RH, DAMPER_OPEN, COST,
) = range(len(TOTALS))  # fmt: skip


@kernel()
def run_year(
    modes,
    hours,
    unit,
    fan,
    damper,
    limits,
    store_kg,
    table,
    base_called,
    x,
    start_w,
    totals,
    called,
    hourly,
):
    """Run all hours from parts x and humidity ratio start_w; fill totals (years, TOTALS), called and hourly.

    `x` is changed in place to the last parts; returns the last humidity ratio. `hourly` may have no rows.
    docs/how-it-works.md tells the steps.
    """
    keep, push, r_free = modes.keep, modes.push, modes.response
    count = x.size
    w = start_w
    was_open = True
    since_call = PRECOOL_MEMORY_H + 1
    last_run = 0.0
    wet_bulb_c, dew_point_c = WET_BULB_START_C, DEW_POINT_START_C
    told = hourly.shape[0] > 0
    humidity = np.empty(hours.outdoor_c.size)
    rh_sum = 0.0
    limit_dew_pa, _ = read_saturation(table, INDOOR_DEW_POINT_C)
    for i in range(hours.outdoor_c.size):
        total = totals[hours.year[i]]
        outdoor, outdoor_w, p = hours.outdoor_c[i], hours.outdoor_w[i], hours.pressure_pa[i]
        density, heat = hours.density_kg_m3[i], hours.heat_j_kgk[i]
        cool, warm, continuous = hours.cool_c[i], hours.heat_c[i], hours.continuous[i]
        free = hours.forced[i, count]
        for m in range(count):
            free += x[m]

        # Infiltration, scheduled ventilation and a continuous fan come first: the zone without a call.
        base_kg_s = hours.air_change_kg_s[i]
        extra = base_kg_s * heat
        extra_heat = extra * outdoor
        damping = 1.0 / (1.0 + r_free * extra)
        r = r_free * damping
        a = (free + r_free * (extra_heat + fan.watts * continuous)) * damping

        through_fan = hours.ventilation_m3_s[i] * continuous
        permitted = damper.fitted and permits(
            limits, table, was_open, outdoor, outdoor_w, cool, min(max(a, warm), cool), w, p,
        )  # fmt: skip
        was_open = permitted
        # A shut damper leaks while the fan runs, ventilation through it apart; opening it adds only the rest.
        shut_m3_s = through_fan
        if damper.fitted and damper.leakage > 0.0:
            leak_m3_s = max(damper.leakage * fan.flow_m3_s - through_fan, 0.0)
            shut_m3_s += leak_m3_s
            through_fan += leak_m3_s * max(continuous, last_run)
            leak = leak_m3_s * density * max(continuous, last_run)
            base_kg_s += leak
            extra += leak * heat
            extra_heat += leak * heat * outdoor
            a = (a + r * leak * heat * outdoor) / (1.0 + r * leak * heat)
            r = r / (1.0 + r * leak * heat)

        window_kg_s = 0.0
        if hours.window_kg_s[i] > 0.0 and a > cool and outdoor < cool - WINDOW_DRIVE_K:
            window_kg_s = min(hours.window_kg_s[i], (a - cool) / r / (cool - outdoor) / heat)
            opened = window_kg_s * heat
            base_kg_s += window_kg_s
            extra += opened
            extra_heat += opened * outdoor
            a = (a + r * opened * outdoor) / (1.0 + r * opened)
            r = r / (1.0 + r * opened)
            if window_kg_s < hours.window_kg_s[i]:
                a = cool

        auto_fan_w = fan.watts * (1.0 - continuous)
        heating = 0.0
        to_air = 0.0
        flow_share = 0.0
        fan_w = fan.watts * continuous
        damper_kg_s = 0.0
        open_share = 0.0
        run = 0.0
        compressor_w = 0.0
        cooled = 0.0
        coil_kg_s = 0.0
        coil_share = 0.0
        coil_w = 0.0
        call = False
        t = a
        if a < warm:
            heating = (warm - a) / r
            to_air = heating
            t = warm
        else:
            hold = cool
            # Stage 1: as far down as it may go, by the share of the hour that holds the target.
            if permitted:
                target = cool
                if damper.precool_k > 0.0 and since_call <= PRECOOL_MEMORY_H:
                    target = min(cool, max(cool - damper.precool_k, warm + PRECOOL_ABOVE_HEATING_K))
                if a > target:
                    stream = damper_stream(damper, fan, auto_fan_w, through_fan, outdoor, target, density, heat)
                    if target < cool and stream.supply_c >= target - LEAST_DRIVE_K:
                        target = cool
                        stream = damper_stream(damper, fan, auto_fan_w, through_fan, outdoor, target, density, heat)
                    if a > target and stream.conductance_w_k > 0.0 and stream.supply_c < target - LEAST_DRIVE_K:
                        flow_share, power_share, supply = part_flow(fan, stream, auto_fan_w, target, (a - target) / r)
                        hold = cool + damper.offset_k
                        added = flow_share * stream.conductance_w_k
                        after = (a + r * added * supply) / (1.0 + r * added)
                        if flow_share >= 1.0 and after > hold and not damper.integrated:
                            # It cannot carry the hour: shut, and all of the need is the compressor's.
                            flow_share = 0.0
                        else:
                            damper_kg_s = flow_share * stream.outdoor_kg_s
                            open_share = stream.outdoor_share
                            extra += added
                            extra_heat += added * supply
                            a = target if flow_share < 1.0 else after
                            r = r / (1.0 + r * added)
                            fan_w += auto_fan_w * power_share
                t = a
            # Stage 2: the rest, up to the sensible capacity of the hour.
            if a > hold:
                call = True
                need = (a - hold) / r
                coil_share = open_share if flow_share > 0.0 else min(shut_m3_s / fan.flow_m3_s, 1.0)
                entering = coil_share * outdoor + (1.0 - coil_share) * hold
                coil_w = coil_share * outdoor_w + (1.0 - coil_share) * w
                mass_flow = fan.flow_m3_s * density * (outdoor + KELVIN) / (entering + KELVIN)
                coil = run_coil(unit, table, mass_flow, entering, coil_w, outdoor, p, wet_bulb_c, dew_point_c)
                wet_bulb_c, dew_point_c = coil.wet_bulb_c, coil.dew_point_c
                # With the damper open its stream already carries the fan's heat.
                counted = auto_fan_w if flow_share == 0.0 else 0.0
                capacity = coil.sensible_w - counted
                if capacity > 0.0:
                    cooled = min(need, capacity)
                    load_ratio = cooled / capacity
                    run = load_ratio / (1.0 - unit.degradation * (1.0 - load_ratio))
                    compressor_w = coil.power_w * run
                    if flow_share == 0.0:
                        fan_w += auto_fan_w * run
                    if coil.wet:
                        coil_kg_s = run * mass_flow * (1.0 - coil.bypass)
                        coil_w = coil.dew_point_w
                    if coil.leaving_c < FROST_C:
                        total[FROST] += 1.0
                to_air -= cooled
                t = a - r * cooled

        # The coil is a stream toward its dew point: the return part dries the room, the outdoor part arrives drier.
        flows = base_kg_s + damper_kg_s + coil_kg_s * (1.0 - coil_share)
        source = (
            (base_kg_s + damper_kg_s) * outdoor_w
            + coil_kg_s * (coil_w - coil_share * outdoor_w)
            + hours.moisture_kg_s[i]
        )
        saturation_pa, _ = read_saturation(table, t)
        wet = moisture_hour(w, flows, source, store_kg, STEP_S, saturation_pa, p)
        water_in = damper_kg_s * (outdoor_w - wet.mean) * STEP_S
        water_coil = coil_kg_s * ((1.0 - coil_share) * wet.mean + coil_share * outdoor_w - coil_w) * STEP_S
        w = wet.humidity_ratio

        flow_to_air = to_air + fan.watts * continuous + extra_heat - extra * t
        for m in range(count):
            x[m] = keep[m] * x[m] + (hours.forced[i, m] + push[m] * flow_to_air)

        since_call = 0 if call else since_call + 1
        last_run = run
        rh = relative_humidity_of(w, p, saturation_pa)
        humidity[i] = rh
        rh_sum += rh
        if i >= MEAN_RH_HOURS:
            rh_sum -= humidity[i - MEAN_RH_HOURS]
        if i >= MEAN_RH_HOURS - 1:
            total[WORST_RH] = max(total[WORST_RH], rh_sum / MEAN_RH_HOURS)

        called[i] = call
        total[COMPRESSOR] += compressor_w * STEP_S
        total[FAN] += fan_w * STEP_S
        total[COST] += (compressor_w + fan_w) * hours.price[i] * (STEP_S / JOULES_PER_KWH)
        total[HEATING] += heating * STEP_S
        total[COOLED] += cooled * STEP_S
        total[FREE] += flow_share
        total[WATER_IN] += water_in
        total[WATER_COIL] += water_coil
        total[CONDENSATE] += wet.condensate_kg
        if permitted:
            total[PERMITTED] += 1.0
        if flow_share > 0.0:
            total[DAMPER_OPEN] += 1.0
            if hours.outdoor_dew_c[i] > damper.caution_dew_c:
                total[DAMP] += 1.0
        if base_called[i]:
            total[COOLING] += 1.0
            if permitted:
                total[COINCIDENT] += 1.0
            if not call:
                total[CARRIED] += 1.0
        if call and t > hold + UNMET_BAND_K:
            total[UNMET] += 1.0
        if t > cool:
            total[DEGREE_HOURS] += t - cool
        if rh > HUMID_RH:
            total[HUMID] += 1.0
        if p * w > limit_dew_pa * (MOLAR_RATIO + w):
            total[HUMID_DEW] += 1.0
        if told:
            row = hourly[i]
            row[0] = t
            row[1] = w
            row[2] = rh
            row[3] = compressor_w
            row[4] = fan_w
            row[5] = heating
            row[6] = cooled
            row[7] = 1.0 if permitted else 0.0
            row[8] = flow_share
            row[9] = run
            row[10] = to_air + fan.watts * continuous
            row[11] = extra
            row[12] = extra_heat
            row[13] = wet.condensate_kg
            row[14] = water_in
            row[15] = water_coil
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
        """One total by year."""
        return self.totals[:, TOTALS.index(name)]

    def column(self, name: str) -> FloatArray:
        """One column of the hourly table."""
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
    unit : CoolingUnit
    fan : Fan
    damper : Damper
        `NO_DAMPER` for the building without it.
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
    """
    hours = zone.hours
    count = hours.outdoor_c.size
    table: SaturationTable = saturation_table()
    x, w = (START_C * zone.modes.uniform, float(hours.outdoor_w[0])) if base is None else base.start
    x = x.copy()
    years = int(hours.year.max()) + 1
    base_called = base.called if base is not None else np.zeros(count, dtype=np.bool_)

    def run(some: Hours, called: NDArray[np.bool_], totals: FloatArray, table_rows: FloatArray, start: float) -> float:
        return float(
            run_year(
                zone.modes,
                some,
                unit,
                fan,
                damper,
                limits,
                zone.store_kg,
                table,
                base_called,
                x,
                start,
                totals,
                called,
                table_rows,
            )
        )

    none = np.zeros((0, len(HOURLY)))
    if warm_up and base is None:
        first = hours._replace(**{name: column[:8760] for name, column in hours._asdict().items()})
        w = run(first, np.zeros(count, dtype=np.bool_), np.zeros((years, len(TOTALS))), none, w)
    start = x.copy(), w
    totals = np.zeros((years, len(TOTALS)))
    called = np.zeros(count, dtype=np.bool_)
    rows = np.zeros((count, len(HOURLY))) if hourly else none
    run(hours, called, totals, rows, w)
    if base is None:
        totals[:, COOLING] = np.bincount(hours.year, weights=called, minlength=years)
    return YearRun(totals, called, rows, start)
