"""The blocks of an answer: hours, energy, moisture and money, from the totals of two complete runs."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from freecool.answers.humidity import HumidityYear, Use, humidity_risk
from freecool.answers.money import worth
from freecool.answers.real_years import count_years
from freecool.answers.results import Blocks, EnergyBlock, HoursBlock, HumidityBlock
from freecool.cases.model import Case
from freecool.physics.year import JOULES_PER_KWH, TOTALS

if TYPE_CHECKING:
    from freecool.weather import Weather

FloatArray = NDArray[np.float64]

WORST_RH = TOTALS.index("worst_mean_rh")


def answer_blocks(case: Case, weather: Weather, without: FloatArray, fitted: FloatArray) -> Blocks:
    """The blocks of an answer as yearly means, given the totals of both runs.

    Parameters
    ----------
    case : Case
        Building, unit, fan, damper, rule and money.
    weather : Weather
        Of a typical year or real years.
    without, fitted : ndarray
        Totals of the runs without and with the damper, (years, TOTALS).

    Returns
    -------
    Blocks
        Differences of the two runs, per year.
    """
    years = count_years(weather)
    first, second = (_yearly_means(run, years) for run in (without, fitted))
    energy = _energy_block(first, second, case.fan.mode == "continuous")
    electricity = first["electricity_cost"] - second["electricity_cost"]
    return Blocks(
        hours=HoursBlock(
            period=weather.hours / years,
            **{item.name: second[item.name] for item in fields(HoursBlock) if item.name != "period"},
        ),
        energy=energy,
        humidity=_humidity_block(
            case.building.use, first, second, *(float(run[:, WORST_RH].max()) for run in (without, fitted))
        ),
        money=worth(case.money, energy.net_kwh_saved, energy.heating_kwh_added, electricity),
    )


def cooling_kwh(energy: EnergyBlock, fan_runs_anyway: bool) -> float:
    """Electricity of cooling without the damper, given an energy block and whether the fan runs without cooling too.

    Parameters
    ----------
    energy : EnergyBlock
        Of an answer.
    fan_runs_anyway : bool
        Then it is left out.

    Returns
    -------
    float
        [kWh/year].
    """
    return energy.compressor_kwh_without + (0.0 if fan_runs_anyway else energy.fan_kwh_without)


def _yearly_means(totals: FloatArray, years: float) -> dict[str, float]:
    return dict(zip(TOTALS, map(float, totals.sum(axis=0) / years), strict=True))


def _energy_block(first: dict[str, float], second: dict[str, float], fan_runs_anyway: bool) -> EnergyBlock:
    compressor, fan = first["compressor_j"] / JOULES_PER_KWH, first["fan_j"] / JOULES_PER_KWH
    avoided = (first["compressor_j"] - second["compressor_j"]) / JOULES_PER_KWH
    fan_added = (second["fan_j"] - first["fan_j"]) / JOULES_PER_KWH
    net = avoided - fan_added
    cooling = compressor if fan_runs_anyway else compressor + fan
    return EnergyBlock(
        compressor_kwh_without=compressor,
        compressor_kwh_with=second["compressor_j"] / JOULES_PER_KWH,
        compressor_kwh_avoided=avoided,
        fan_kwh_without=fan,
        fan_kwh_added=fan_added,
        net_kwh_saved=net,
        cooling_percent=100.0 * net / cooling if cooling > 0.0 else 0.0,
        net_percent=100.0 * net / (compressor + fan) if compressor + fan > 0.0 else 0.0,
        heating_kwh_added=(second["heating_j"] - first["heating_j"]) / JOULES_PER_KWH,
    )


def _humidity_block(
    use: Use, first: dict[str, float], second: dict[str, float], worst_without: float, worst_with: float
) -> HumidityBlock:
    damp = humidity_risk(use, _humidity_year(first, worst_without), _humidity_year(second, worst_with))
    dried_more = second["moisture_coil_kg"] - first["moisture_coil_kg"]
    return HumidityBlock(
        risk=damp.risk,
        reason=damp.reason,
        clause=damp.clause,
        clause_hours_without=damp.hours_without,
        clause_hours_with=damp.hours_with,
        occupied_hours=second["occupied"],
        damp_hours_without=first["damp_dew_point"],
        damp_hours_with=second["damp_dew_point"],
        rh_over_65_occupied_hours_without=first["damp_occupied"],
        rh_over_65_occupied_hours_with=second["damp_occupied"],
        dry_hours_without=first["dry_occupied"],
        dry_hours_with=second["dry_occupied"],
        very_dry_hours_without=first["very_dry"],
        very_dry_hours_with=second["very_dry"],
        rh_over_60_hours_without=first["humid"],
        rh_over_60_hours_with=second["humid"],
        dew_point_over_60f_hours_without=first["humid_dew_point"],
        dew_point_over_60f_hours_with=second["humid_dew_point"],
        worst_30_day_rh_without=worst_without,
        worst_30_day_rh_with=worst_with,
        moisture_kg_added=second["moisture_in_kg"] - dried_more,
        condensate_kg_added=second["condensate_kg"] - first["condensate_kg"],
    )


def _humidity_year(means: dict[str, float], worst_30_day_rh: float) -> HumidityYear:
    return HumidityYear(means["occupied"], means["damp_dew_point"], means["damp_occupied"], worst_30_day_rh)
