"""What no air does from one hour to the next: leaps and their return, values that stand still, mere noise."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from freecool.core.errors import Notice, WeatherError
from freecool.weather.columns import COLUMNS
from freecool.weather.faults import show_time
from freecool.weather.quality import LONGEST_FILLED_GAP_H

# The largest in the open typical years at hand: 14.5 K from hour to hour and 7 K there and back of dry bulb, 18 K and
# 7 K of dew point; 24 h and 28 h alike; second differences 2.1 K root-mean-square; 0.4 unchanged. The fastest rise
# on record, 27 K at Spearfish SD on 22 January 1943, took two minutes (NWS Rapid City, from memory).


class Steps(NamedTuple):
    """Limits of one quantity (our own, off what is measured by the factor that the note above lets see)."""

    leap_k: float
    """Leap there and back within `SPIKE_H` [K]."""
    long_leap_k: float
    """Leap there and back within the longest gap that is filled [K]."""
    step_k: float
    """Leap without return [K]."""
    alike_h: int
    """Hours in a row with one value [h]."""


LIMITS = {
    "dry_bulb_c": Steps(leap_k=12.0, long_leap_k=18.0, step_k=28.0, alike_h=36),
    "dew_point_c": Steps(leap_k=15.0, long_leap_k=25.0, step_k=35.0, alike_h=48),
}
SPIKE_H = 3
"""Hours that a leap there and back takes at most to count as a spike [h]."""
ROUGHEST_K = 4.0
"""Root-mean-square of the second differences of dry bulb, above which it is noise (our own limit) [K]."""
MOST_UNCHANGED = 0.8
"""Share of hours with the dry bulb of the hour before, above which the values are no hourly ones (our own limit)."""
MOST_EMPTIED = 0.02
"""Share of hours that may be emptied as impossible; above it the file is refused (our own limit)."""


def without_impossible_air(table: pd.DataFrame, name: str, *, typical: bool) -> tuple[pd.DataFrame, tuple[Notice, ...]]:
    """The table without the hours that no air can have, which are then filled like any gap, given the table.

    Parameters
    ----------
    table : pandas.DataFrame
        Hourly, columns dry_bulb_c and dew_point_c [°C], NaN where missing.
    name : str
        What to call the source in a message.
    typical : bool
        Months of several years may meet with a leap.

    Returns
    -------
    table : pandas.DataFrame
        With NaN in those hours.
    notices : tuple of Notice
        A caution that counts them.

    Raises
    ------
    WeatherError
        There are too many, a leap does not return, or dry bulb is noise or stands still.
    """
    times = pd.DatetimeIndex(table.index)
    joined = _joints(times, typical)
    counted: list[str] = []
    for column, limits in LIMITS.items():
        values = table[column].to_numpy(dtype=float)
        where, what = f"{name}: {COLUMNS[column].description}", []
        for find, text in ((leaps, "leaps there and back"), (stuck, "stands still")):
            emptied = find(values, limits)
            if not emptied.any():
                continue
            hours, first = int(emptied.sum()), int(np.argmax(emptied))
            if hours > MOST_EMPTIED * len(values):
                raise WeatherError(
                    f"{where} {text} as no air does in {hours:,} h, first at {show_time(times[first], not typical)} "
                    f"with {values[first]:.1f} °C: leave the field empty where it is missing, or take another source"
                )
            what.append(f"{text} in {hours:,} h")
            values = np.where(emptied, np.nan, values)
        _refuse_steps(values, limits, joined, times, where, typical)
        if what:
            counted.append(f"{COLUMNS[column].description} {' and '.join(what)}")
            table = table.assign(**{column: values})
    _refuse_noise(table["dry_bulb_c"].to_numpy(dtype=float), name)
    text = f"Left out, since no air does so: {'; '.join(counted)}."
    return table, (Notice("impossible_air", text),) if counted else ()


def leaps(values: np.ndarray, limits: Steps) -> np.ndarray:
    """Hours between a leap and its return, given an hourly series.

    Parameters
    ----------
    values : ndarray
        NaN where missing, shape (hours,) [°C].
    limits : Steps
        Of the quantity.

    Returns
    -------
    ndarray of bool
        Shape (hours,).
    """
    emptied = np.zeros(len(values), dtype=bool)
    known = np.flatnonzero(~np.isnan(values))
    change = np.diff(values[known])
    # Over a gap the air has time to change.
    edges = np.flatnonzero((np.abs(change) > limits.leap_k) & (np.diff(known) <= SPIKE_H))
    last = -1
    for number, edge in enumerate(edges):
        if edge <= last:
            continue
        for back in edges[number + 1 :]:
            hours = known[back] - known[edge]
            if hours > LONGEST_FILLED_GAP_H:
                break
            least = min(abs(change[edge]), abs(change[back]))
            if change[edge] * change[back] < 0 and (hours <= SPIKE_H or least > limits.long_leap_k):
                emptied[known[edge + 1 : back + 1]] = True
                last = back
                break
    return emptied


def stuck(values: np.ndarray, limits: Steps) -> np.ndarray:
    """Hours after the first of a long run of one value, given an hourly series.

    Parameters
    ----------
    values : ndarray
        NaN where missing, shape (hours,) [°C].
    limits : Steps
        Of the quantity.

    Returns
    -------
    ndarray of bool
        Shape (hours,).
    """
    emptied = np.zeros(len(values), dtype=bool)
    edges = np.flatnonzero(np.concatenate(([True], ~(np.abs(np.diff(values)) < 1e-6), [True])))
    for run in np.flatnonzero(np.diff(edges) > limits.alike_h):
        emptied[edges[run] + 1 : edges[run + 1]] = True
    return emptied


def _joints(times: pd.DatetimeIndex, typical: bool) -> np.ndarray:
    """Whether an hour follows another month's, or hours that are not there."""
    apart: np.ndarray = np.diff(times.asi8) != np.diff(times.asi8[:2])
    if typical:
        apart = apart | (np.diff(times.month) != 0)
    return apart


def _refuse_steps(
    values: np.ndarray, limits: Steps, joined: np.ndarray, times: pd.DatetimeIndex, where: str, typical: bool
) -> None:
    step = np.abs(np.diff(values))
    wrong = (step > limits.step_k) & ~joined
    if wrong.any():
        hour = int(np.argmax(wrong)) + 1
        raise WeatherError(
            f"{where} goes from {values[hour - 1]:.1f} to {values[hour]:.1f} °C within an hour at "
            f"{show_time(times[hour], not typical)}, as no air does, and does not come back: check whether the unit or "
            "the station changes there"
        )


def _refuse_noise(dry_bulb_c: np.ndarray, name: str) -> None:
    known = dry_bulb_c[~np.isnan(dry_bulb_c)]
    if len(known) < 3:
        return
    rough = float(np.sqrt(np.mean(np.square(np.diff(known, 2)))))
    if rough > ROUGHEST_K:
        raise WeatherError(
            f"{name}: outdoor dry bulb jumps to and fro by {rough:.1f} K from hour to hour, expected under "
            f"{ROUGHEST_K:g} K: the rows may be out of order, or the values are noise"
        )
    unchanged = float(np.mean(np.diff(known) == 0.0))
    if unchanged > MOST_UNCHANGED:
        raise WeatherError(
            f"{name}: outdoor dry bulb is that of the hour before in {unchanged:.0%} of the hours, so the values are "
            "no hourly ones: take an hourly export"
        )
