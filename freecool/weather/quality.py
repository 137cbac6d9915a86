"""Filling of missing weather: short gaps by interpolation, longer ones from the adjacent days."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from freecool.core.errors import Notice, WeatherError
from freecool.weather.columns import AIR_COLUMNS, COLUMNS, SOLAR_COLUMNS
from freecool.weather.model import Quality

LONGEST_INTERPOLATED_GAP_H = 3
LONGEST_FILLED_GAP_H = 48
DAYS_AVERAGED_EACH_SIDE = 7
"""Days on each side whose same hour is averaged in a gap too long for the adjacent days."""
MOST_FILLED = 0.25
"""Share of a record's dry bulb or dew point that may be filled, gaps allowed or not (our own limit)."""
SEARCHED_DAYS = 3
"""Days further out that are tried where the adjacent day is missing too."""


@dataclass(frozen=True, kw_only=True)
class Repaired:
    """A weather table without gaps, with the account of what was done.

    Attributes
    ----------
    table : pandas.DataFrame
        As given, with gaps filled and dew point clipped.
    quality : Quality
        What was filled and clipped.
    notices : tuple of Notice
        A caution where anything was filled.
    """

    table: pd.DataFrame
    quality: Quality
    notices: tuple[Notice, ...]


def gaps(values: np.ndarray) -> list[tuple[int, int]]:
    """Runs of missing values, given an hourly series.

    Parameters
    ----------
    values : ndarray
        NaN where missing, shape (hours,).

    Returns
    -------
    list of tuple of int
        (first, one past the last) of each run.
    """
    missing = np.concatenate(([False], np.isnan(values), [False])).astype(np.int8)
    edges = np.flatnonzero(np.diff(missing))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def fill_by_interpolation(values: np.ndarray, first: int, end: int) -> np.ndarray:
    """Values of one gap on the straight line between its neighbours, given the series and the gap.

    A gap at the start or the end of the record has one neighbour and stays missing.

    Parameters
    ----------
    values : ndarray
        The whole series, NaN where missing, shape (hours,).
    first, end : int
        The gap: its first hour and one past its last.

    Returns
    -------
    ndarray
        Values of the gap, shape (end - first,) [unit of the series].
    """
    if first == 0 or end == len(values):
        return np.full(end - first, np.nan)
    return np.linspace(values[first - 1], values[end], end - first + 2)[1:-1]


def fill_from_adjacent_days(values: np.ndarray, first: int, end: int, edge_correction: bool) -> np.ndarray:
    """Values of one gap from the nearest whole days before and after, given the series and the gap.

    Each day is bent by a straight line to meet the measured values at both edges of the gap (not for
    sunshine), then the two are averaged. Hours that neither day can give stay missing.

    Parameters
    ----------
    values : ndarray
        The whole series, NaN where missing, shape (hours,).
    first, end : int
        The gap: its first hour and one past its last.
    edge_correction : bool
        Bend the days to meet the edges.

    Returns
    -------
    ndarray
        Values of the gap, shape (end - first,) [unit of the series].
    """
    days = [_adjacent_day(values, first, end, sign, edge_correction) for sign in (-1, +1)]
    return _mean_of_present(days)


def fill_from_day_means(values: np.ndarray, first: int, end: int) -> np.ndarray:
    """Values of one long gap from the mean of the same hour over a week around, given the series and the gap.

    Parameters
    ----------
    values : ndarray
        The whole series, NaN where missing, shape (hours,).
    first, end : int
        The gap: its first hour and one past its last.

    Returns
    -------
    ndarray
        Values of the gap, shape (end - first,) [unit of the series].
    """
    positions = np.arange(first, end)
    sides = []
    for sign, edge in ((-1, first - 1), (+1, end)):
        whole_days = np.abs(positions - edge) // 24 + (np.abs(positions - edge) % 24 > 0)
        days = [positions + sign * 24 * (whole_days + day) for day in range(DAYS_AVERAGED_EACH_SIDE)]
        sides.append(_mean_of_present([_take(values, day) for day in days]))
    return _blend(sides[0], sides[1])


def _adjacent_day(values: np.ndarray, first: int, end: int, sign: int, edge_correction: bool) -> np.ndarray:
    length = end - first
    # The nearest day in which neither the hours nor the edges fall into the gap itself.
    nearest = length // 24 + 1
    edges = np.array([first - 1, end])
    found = np.full(length, np.nan)
    for days in range(nearest, nearest + SEARCHED_DAYS + 1):
        shift = sign * 24 * days
        candidate = _take(values, np.arange(first, end) + shift)
        if edge_correction:
            before, after = _take(values, edges) - _take(values, edges + shift)
            before, after = (after if np.isnan(before) else before), (before if np.isnan(after) else after)
            candidate = candidate + np.linspace(before, after, length + 2)[1:-1]
        found = np.where(np.isnan(found), candidate, found)
    return found


def _take(values: np.ndarray, positions: np.ndarray) -> np.ndarray:
    inside = (positions >= 0) & (positions < len(values))
    return np.where(inside, values[np.clip(positions, 0, len(values) - 1)], np.nan)


def _mean_of_present(series: list[np.ndarray]) -> np.ndarray:
    stacked = np.array(series)
    present = ~np.isnan(stacked)
    count = present.sum(axis=0)
    total = np.where(present, stacked, 0.0).sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _blend(before: np.ndarray, after: np.ndarray) -> np.ndarray:
    toward_after = (np.arange(len(before)) + 0.5) / len(before)
    both = before * (1.0 - toward_after) + after * toward_after
    return np.where(np.isnan(before), after, np.where(np.isnan(after), before, both))


def fill_series(values: np.ndarray, *, edge_correction: bool, typical: bool, allow_gaps: bool) -> np.ndarray:
    """A series with its gaps filled as far as the rules allow, given an hourly series.

    Parameters
    ----------
    values : ndarray
        Hourly values, NaN where missing, shape (hours,).
    edge_correction : bool
        Shift the adjacent days to meet the measured values: right for air, wrong for sunshine.
    typical : bool
        A typical year closes on itself: 31 December is the day before 1 January.
    allow_gaps : bool
        Fill gaps longer than 48 h as well, from the mean of the same hour in the days around.

    Returns
    -------
    ndarray
        The series, shape (hours,); hours that could not be filled stay NaN [unit of the series].
    """
    count = len(values)
    margin = count // 2 if typical else 0
    measured = np.concatenate((values[count - margin :], values, values[:margin]))
    filled = measured.copy()
    for first, end in gaps(measured):
        if end <= margin or first >= margin + count:
            continue
        length = end - first
        if edge_correction and length <= LONGEST_INTERPOLATED_GAP_H:
            filled[first:end] = fill_by_interpolation(measured, first, end)
        if length <= LONGEST_FILLED_GAP_H and np.isnan(filled[first:end]).any():
            filled[first:end] = fill_from_adjacent_days(measured, first, end, edge_correction)
        if allow_gaps and np.isnan(filled[first:end]).any():
            by_means = fill_from_day_means(measured, first, end)
            filled[first:end] = np.where(np.isnan(filled[first:end]), by_means, filled[first:end])
    return filled[margin : margin + count]


def repair(table: pd.DataFrame, name: str, *, typical: bool, allow_gaps: bool = False) -> Repaired:
    """A weather table with gaps filled and dew point clipped, given the table as read.

    Columns that are missing throughout are left alone. Temperatures, dew point and pressure: up to 3 h by
    interpolation, up to 48 h from the adjacent days at the same hour, bent to meet the edges of the gap.
    Sunshine: from the adjacent days at the same hour.

    Parameters
    ----------
    table : pandas.DataFrame
        Hourly, contiguous, NaN where missing.
    name : str
        What to call the source in a message.
    typical, allow_gaps : bool
        As in `fill_series`.

    Returns
    -------
    Repaired
        The table and the account of what was done.

    Raises
    ------
    WeatherError
        Where a gap is longer than may be filled, which names the months, or too much is missing.
    """
    _refuse_mostly_missing(table, name)
    columns = [column for column in (*AIR_COLUMNS, *SOLAR_COLUMNS, "cloud_oktas") if _has_gaps(table, column)]
    filled = {
        column: fill_series(
            table[column].to_numpy(dtype=float),
            edge_correction=column in AIR_COLUMNS,
            typical=typical,
            allow_gaps=allow_gaps,
        )
        for column in columns
    }
    _refuse_unfilled(table, filled, name, allow_gaps)
    notes = [_describe_filled(column, table[column].to_numpy(dtype=float)) for column in columns]
    filled_hours = int(table[columns].isna().any(axis=1).sum())
    whole = table.assign(**{column: _within_range(column, values) for column, values in filled.items()})
    above = whole["dew_point_c"] > whole["dry_bulb_c"]
    whole["dew_point_c"] = whole["dew_point_c"].mask(above, whole["dry_bulb_c"])
    clipped = int(above.sum())
    if clipped:
        notes.append(f"dew point was above dry bulb in {clipped:,} hours and was set to it")
    quality = Quality(hours=len(table), filled_hours=filled_hours, clipped_hours=clipped, notes=tuple(notes))
    text = f"{filled_hours:,} of {len(table):,} hours had missing values, filled so: {'; '.join(notes)}."
    notices = (Notice("filled_weather", text),) if filled_hours else ()
    return Repaired(table=whole, quality=quality, notices=notices)


def _has_gaps(table: pd.DataFrame, column: str) -> bool:
    return column in table and bool(table[column].isna().any() and table[column].notna().any())


def _refuse_mostly_missing(table: pd.DataFrame, name: str) -> None:
    for column in ("dry_bulb_c", "dew_point_c"):
        missing = int(table[column].isna().sum())
        if missing > MOST_FILLED * len(table):
            raise WeatherError(
                f"{name}: {COLUMNS[column].description} is missing in {missing:,} of {len(table):,} hours, expected at "
                f"most {MOST_FILLED:.0%}: nothing sound can be filled in, take another source"
            )


def _refuse_unfilled(table: pd.DataFrame, filled: Mapping[str, np.ndarray], name: str, allow_gaps: bool) -> None:
    unfilled = [
        _describe_unfilled(column, values, table[column].to_numpy(dtype=float), table.index)
        for column, values in filled.items()
        if np.isnan(values).any()
    ]
    if not unfilled:
        return
    refusal = f"{name}: {'; '.join(unfilled)}; at most {LONGEST_FILLED_GAP_H} h in a row can be filled"
    if allow_gaps:
        raise WeatherError(f"{refusal}: take another source")
    raise WeatherError(f"{refusal}: take another source, or allow gaps ({{allow_gaps}})", allow_gaps=True)


def _within_range(column: str, values: np.ndarray) -> np.ndarray:
    limits = COLUMNS[column]
    lowest = 0.0 if column in SOLAR_COLUMNS else limits.lowest
    within: np.ndarray = np.clip(values, lowest, limits.highest)
    return within


def _describe_filled(column: str, values: np.ndarray) -> str:
    lengths = np.array([end - first for first, end in gaps(values)])
    short = lengths <= LONGEST_INTERPOLATED_GAP_H
    medium = ~short & (lengths <= LONGEST_FILLED_GAP_H)
    interpolated = "from adjacent days" if column not in AIR_COLUMNS else "by interpolation"
    parts = [
        f"{int(lengths[chosen].sum()):,} h {method}"
        for chosen, method in (
            (short, interpolated),
            (medium, "from adjacent days"),
            (~short & ~medium, "from the mean of the days around"),
        )
        if chosen.any()
    ]
    return f"{COLUMNS[column].description} {', '.join(parts)}"


def _describe_unfilled(column: str, filled: np.ndarray, values: np.ndarray, index: pd.Index[pd.Timestamp]) -> str:
    times = pd.DatetimeIndex(index)
    first, end = max(gaps(values), key=lambda gap: (np.isnan(filled[gap[0] : gap[1]]).any(), gap[1] - gap[0]))
    months = dict.fromkeys(f"{time:%B %Y}" for time in times[np.isnan(filled)])
    named = ", ".join(list(months)[:4]) + (f" and {len(months) - 4} more months" if len(months) > 4 else "")
    return (
        f"{named} cannot be used: {COLUMNS[column].description} is missing for {end - first:,} h in a row "
        f"from {times[first].day} {times[first]:%B %H:%M}"
    )
