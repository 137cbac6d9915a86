"""What no weather has in a station's hours: left out, or the year with it, as a file's values would be refused."""

from __future__ import annotations

import numpy as np
import pandas as pd

from freecool.core.errors import Notice, WeatherError
from freecool.weather.columns import COLUMNS
from freecool.weather.marks import without_marks
from freecool.weather.readers.station_hours import dew_point_c
from freecool.weather.steps import without_impossible_air

AS_IN_FILES = {
    "temp": "dry_bulb_c",
    "rhum": "relative_humidity_percent",
    "pres": "pressure_hpa",
    "cldc": "cloud_oktas",
    "wspd": "wind_m_s",
}
"""The column of a file whose range and marks hold for a station's quantity."""
KM_H = {"wspd": 3.6}
SEA_LEVEL_HPA = (870.0, 1_085.0)
"""Least and greatest sea-level pressure on record, rounded outwards: WMO archive of extremes (from memory)."""


def without_implausible(local: pd.DataFrame) -> tuple[pd.DataFrame, list[Notice]]:
    """A station's hours without values that no weather has, given the hours.

    Parameters
    ----------
    local : pandas.DataFrame
        Columns temp [°C], rhum [%], pres [hPa], cldc [oktas], wspd [km/h], one row an hour.

    Returns
    -------
    local : pandas.DataFrame
        With NaN in their place.
    notices : list of Notice
        A caution that counts them.
    """
    kept, counted = {}, []
    for name, column in AS_IN_FILES.items():
        known, scale = COLUMNS[column], KM_H.get(name, 1.0)
        values, _ = without_marks(local[name].to_numpy(dtype=float), column, 1.0 / scale)
        lowest, highest = SEA_LEVEL_HPA if name == "pres" else (known.lowest * scale, known.highest * scale)
        kept[name] = np.where((values < lowest) | (values > highest), np.nan, values)
        lost = int(np.isnan(kept[name]).sum() - local[name].isna().sum())
        if lost:
            counted.append(f"{known.description} in {lost:,} h")
    text = f"Values of the station that no weather has were left out: {', '.join(counted)}."
    return local.assign(**kept), [Notice("implausible_values", text)] if counted else []


def air_faults(local: pd.DataFrame) -> dict[int, str]:
    """Why a year's air is none, given a station's hours of whole years.

    Parameters
    ----------
    local : pandas.DataFrame
        Columns temp [°C] and rhum [%], one row an hour.

    Returns
    -------
    dict of str
        The reason by year; years that count are left out.
    """
    dry_bulb = local["temp"].to_numpy(dtype=float)
    dew_point = dew_point_c(dry_bulb, local["rhum"].to_numpy(dtype=float))
    air = pd.DataFrame({"dry_bulb_c": dry_bulb, "dew_point_c": dew_point}, index=local.index)
    faults = {}
    for year, hours in air.groupby(pd.DatetimeIndex(air.index).year):
        try:
            without_impossible_air(hours, "it", typical=False)
        except WeatherError as error:
            faults[int(str(year))] = error.text.removeprefix("it: ")
    return faults
