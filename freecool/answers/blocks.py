"""The blocks of an answer: hours, energy, moisture and money, from the totals of two complete runs."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from freecool.answers.humidity import HumidityYear, humidity_risk
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
    energy = _energy_block(first, second)
    electricity = first["electricity_cost"] - second["electricity_cost"]
    return Blocks(
        hours=HoursBlock(
            period=weather.hours / years,
            **{item.name: second[item.name] for item in fields(HoursBlock) if item.name != "period"},
        ),
        energy=energy,
        humidity=_humidity_block(first, second, *(float(run[:, WORST_RH].max()) for run in (without, fitted))),
        money=worth(case.money, energy.net_kwh_saved, energy.heating_kwh_added, electricity),
    )


def _yearly_means(totals: FloatArray, years: float) -> dict[str, float]:
    return dict(zip(TOTALS, map(float, totals.sum(axis=0) / years), strict=True))


def _energy_block(first: dict[str, float], second: dict[str, float]) -> EnergyBlock:
    compressor, fan = first["compressor_j"] / JOULES_PER_KWH, first["fan_j"] / JOULES_PER_KWH
    avoided = (first["compressor_j"] - second["compressor_j"]) / JOULES_PER_KWH
    fan_added = (second["fan_j"] - first["fan_j"]) / JOULES_PER_KWH
    net = avoided - fan_added
    return EnergyBlock(
        compressor_kwh_without=compressor,
        compressor_kwh_with=second["compressor_j"] / JOULES_PER_KWH,
        compressor_kwh_avoided=avoided,
        fan_kwh_without=fan,
        fan_kwh_added=fan_added,
        net_kwh_saved=net,
        net_percent=100.0 * net / (compressor + fan) if compressor + fan > 0.0 else 0.0,
        heating_kwh_added=(second["heating_j"] - first["heating_j"]) / JOULES_PER_KWH,
    )


def _humidity_block(
    first: dict[str, float], second: dict[str, float], worst_without: float, worst_with: float
) -> HumidityBlock:
    without = HumidityYear(first["humid"], first["humid_dew_point"], worst_without)
    fitted = HumidityYear(second["humid"], second["humid_dew_point"], worst_with)
    risk, reason = humidity_risk(without, fitted)
    dried_more = second["moisture_coil_kg"] - first["moisture_coil_kg"]
    return HumidityBlock(
        risk=risk,
        reason=reason,
        rh_over_60_hours_without=without.over_60_rh_hours,
        rh_over_60_hours_with=fitted.over_60_rh_hours,
        dew_point_over_60f_hours_without=without.over_60_dew_point_hours,
        dew_point_over_60f_hours_with=fitted.over_60_dew_point_hours,
        worst_30_day_rh_without=worst_without,
        worst_30_day_rh_with=worst_with,
        moisture_kg_added=second["moisture_in_kg"] - dried_more,
        condensate_kg_added=second["condensate_kg"] - first["condensate_kg"],
    )
