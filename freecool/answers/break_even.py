"""The break-even differential: where free cooling stops paying for its fan."""

from __future__ import annotations

import numpy as np

from freecool.answers.prepare import Prepared
from freecool.answers.runs import simulate
from freecool.cases.model import Case
from freecool.core import air
from freecool.physics.cooling_unit import (
    DEW_POINT_START_C,
    WET_BULB_START_C,
    CoolingUnit,
    fan_share,
    low_stage,
    run_coil,
    running_flow,
)
from freecool.physics.damper import Fan, relief_watts, shut_inflow

# AHRI 210/240 indoor condition is 50 % RH or close to it; the humidity of return air where no other is told.
RETURN_RH = 0.5
# How closely the break-even is searched, as a share of it; our own choice.
DIFFERENCE_ERROR = 1e-10


def break_even_differential(
    unit: CoolingUnit,
    fan: Fan,
    set_point_c: float,
    outdoor_share: float,
    continuous_fan: bool,
    pressure_pa: float,
    humidity_ratio: float | None = None,
    shut_share: float = 0.0,
    relief_w: float = 0.0,
) -> float:
    """Differential at which a watt in free cooling's fans earns what a compressor-and-fan watt would [K].

    Parameters
    ----------
    unit : CoolingUnit
        The compressor.
    fan : Fan
        Its full flow and power.
    set_point_c : float
        Cooling set point [degC].
    outdoor_share : float
        Outdoor share of supply air with the damper open [-].
    continuous_fan : bool
        The fan runs anyway: then every degree pays, but for a relief fan.
    pressure_pa : float
        Site pressure [Pa].
    humidity_ratio : float, optional
        Of return air; without it, 50 % relative humidity [kg/kg].
    shut_share : float
        Outdoor share of supply air while the compressor works with the damper shut [-].
    relief_w : float
        Power of the relief fan with the damper open [W].

    Returns
    -------
    float
        ``(W_fan (e + 1) + W_relief e) / (rho cp V share)`` for a fan on call, with e the unit's net sensible
        whole-system efficiency at the changeover temperature, that of the low stage where it has one, what the shut
        share brings counted with it; for a continuous fan ``W_relief e / (rho cp V (share - shut share))``, e without
        the fan's heat and power; 0 where nothing is gained by opening [K]. Sensible heat alone: where the compressor's
        drying is wanted too, a damper pays only at a greater differential.
    """
    call_w = 0.0 if continuous_fan else fan.watts
    gained_share = outdoor_share - shut_share if continuous_fan else outdoor_share
    if call_w + relief_w == 0.0 or gained_share <= 0.0:
        return 0.0
    from scipy.optimize import fixed_point

    low = low_stage(unit)
    # A fan that runs anyway keeps its flow.
    low_flow = 1.0 if continuous_fan else running_flow(unit, fan)
    low_fan_w = call_w * fan_share(low_flow, 0.0)
    table = air.saturation_table()
    w = humidity_ratio
    if w is None:
        w = float(air.humidity_ratio_from_relative_humidity(set_point_c, RETURN_RH, pressure_pa))
    density = float(air.dry_air_density(set_point_c, w, pressure_pa))
    heat = density * float(air.heat_capacity(w))
    mass_flow = low_flow * fan.flow_m3_s * density

    def _paying_difference(difference_k: float) -> float:
        """Where free cooling earns what the compressor would at a changeover that far below set point."""
        outdoor_c = max(set_point_c - float(difference_k), unit.lockout_c)
        entering_c = set_point_c - shut_share * float(difference_k)
        coil = run_coil(
            low, table, mass_flow, entering_c, w, outdoor_c, pressure_pa, WET_BULB_START_C, DEW_POINT_START_C
        )
        brought_w = 0.0 if continuous_fan else heat * fan.flow_m3_s * shut_share * float(difference_k)
        efficiency = (coil.sensible_w - low_fan_w + brought_w) / (coil.power_w + low_fan_w)
        earning_w = call_w * (efficiency + 1.0) + relief_w * efficiency
        return float(earning_w / (heat * fan.flow_m3_s * gained_share))

    return float(fixed_point(_paying_difference, 0.0, xtol=DIFFERENCE_ERROR))


def break_even_of(case: Case, prepared: Prepared) -> float:
    """The break-even differential, given a prepared case.

    Parameters
    ----------
    case : Case
        Its set point and fan mode.
    prepared : Prepared
        Its unit, fan, damper and weather.

    Returns
    -------
    float
        The differential, at the `humidity_at_stake` [K].
    """
    fan, damper, hours = prepared.fan, prepared.damper, prepared.zone.hours
    ventilation_m3_s = float((hours.ventilation_m3_s * hours.continuous).max())
    shut_m3_s = ventilation_m3_s + shut_inflow(damper, fan, ventilation_m3_s)
    return break_even_differential(
        prepared.unit,
        fan,
        case.schedule.cooling,
        damper.share,
        case.fan.mode == "continuous",
        float(hours.pressure_pa.mean()),
        humidity_at_stake(prepared),
        shut_m3_s / fan.flow_m3_s,
        relief_watts(damper, fan, damper.share, ventilation_m3_s),
    )


def humidity_at_stake(prepared: Prepared) -> float | None:
    """Mean humidity ratio of the room while a damper could help [kg/kg], given a prepared case.

    Parameters
    ----------
    prepared : Prepared
        Its zone, unit and fan.

    Returns
    -------
    float or None
        Over the hours that call the compressor without a damper while it is cooler outdoors than the cooling set
        point; None without such hours [kg/kg].
    """
    hours = prepared.zone.hours
    base = simulate(prepared.zone, prepared.unit, prepared.fan, prepared.no_damper, hourly=True)
    at_stake = base.called & (hours.outdoor_c < hours.cool_c)
    return float(np.mean(base.column("humidity_ratio")[at_stake])) if at_stake.any() else None
