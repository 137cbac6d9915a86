"""The hourly table: what each hour brought, and what each column of it means."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from freecool.answers.prepare import Prepared, outdoors_of
from freecool.core.air import KELVIN
from freecool.physics.cooling_unit import SINGLE_SPEED

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from freecool.answers.runs import Pair
    from freecool.physics.year import YearRun
    from freecool.weather import Weather

    FloatArray = NDArray[np.float64]

HOURLY_MEANS = {
    "outdoor_dry_bulb_c": "outdoor air, mean of the hour [°C]",
    "outdoor_dew_point_c": "outdoor dew point, mean of the hour [°C]",
    "ghi_w_m2": "sun on level ground, mean of the hour [W/m²]",
    "occupied": "whether people are there",
    "price_per_kwh": "electricity, by the tariff [money/kWh]",
    "permitted": "whether the rule lets the damper open",
    "damper_share": "of its full flow that the open damper brings, mean of the hour [0-1]",
    "indoor_c": "indoor air at the hour's end [°C]",
    "relative_humidity_percent": "indoors at the hour's end [%]",
    "humidity_ratio_kg_kg": "indoors at the hour's end [kg/kg]",
    "compressor_w": "electricity of compressor and condenser fan, mean of the hour [W]",
    "fan_w": "electricity of indoor and relief fan, mean of the hour [W]",
    "heating_w": "heat to the air, not fuel, mean of the hour [W]",
    "coil_load_w": "sensible heat that the compressor takes from the room, mean of the hour [W]",
    "mixed_air_c": "outdoor and return air together, the latter at `indoor_c`, mean while the fan runs [°C]",
    "supply_air_c": "mixed air after fan and coil, mean while the fan runs; of a unit of one speed [°C]",
}
"""What each column of the hourly table means; from `indoor_c` on each stands twice, `_without` and `_with` the damper.
The index is the hour's beginning in standard time."""


def hourly_table(weather: Weather, prepared: Prepared, pair: Pair) -> pd.DataFrame:
    """Hour by hour: weather, rule, damper, indoor state, air and power, given a weather and both runs.

    Parameters
    ----------
    weather : Weather
        Whole years.
    prepared : Prepared
        What the runs were given.
    pair : Pair
        With their hours kept.

    Returns
    -------
    pandas.DataFrame
        A row an hour, units in the names; the weather's owner and what each column means in ``attrs``.
    """
    import pandas as pd

    outdoors, hours = outdoors_of(weather), prepared.zone.hours
    columns: dict[str, NDArray[np.generic]] = {
        "outdoor_dry_bulb_c": outdoors.dry_bulb_c,
        "outdoor_dew_point_c": outdoors.dew_point_c,
        "ghi_w_m2": weather.frame["ghi_w_m2"].to_numpy(float),
        "occupied": hours.occupied,
        "price_per_kwh": hours.price,
        "permitted": pair.fitted.column("permitted").astype(bool),
        "damper_share": pair.fitted.column("damper"),
    }
    for name, run, fitted in (("without", pair.without, False), ("with", pair.fitted, True)):
        mixed_c, supply_c = air_through_fan(prepared, run, fitted)
        columns[f"indoor_c_{name}"] = run.column("indoor_c")
        columns[f"relative_humidity_percent_{name}"] = 100.0 * run.column("relative_humidity")
        columns[f"humidity_ratio_kg_kg_{name}"] = run.column("humidity_ratio")
        columns[f"compressor_w_{name}"] = run.column("compressor_w")
        columns[f"fan_w_{name}"] = run.column("fan_w")
        columns[f"heating_w_{name}"] = run.column("heating_w")
        columns[f"coil_load_w_{name}"] = run.column("cooling_w")
        columns[f"mixed_air_c_{name}"] = mixed_c
        columns[f"supply_air_c_{name}"] = supply_c
    table = pd.DataFrame(columns, index=weather.frame.index)
    table.attrs["attribution"] = weather.attribution
    told = {name: HOURLY_MEANS[name.removesuffix("_without").removesuffix("_with")] for name in columns}
    table.attrs["columns"] = {weather.frame.index.name: "the hour's beginning, in standard time"} | told
    return table


def air_through_fan(prepared: Prepared, run: YearRun, fitted: bool) -> tuple[FloatArray, FloatArray]:
    """Mixed and supply air of every hour, given what a run was given, the run, and whether it has the damper.

    Parameters
    ----------
    prepared : Prepared
        Fan, damper, unit and the hours' drives.
    run : YearRun
        With its hours kept.
    fitted : bool
        Whether the damper is there.

    Returns
    -------
    tuple of ndarray
        Both (hours,) [degC]; NaN while the fan stands still, and supply air for a unit of several speeds; a fan that
        runs on call is not run for heating.
    """
    hours, fan, damper = prepared.zone.hours, prepared.fan, prepared.damper
    return_c, outdoor_c = run.column("indoor_c"), hours.outdoor_c
    flow_share, run_time, standing = run.column("damper"), run.column("run_time"), hours.continuous > 0.0

    brought = np.where(standing, hours.ventilation_m3_s, 0.0) / fan.flow_m3_s
    shut = np.maximum(brought, max(damper.minimum_share, damper.leakage if fitted else 0.0))
    # The mixed-air low limit holds the damper back, down to its minimum share.
    fully, least = (share * outdoor_c + (1.0 - share) * return_c for share in (damper.share, damper.minimum_share))
    held = np.maximum(fully, np.minimum(damper.mixed_min_c, least))
    open_c = np.minimum(held, brought * outdoor_c + (1.0 - brought) * return_c)
    # How much of the air that it can move the fan moves in the hour, the damper open for a part of it.
    moved = np.where(standing, 1.0, np.maximum(flow_share, run_time))
    runs = moved > 0.0
    opened = np.where(runs, flow_share / np.where(runs, moved, 1.0), 0.0)
    mixed_c = opened * open_c + (1.0 - opened) * (shut * outdoor_c + (1.0 - shut) * return_c)

    # What the compressor takes is told less the heat of a fan that runs for it alone.
    speed = np.maximum(flow_share, fan.least_flow) if fan.variable else np.ones_like(flow_share)
    call_fan_w = fan.watts * flow_share * np.where(flow_share < 1.0, speed**1.5, 1.0)
    heat_w = np.where(standing, fan.watts + run.column("heating_w"), call_fan_w) - run.column("cooling_w")
    density = fan.standard_kg_m3 or hours.density_kg_m3 * (outdoor_c + KELVIN) / (mixed_c + KELVIN)
    with np.errstate(divide="ignore", invalid="ignore"):
        supply_c = mixed_c + heat_w / (moved * fan.flow_m3_s * density * hours.heat_j_kgk)
    known = runs & (prepared.unit.kind == SINGLE_SPEED)
    return np.where(runs, mixed_c, np.nan), np.where(known, supply_c, np.nan)
