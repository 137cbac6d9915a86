"""Units that a plain CSV's columns contradict: too small for their unit, or two columns for one thing at odds."""

from __future__ import annotations

import numpy as np
import pandas as pd

from freecool.weather.columns import COLUMNS
from freecool.weather.faults import Faults, check_ranges, show_time

COLDEST_WARMEST_HOUR_F = 54.5
"""No inhabited place stays below this all year, and no place on Earth passes 54.5 °C (WMO records), so
a °F column that never reaches it holds °C."""
TOO_SMALL = {
    "relative_humidity_percent": (1.0, "a fraction: multiply by 100"),
    "ghi_w_m2": (2.0, "kW/m2: multiply by 1000, or leave the column out if it was not measured"),
    "cloud_oktas": (1.0, "a fraction: multiply by 8"),
    "dry_bulb_f": (COLDEST_WARMEST_HOUR_F, "°C: name the column dry_bulb_c"),
}
"""Largest value of a column that never gets so small in a year: what it then probably holds."""
PAIRS = {
    ("dry_bulb_c", "dry_bulb_f"): 0.6,
    ("dew_point_c", "dew_point_f"): 0.6,
    ("wet_bulb_c", "wet_bulb_f"): 0.6,
    ("pressure_pa", "pressure_hpa"): 100.0,
}
"""Columns that tell one thing in two units, and by how much they may differ when both are rounded to whole figures
[unit of the first]."""
DEW_POINTS_APART_K, MOST_ROWS_APART = 5.0, 0.05
"""Between humidity columns of one row, and the share of such rows that sensors explain: typical years contradict
themselves by up to 6 K in single hours (our own limits)."""


def check_units(raw: pd.DataFrame, rows: np.ndarray, faults: Faults) -> None:
    """Add a fault for each column that cannot hold its unit or that contradicts another, given the columns as read.

    Parameters
    ----------
    raw : pandas.DataFrame
        Columns named as in `columns.COLUMNS`, in the file's units and order, indexed by time.
    rows : ndarray of int
        Row of each line of the table in the file, shape (rows,).
    faults : Faults
        To add to.
    """
    for column, (limit, meaning) in TOO_SMALL.items():
        if column in raw and raw[column].notna().any() and raw[column].max() <= limit:
            unit = COLUMNS[column].unit
            faults.add(
                f"column {column} never passes {raw[column].max():g} {unit}, expected more than "
                f"{limit:g} {unit} at times, so it probably holds {meaning}"
            )
            raw = raw.drop(columns=column)
    check_ranges(raw, rows, faults)
    for (first, second), tolerance in PAIRS.items():
        if first in raw and second in raw:
            _check_pair(raw, first, second, tolerance, rows, faults)


def _check_pair(raw: pd.DataFrame, first: str, second: str, tolerance: float, rows: np.ndarray, faults: Faults) -> None:
    one, other = raw[first].to_numpy(dtype=float), raw[second].to_numpy(dtype=float)
    same = (other - 32.0) / 1.8 if second.endswith("_f") else other * 100.0
    apart = np.abs(one - same) > tolerance
    if not apart.any():
        return
    times = pd.DatetimeIndex(raw.index)
    at, count = int(np.argmax(apart)), int(apart.sum())
    also = f", as {count:,} rows do" if count > 1 else ""
    faults.add(
        f"row {rows[at]} ({show_time(times[at])}): {first} is {one[at]:g} {COLUMNS[first].unit} and {second} is "
        f"{other[at]:g} {COLUMNS[second].unit}, which is {same[at]:.1f} {COLUMNS[first].unit}: they disagree{also}; "
        "keep the column that is right and remove the other"
    )


def check_humidity(
    first: tuple[str, np.ndarray],
    second: tuple[str, np.ndarray],
    times: pd.DatetimeIndex,
    rows: np.ndarray,
    faults: Faults,
) -> None:
    """Add a fault where two humidity columns tell different air, given the dew point by each.

    Parameters
    ----------
    first, second : tuple of str and ndarray
        Column, and the dew point it tells, NaN where missing, shape (rows,) [°C].
    times : pandas.DatetimeIndex
        One a row, shape (rows,).
    rows : ndarray of int
        Row of each in the file, shape (rows,).
    faults : Faults
        To add to.
    """
    apart = np.abs(first[1] - second[1]) > DEW_POINTS_APART_K
    if apart.mean() <= MOST_ROWS_APART:
        return
    at = int(np.argmax(apart))
    faults.add(
        f"row {rows[at]} ({show_time(times[at])}): by {first[0]} the dew point is {first[1][at]:.1f} °C, by "
        f"{second[0]} {second[1][at]:.1f} °C, and more than {DEW_POINTS_APART_K:g} K apart in {apart.mean():.0%} of "
        "the rows: one of them is in another unit or wrong; remove it"
    )
