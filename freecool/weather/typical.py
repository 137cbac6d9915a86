"""A typical year from real ones, by ISO 15927-4:2005."""

from __future__ import annotations

from calendar import month_abbr
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from freecool.core.errors import Notice, WeatherError
from freecool.weather.columns import AIR_COLUMNS
from freecool.weather.model import Weather
from freecool.weather.table import typical_index

FEWEST_YEARS = 3
"""With two years no distribution stands out (our own limit; the standard asks for at least ten)."""
YEARS_ASKED_BY_STANDARD = 10
SMOOTHED_HOURS = 8
"""ISO 15927-4:2005: hours on each side of a join that are adjusted (from memory)."""
SELECTED_BY = ("dry bulb", "vapour pressure", "global irradiance")
CANDIDATES = 3
"""ISO 15927-4:2005: years of lowest rank sum among which wind speed decides (from memory)."""
WIND = "wind_m_s"


def typical_year(weather: Weather) -> Weather:
    """A typical year, given a record of real years.

    Parameters
    ----------
    weather : Weather
        At least three real years.

    Returns
    -------
    Weather
        Typical, laid on the calendar of 2018; a notice names the year of each month.

    Raises
    ------
    WeatherError
        The source is a typical year already, or holds fewer than three years.

    Notes
    -----
    ISO 15927-4:2005 (from memory): for each calendar month the year whose daily means of dry bulb, vapour
    pressure and global irradiance are distributed most as those of all years, by the sum of the ranks of the
    Finkelstein-Schafer statistic; of the best three the one whose mean wind speed is nearest that of all years,
    or the best where the data hold no wind. 29 February is left out. Temperature, dew point and pressure are bent
    over 8 h on each side of a join until they meet.
    """
    if weather.typical:
        raise WeatherError(f"{weather.source} is a typical year already: take a source of real years")
    if len(weather.years) < FEWEST_YEARS:
        raise WeatherError(
            f"{weather.source} has {len(weather.years)} whole years, expected {FEWEST_YEARS} or more: take more years"
        )
    chosen = choose_years(daily_means(weather))
    frame = _joined(_month_tables(weather, chosen), chosen, weather.location.utc_offset_h)
    kept = [notice for notice in weather.notices if notice.code not in {"filled_weather", "part_years_left_out"}]
    return replace(
        weather,
        frame=frame,
        years=(),
        typical=True,
        quality=replace(weather.quality, hours=len(frame), filled_hours=0, clipped_hours=0),
        notices=(*kept, _typical_notice(weather, chosen)),
    )


def _month_tables(weather: Weather, chosen: Mapping[int, int]) -> list[pd.DataFrame]:
    """The hours of the chosen year of each month, 29 February left out, given the record."""
    times = pd.DatetimeIndex(weather.frame.index)
    usable = ~((times.month == 2) & (times.day == 29))
    tables = [weather.frame[usable & (times.year == year) & (times.month == month)] for month, year in chosen.items()]
    for (month, year), table in zip(chosen.items(), tables, strict=True):
        if len(table) != _hours_of(month):
            raise WeatherError(
                f"{weather.source}: {month_abbr[month]} {year} is not whole, expected {_hours_of(month)} hours: "
                "take other years"
            )
    return tables


def _joined(months: Sequence[pd.DataFrame], chosen: Mapping[int, int], utc_offset_h: float) -> pd.DataFrame:
    """The months one after another on the typical calendar, without steps where they come from different years."""
    values = {column: np.concatenate([table[column].to_numpy() for table in months]) for column in months[0].columns}
    joins = np.cumsum([0, *(len(table) for table in months)])[:-1]
    for join, month in zip(joins, chosen, strict=True):
        if chosen[month] != chosen[(month - 2) % 12 + 1]:
            for column in AIR_COLUMNS:
                values[column] = smooth_join(values[column], int(join))
    values["dew_point_c"] = np.minimum(values["dew_point_c"], values["dry_bulb_c"])
    return pd.DataFrame(values, index=typical_index(utc_offset_h))


def _typical_notice(weather: Weather, chosen: Mapping[int, int]) -> Notice:
    named = ", ".join(f"{month_abbr[month]} {year}" for month, year in chosen.items())
    by_wind = (
        f"of the best {CANDIDATES} the one nearest the mean wind speed"
        if WIND in weather.frame
        else "wind speed, the standard's tie-break, is not in the data"
    )
    text = (
        f"Typical year by ISO 15927-4 from {len(weather.years)} years: {named}. Chosen by {', '.join(SELECTED_BY)}; "
        f"{by_wind}."
    )
    if len(weather.years) < YEARS_ASKED_BY_STANDARD:
        text += f" The standard asks for at least {YEARS_ASKED_BY_STANDARD} years."
    return Notice("typical_year", text)


def daily_means(weather: Weather) -> pd.DataFrame:
    """Daily means of what a typical year is chosen by, given a record of real years.

    Parameters
    ----------
    weather : Weather
        Of real years.

    Returns
    -------
    pandas.DataFrame
        One row a day of the whole years but 29 February; columns dry_bulb [°C], vapour_pressure [Pa], global [W/m2]
        and, where the record holds wind, wind_m_s [m/s].
    """
    from freecool.core.air import saturation_pressure

    frame = weather.frame
    hourly = pd.DataFrame(
        {
            "dry_bulb": frame["dry_bulb_c"],
            "vapour_pressure": saturation_pressure(frame["dew_point_c"].to_numpy()),
            "global": frame["ghi_w_m2"],
            **({WIND: frame[WIND]} if WIND in frame else {}),
        }
    )
    times = pd.DatetimeIndex(hourly.index)
    counted = times.year.isin(weather.years) & ~((times.month == 2) & (times.day == 29))
    return hourly[counted].groupby(times[counted].normalize()).mean()


def choose_years(daily: pd.DataFrame) -> dict[int, int]:
    """The most typical year of each calendar month, given daily means by quantity.

    Parameters
    ----------
    daily : pandas.DataFrame
        As `daily_means` gives it.

    Returns
    -------
    dict of int
        The year by month, 1 to 12.
    """
    months = pd.DatetimeIndex(daily.index).month
    return {month: _most_typical(daily[months == month]) for month in range(1, 13)}


def _most_typical(of_month: pd.DataFrame) -> int:
    """The year whose days are distributed most as those of all years, given one calendar month of all years."""
    years = pd.DatetimeIndex(of_month.index).year
    distances = pd.DataFrame(
        {
            name: {
                int(year): finkelstein_schafer(values.to_numpy()[years == year], values.to_numpy())
                for year in np.unique(years)
            }
            for name, values in of_month.drop(columns=WIND, errors="ignore").items()
        }
    )
    # Where ranks tie, the smaller distance, each in terms of its mean, decides.
    order = pd.DataFrame({"ranks": distances.rank().sum(axis=1), "size": (distances / distances.mean()).sum(axis=1)})
    best = [int(year) for year in order.sort_values(["ranks", "size"]).index[:CANDIDATES]]
    wind = of_month[WIND] if WIND in of_month else pd.Series(np.nan, of_month.index)
    off = [abs(float(wind[years == year].mean() - wind.mean())) for year in best]
    # A year without wind is infinitely off; where all are, the best stays.
    return best[int(np.argmin(np.nan_to_num(off, nan=np.inf)))]


def finkelstein_schafer(part: np.ndarray, whole: np.ndarray) -> float:
    """Distance of two distributions, given daily values of one month and of that month in all years.

    Parameters
    ----------
    part, whole : ndarray
        Daily values, shape (days,), of one year and of all years.

    Returns
    -------
    float
        The Finkelstein-Schafer statistic, 0 where they agree.

    Notes
    -----
    Finkelstein and Schafer, Biometrika 58 (1971), p. 641, in the form of ISO 15927-4: the sum over the days of
    |J/(n + 1) - K/(N + 1)|, J and K the ranks of the day's value in the month and in all years.
    """
    inside = np.searchsorted(np.sort(part), part, side="right") / (len(part) + 1)
    among_all = np.searchsorted(np.sort(whole), part, side="right") / (len(whole) + 1)
    return float(np.abs(inside - among_all).sum())


def smooth_join(values: np.ndarray, join: int) -> np.ndarray:
    """A cyclic series without a step at one place, given the series and the place.

    The step beyond the mean of the neighbouring hourly changes is spread by straight lines, half to each side.

    Parameters
    ----------
    values : ndarray
        Hourly, shape (hours,).
    join : int
        Position of the first hour behind the step.

    Returns
    -------
    ndarray
        The series, bent over 8 h on each side, shape (hours,) [unit of the series].
    """
    before, after = values[join - 1] - values[join - 2], values[(join + 1) % len(values)] - values[join]
    step = values[join] - values[join - 1] - (before + after) / 2.0
    ramp = (np.arange(SMOOTHED_HOURS) + 0.5) / SMOOTHED_HOURS
    ramp = ramp / ramp[-1] * step / 2.0
    smooth = values.copy()
    smooth[np.arange(join - SMOOTHED_HOURS, join)] += ramp
    smooth[join : join + SMOOTHED_HOURS] -= ramp[::-1]
    return smooth


def _hours_of(month: int) -> int:
    return 24 * (28 if month == 2 else 30 if month in (4, 6, 9, 11) else 31)
