"""One hour of a zone in stages: without a call, the damper, the compressor, the moisture.

Holding the air at a temperature, more air is a heat flow like any other, so that no stage iterates over another.
"""

from __future__ import annotations

from typing import NamedTuple

from freecool.core.compiled import kernel
from freecool.physics.cooling_unit import (
    FROST_C,
    SINGLE_SPEED,
    TWO_STAGE,
    fan_share,
    low_stage,
    power_between,
    run_coil,
    running_flow,
    speed_for,
)
from freecool.physics.damper import LEAST_DRIVE_K, damper_stream, fan_density, part_flow, relief_watts
from freecool.physics.moisture import moisture_hour
from freecool.physics.re_evaporation import run_time_of, settled_load

STEP_S = 3600.0
PRECOOL_ABOVE_HEATING_K = 1.0
# People open windows only when it is at least this much cooler outside; common practice, no source.
WINDOW_DRIVE_K = 1.0
# The search for the temperature of a room that the unit cannot hold ends at this step, within these.
ROOM_ERROR_K = 1e-9
ROOM_STEPS = 30


class Hour(NamedTuple):
    """What drives a zone in one hour, one value of each array of `Hours`."""

    outdoor_c: float
    """Outdoor dry bulb [degC]."""
    outdoor_w: float
    """Outdoor humidity ratio [kg/kg]."""
    pressure_pa: float
    """Air pressure [Pa]."""
    density_kg_m3: float
    """Dry air in outdoor air [kg/m3]."""
    heat_j_kgk: float
    """Heat capacity of outdoor air [J/(K kg) of dry air]."""
    air_change_kg_s: float
    """Infiltration and scheduled ventilation, dry air [kg/s]."""
    ventilation_m3_s: float
    """The part of it that the fan brings [m3/s]."""
    window_kg_s: float
    """Air that open windows can bring, dry air [kg/s]."""
    moisture_kg_s: float
    """Moisture gain of the room [kg/s]."""
    cool_c: float
    """Cooling set point [degC]."""
    heat_c: float
    """Heating set point [degC]."""
    continuous: float
    """1 while the fan runs whatever the call, else 0 [-]."""


class ZoneAir(NamedTuple):
    """The zone's air at the hour's end, before the next stage acts on it."""

    temperature_c: float
    """Where it floats to without further heat [degC]."""
    response_k_w: float
    """How much further a watt to the air moves it [K/W]."""
    stream_w_k: float
    """Heat capacity flow of the outdoor air streams so far [W/K]."""
    stream_w: float
    """Heat that they bring, counted from 0 degC [W]."""
    outdoor_kg_s: float
    """Dry outdoor air in them [kg/s]."""


class DamperStage(NamedTuple):
    """Stage 1 of an hour: what the open damper does."""

    air: ZoneAir
    """The zone's air after it."""
    flow_share: float
    """Share of full flow, 0 when shut [-]."""
    outdoor_share: float
    """Outdoor share of all air through the fan [-]."""
    outdoor_kg_s: float
    """Outdoor air that it adds, dry air [kg/s]."""
    fan_w: float
    """Power of a fan that runs on call, and of the relief fan [W]."""
    hold_c: float
    """Temperature that the compressor holds in this hour [degC]."""


class CompressorStage(NamedTuple):
    """Stage 2 of an hour: what the compressor does."""

    cooling_w: float
    """Sensible heat taken from the air [W]."""
    run_time: float
    """Share of the hour that the compressor runs [-]."""
    power_w: float
    """Compressor and condenser fan [W]."""
    fan_w: float
    """Power of a fan that runs on call [W]."""
    coil_kg_s: float
    """Air that leaves the coil at its dew point, dry air [kg/s]."""
    outdoor_share: float
    """Outdoor share of the air that enters the coil [-]."""
    coil_w: float
    """Humidity ratio at the coil's dew point [kg/kg]."""
    frost: bool
    """Whether air leaves the coil near frost."""
    wet_bulb_c: float
    """Wet bulb of the air entering the coil [degC]."""
    dew_point_c: float
    """Apparatus dew point [degC]."""
    outside_table: bool
    """Whether its unit's table does not reach what it works at."""


@kernel(inline=True)
def with_stream(air, conductance_w_k, supply_c, outdoor_kg_s):
    """The zone's air with one more air stream, given its heat capacity flow, temperature and outdoor part.

    Parameters
    ----------
    air : ZoneAir
        Before it.
    conductance_w_k : float
        Heat capacity flow H of the stream [W/K].
    supply_c : float
        Its temperature T [degC].
    outdoor_kg_s : float
        Dry outdoor air in it [kg/s].

    Returns
    -------
    ZoneAir
        ``a1 = (a + r H T) / (1 + r H)`` and ``r1 = r / (1 + r H)``: the heat balance of the air node of
        ISO 52016-1:2017 6.5.6 (clause from memory), solved with the stream in it.
    """
    weight = air.response_k_w * conductance_w_k
    return ZoneAir(
        (air.temperature_c + weight * supply_c) / (1.0 + weight),
        air.response_k_w / (1.0 + weight),
        air.stream_w_k + conductance_w_k,
        air.stream_w + conductance_w_k * supply_c,
        air.outdoor_kg_s + outdoor_kg_s,
    )


@kernel(inline=True)
def held_at(air, temperature_c):
    """The zone's air held at a temperature, given the air and what the streams that act on it hold.

    Parameters
    ----------
    air : ZoneAir
        With those streams.
    temperature_c : float
        The temperature held [degC].

    Returns
    -------
    ZoneAir
        The same streams, without the rounding of solving for a flow and back.
    """
    return ZoneAir(temperature_c, air.response_k_w, air.stream_w_k, air.stream_w, air.outdoor_kg_s)


@kernel(inline=True)
def float_without_call(floating_c, response_k_w, fan_w, hour):
    """The zone's air without a call, given its float in a closed room and the hour.

    Parameters
    ----------
    floating_c : float
        Without air streams and fan [degC].
    response_k_w : float
        Rise of the air for a watt to it [K/W].
    fan_w : float
        Heat of a fan that runs whatever the call [W].
    hour : Hour
        Its infiltration and scheduled ventilation are in the result.

    Returns
    -------
    ZoneAir
        As `with_stream`, in every hour of every run: therefore one division less.
    """
    stream_w_k = hour.air_change_kg_s * hour.heat_j_kgk
    stream_w = stream_w_k * hour.outdoor_c
    damping = 1.0 / (1.0 + response_k_w * stream_w_k)
    return ZoneAir(
        (floating_c + response_k_w * (stream_w + fan_w)) * damping,
        response_k_w * damping,
        stream_w_k,
        stream_w,
        hour.air_change_kg_s,
    )


@kernel(inline=True)
def with_open_windows(air, hour):
    """The zone's air with windows opened as far as people need, given the air without a call.

    Parameters
    ----------
    air : ZoneAir
        Without them.
    hour : Hour
        What drives the zone.

    Returns
    -------
    ZoneAir
        At the cooling set point where the windows can hold it, else with all the air that they bring.
    """
    wanted = air.temperature_c > hour.cool_c and hour.outdoor_c < hour.cool_c - WINDOW_DRIVE_K
    if not (hour.window_kg_s > 0.0 and wanted):
        return air
    need_w = (air.temperature_c - hour.cool_c) / air.response_k_w
    opened_kg_s = min(hour.window_kg_s, need_w / (hour.cool_c - hour.outdoor_c) / hour.heat_j_kgk)
    opened = with_stream(air, opened_kg_s * hour.heat_j_kgk, hour.outdoor_c, opened_kg_s)
    return held_at(opened, hour.cool_c) if opened_kg_s < hour.window_kg_s else opened


@kernel(inline=True)
def precooling_set_point(damper, hour):
    """Temperature down to which the damper may cool after a call [degC], given its precooling and the set points.

    Parameters
    ----------
    damper : Damper
        Its share, limits and leakage.
    hour : Hour
        What drives the zone.

    Returns
    -------
    float
        Never above the cooling set point, else never within 1 K of the heating set point [degC].
    """
    return min(hour.cool_c, max(hour.cool_c - damper.precool_k, hour.heat_c + PRECOOL_ABOVE_HEATING_K))


@kernel(inline=True)
def damper_stage(air, damper, fan, fan_w, hour, through_fan_m3_s, target_c):
    """Stage 1: the damper, given the zone's air without a call and the temperature to hold.

    Parameters
    ----------
    air : ZoneAir
        Without a call.
    damper : Damper
        The rule permits it to open.
    fan : Fan
        Its full flow and power.
    fan_w : float
        Power of a fan that runs on call, at full flow; 0 for one that runs anyway [W].
    hour : Hour
        What drives the zone.
    through_fan_m3_s : float
        Outdoor air that the fan already brings [m3/s].
    target_c : float
        Cooling set point, or less to precool [degC].

    Returns
    -------
    DamperStage
        With need ``N = (a - T) / r`` and capacity ``C = H (T - T_supply)`` the damper takes ``min(N, C)``. Where
        outdoor air cannot precool, the target is the cooling set point. A non-integrated damper that cannot carry
        the hour stays shut.
    """
    shut = DamperStage(air, 0.0, 0.0, 0.0, 0.0, hour.cool_c)
    if air.temperature_c <= target_c:
        return shut
    stream = damper_stream(
        damper, fan, fan_w, through_fan_m3_s, hour.outdoor_c, target_c, hour.density_kg_m3, hour.heat_j_kgk
    )
    if target_c < hour.cool_c and stream.supply_c >= target_c - LEAST_DRIVE_K:
        target_c = hour.cool_c
        stream = damper_stream(
            damper, fan, fan_w, through_fan_m3_s, hour.outdoor_c, target_c, hour.density_kg_m3, hour.heat_j_kgk
        )
    useful = stream.conductance_w_k > 0.0 and stream.supply_c < target_c - LEAST_DRIVE_K
    if not (air.temperature_c > target_c and useful):
        return shut
    need_w = (air.temperature_c - target_c) / air.response_k_w
    flow_share, power_share, supply_c = part_flow(fan, stream, fan_w, target_c, need_w)
    hold_c = hour.cool_c + damper.offset_k
    outdoor_kg_s = flow_share * stream.outdoor_kg_s
    opened = with_stream(air, flow_share * stream.conductance_w_k, supply_c, outdoor_kg_s)
    if flow_share < 1.0:
        opened = held_at(opened, target_c)
    elif opened.temperature_c > hold_c and not damper.integrated:
        return DamperStage(air, 0.0, 0.0, 0.0, 0.0, hold_c)
    relief_w = flow_share * relief_watts(damper, fan, stream.outdoor_share, hour.ventilation_m3_s * hour.continuous)
    return DamperStage(opened, flow_share, stream.outdoor_share, outdoor_kg_s, fan_w * power_share + relief_w, hold_c)


@kernel(inline=True)
def coil_in_mixture(unit, fan, flow_share, hour, share, return_c, room_w, table, wet_bulb_c, dew_point_c):
    """The mass flow and the coil at full run in a mixture of outdoor and return air.

    Parameters
    ----------
    unit : CoolingUnit
        At full run.
    fan : Fan
        Its full flow.
    flow_share : float
        Share of the fan's full flow [-].
    hour : Hour
        What drives the zone.
    share : float
        Outdoor share of the mixture [-].
    return_c, room_w : float
        Of return air [degC], [kg/kg].
    table : SaturationTable
        From `freecool.core.air.saturation_table`.
    wet_bulb_c, dew_point_c : float
        Where the coil's searches start [degC].

    Returns
    -------
    tuple
        (dry air through the coil [kg/s], `Coil`).
    """
    entering_c = share * hour.outdoor_c + (1.0 - share) * return_c
    entering_w = share * hour.outdoor_w + (1.0 - share) * room_w
    mass_flow = flow_share * fan.flow_m3_s * fan_density(fan, hour.density_kg_m3, hour.outdoor_c, entering_c)
    coil = run_coil(
        unit, table, mass_flow, entering_c, entering_w, hour.outdoor_c, hour.pressure_pa, wet_bulb_c, dew_point_c
    )
    return mass_flow, coil


@kernel(inline=True)
def cycling(unit, coil, mass_flow, capacity_w, need_w, fan_w, hour, share, return_c, frost):
    """A compressor that goes on and off, or runs all the hour, given the coil at full run and the need.

    Parameters
    ----------
    unit : CoolingUnit
        Its loss by starts and the water on its coil.
    coil : Coil
        At full run.
    mass_flow : float
        Dry air through it [kg/s].
    capacity_w : float
        Its sensible capacity, the fan's heat taken off [W].
    need_w : float
        At most the capacity [W].
    fan_w : float
        Power of a fan that runs on call for it, while it runs [W].
    hour : Hour
        What drives the zone.
    share : float
        Outdoor share of the air that enters the coil [-].
    return_c : float
        Of return air [degC].
    frost : bool
        Whether air leaves the coil near frost.

    Returns
    -------
    CompressorStage
        Run time is the part-load ratio over ``PLF = 1 - Cd (1 - PLR)``, AHRI 210/240. Electricity follows the run
        time; loads on the coil, sensible and latent alike, follow the part-load ratio (ASHRAE 140 section 5.3), but
        for water that a continuous fan carries back into the air, as `settled_load`. It blows over the wet coil
        whether the damper is open or shut.
    """
    load_ratio, latent_share = need_w / capacity_w, 1.0
    if hour.continuous > 0.0 and coil.wet:
        depression_k = share * hour.outdoor_c + (1.0 - share) * return_c - coil.wet_bulb_c
        load_ratio, latent_share = settled_load(
            unit.re_evaporation, coil.total_w - coil.sensible_w, depression_k, capacity_w, need_w, unit.degradation
        )
    run_time = run_time_of(load_ratio, unit.degradation)
    coil_kg_s = load_ratio * latent_share * mass_flow * (1.0 - coil.bypass) if coil.wet else 0.0
    return CompressorStage(
        need_w,
        run_time,
        coil.power_w * run_time,
        fan_w * run_time,
        coil_kg_s,
        share,
        coil.dew_point_w,
        frost,
        coil.wet_bulb_c,
        coil.dew_point_c,
        coil.outside_table,
    )


@kernel()
def staged(unit, fan, low_flow, hour, share, return_c, room_w, table, need_w, fan_w, high_kg_s, high):
    """A compressor with a low stage, or of variable speed, given a need that the high stage can carry.

    Parameters
    ----------
    unit : CoolingUnit
        The compressor.
    fan : Fan
        Its full flow.
    low_flow : float
        Share of full flow at the low stage [-].
    hour : Hour
        What drives the zone.
    share : float
        Outdoor share of the air that enters the coil [-].
    return_c, room_w : float
        Of return air [degC], [kg/kg].
    table : SaturationTable
        From `freecool.core.air.saturation_table`.
    need_w : float
        To be taken from the air [W].
    fan_w : float
        Power of a fan that runs on call for it, at full flow [W].
    high_kg_s : float
        Dry air through the coil at the high stage [kg/s].
    high : Coil
        At the high stage.

    Returns
    -------
    CompressorStage
        A need below the low stage's capacity lets it go on and off. Above, two stages share the hour, and a variable
        speed settles between, neither with a loss by starts: 10 CFR 430 subpart B appendix M1 sections 4.1.3 and
        4.1.4, AHRI 210/240-2023 11.2.1.2 and 11.2.1.3 (section numbers from memory). What the coil draws in between
        is shared in the same way.
    """
    low_kg_s, low = coil_in_mixture(
        low_stage(unit), fan, low_flow, hour, share, return_c, room_w, table, high.wet_bulb_c, high.dew_point_c
    )
    low_fan_w = fan_w * fan_share(low_flow, 0.0)
    low_w, high_w = low.sensible_w - low_fan_w, high.sensible_w - fan_w
    if low_w <= 0.0:
        return cycling(unit, high, high_kg_s, high_w, need_w, fan_w, hour, share, return_c, high.leaving_c < FROST_C)
    if need_w <= low_w:
        return cycling(unit, low, low_kg_s, low_w, need_w, low_fan_w, hour, share, return_c, low.leaving_c < FROST_C)
    if unit.kind == TWO_STAGE:
        place = (need_w - low_w) / (high_w - low_w)
        power_w = low.power_w + place * (high.power_w - low.power_w)
        between_fan_w = low_fan_w + place * (fan_w - low_fan_w)
        frost = min(low.leaving_c, high.leaving_c) < FROST_C
    else:
        place = speed_for(need_w, low.sensible_w, high.sensible_w, fan_w, low_flow)
        power_w = power_between(unit, low, high, place)
        between_fan_w = fan_w * fan_share(low_flow, place)
        frost = low.leaving_c + place * (high.leaving_c - low.leaving_c) < FROST_C
    low_part = (1.0 - place) * low_kg_s * (1.0 - low.bypass) if low.wet else 0.0
    high_part = place * high_kg_s * (1.0 - high.bypass) if high.wet else 0.0
    coil_kg_s = low_part + high_part
    coil_w = (low_part * low.dew_point_w + high_part * high.dew_point_w) / coil_kg_s if coil_kg_s > 0.0 else 0.0
    outside = low.outside_table or high.outside_table
    return CompressorStage(
        need_w, 1.0, power_w, between_fan_w, coil_kg_s, share, coil_w, frost, high.wet_bulb_c, high.dew_point_c, outside
    )


@kernel(inline=True)
def compressor_stage(damped, unit, fan, fan_w, hour, shut_m3_s, room_w, table, wet_bulb_c, dew_point_c):
    """Stage 2: the compressor takes the rest of the need, up to its sensible capacity in the hour.

    Parameters
    ----------
    damped : DamperStage
        What stage 1 left, above the temperature to hold.
    unit : CoolingUnit
        The compressor.
    fan : Fan
        Its full flow and power.
    fan_w : float
        Power of a fan that runs on call, at full flow; 0 for one that runs anyway [W].
    hour : Hour
        What drives the zone.
    shut_m3_s : float
        Outdoor air through the running fan while the damper is shut, or without one [m3/s].
    room_w : float
        Humidity ratio of return air [kg/kg].
    table : SaturationTable
        From `freecool.core.air.saturation_table`.
    wet_bulb_c, dew_point_c : float
        Of the last hour that cooled, where the coil's searches start [degC].

    Returns
    -------
    CompressorStage
        As `cycling`, or `staged` for a unit that has a low stage. Where the unit cannot hold the room,
        ``T = a - r Q(T)`` is solved by the secant rule.
    """
    air = damped.air
    opened = damped.flow_share > 0.0
    need_w = (air.temperature_c - damped.hold_c) / air.response_k_w
    share = damped.outdoor_share if opened else min(shut_m3_s / fan.flow_m3_s, 1.0)
    # The stream of an open damper already carries the fan's heat.
    own_fan_w = 0.0 if opened else fan_w
    return_c = damped.hold_c
    mass_flow, coil = coil_in_mixture(unit, fan, 1.0, hour, share, return_c, room_w, table, wet_bulb_c, dew_point_c)
    capacity_w = coil.sensible_w - own_fan_w
    frost = capacity_w > 0.0 and coil.leaving_c < FROST_C
    if capacity_w <= 0.0:
        entering_w = share * hour.outdoor_w + (1.0 - share) * room_w
        return CompressorStage(
            0.0, 0.0, 0.0, 0.0, 0.0, share, entering_w, frost, coil.wet_bulb_c, coil.dew_point_c, False
        )
    if capacity_w < need_w:
        # The room stays warmer than it should: the coil meets the air as it is.
        slope = -1.0
        for _ in range(ROOM_STEPS):
            error = air.temperature_c - air.response_k_w * capacity_w - return_c
            step = -error / slope
            return_c += step
            mass_flow, coil = coil_in_mixture(
                unit, fan, 1.0, hour, share, return_c, room_w, table, coil.wet_bulb_c, coil.dew_point_c
            )
            capacity_w = coil.sensible_w - own_fan_w
            if abs(step) < ROOM_ERROR_K:
                break
            slope = (air.temperature_c - air.response_k_w * capacity_w - return_c - error) / step
        return cycling(unit, coil, mass_flow, capacity_w, capacity_w, own_fan_w, hour, share, return_c, frost)
    if unit.kind == SINGLE_SPEED:
        return cycling(unit, coil, mass_flow, capacity_w, need_w, own_fan_w, hour, share, return_c, frost)
    # A fan of one speed, or one that runs anyway or for the damper, keeps its flow.
    keeps = opened or hour.continuous > 0.0
    low_flow = 1.0 if keeps else running_flow(unit, fan)
    return staged(unit, fan, low_flow, hour, share, return_c, room_w, table, need_w, own_fan_w, mass_flow, coil)


@kernel(inline=True)
def moisture_stage(w, damped, cooled, hour, store_kg, saturation_pa):
    """The room's moisture over the hour, given both stages.

    Parameters
    ----------
    w : float
        Humidity ratio at the hour's start [kg/kg].
    damped : DamperStage
        Stage 1.
    cooled : CompressorStage
        Stage 2.
    hour : Hour
        What drives the zone.
    store_kg : float
        Water that the zone holds for a humidity ratio of 1 [kg].
    saturation_pa : float
        Saturation pressure at the room's temperature [Pa].

    Returns
    -------
    MoistureHour
        The coil is a stream toward its dew point: its return part dries the room, its outdoor part arrives drier.
    """
    coil_kg_s, share = cooled.coil_kg_s, cooled.outdoor_share
    outdoor_kg_s = damped.air.outdoor_kg_s
    return moisture_hour(
        w,
        outdoor_kg_s + coil_kg_s * (1.0 - share),
        outdoor_kg_s * hour.outdoor_w + coil_kg_s * (cooled.coil_w - share * hour.outdoor_w) + hour.moisture_kg_s,
        store_kg,
        STEP_S,
        saturation_pa,
        hour.pressure_pa,
    )


@kernel(inline=True)
def damper_moisture(damped, hour, room_w):
    """Water that the open damper's air brings in an hour [kg], given the room's mean humidity ratio.

    Parameters
    ----------
    damped : DamperStage
        Stage 1.
    hour : Hour
        What drives the zone.
    room_w : float
        Mean over the hour [kg/kg].

    Returns
    -------
    float
        Negative where outdoor air is drier [kg].
    """
    return damped.outdoor_kg_s * (hour.outdoor_w - room_w) * STEP_S


@kernel(inline=True)
def coil_moisture(cooled, hour, room_w):
    """Water that the coil takes in an hour [kg], given the room's mean humidity ratio.

    Parameters
    ----------
    cooled : CompressorStage
        Stage 2.
    hour : Hour
        What drives the zone.
    room_w : float
        Mean over the hour [kg/kg].

    Returns
    -------
    float
        What enters the coil, mixed from return and outdoor air, less what leaves it [kg].
    """
    share = cooled.outdoor_share
    entering_w = (1.0 - share) * room_w + share * hour.outdoor_w
    return cooled.coil_kg_s * (entering_w - cooled.coil_w) * STEP_S
